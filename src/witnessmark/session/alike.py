"""The start that asks for nothing but a cabinet's size: are left and right alike?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Self

import msgspec

from witnessmark.layout.practice import Practice
from witnessmark.layout.start import default_seat
from witnessmark.model import Cabinet, Mirror, Pair, Room, RoomKnown
from witnessmark.model.limits import CABINET_SIZE, ROOM_SIDE, Limit
from witnessmark.session.draft import Draft


class PairSize(msgspec.Struct, frozen=True):
    """What is asked before the first shot, mm; the room's width may be left out."""

    width_mm: float
    depth_mm: float
    room_width_mm: float | None = None

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "width_mm": CABINET_SIZE,
        "depth_mm": CABINET_SIZE,
        "room_width_mm": ROOM_SIDE,
    }

    @classmethod
    def of(cls, draft: Draft) -> Self | None:
        """Return what of it a draft holds already; None without cabinets."""
        if draft.cabinets is None:
            return None
        left, is_known = draft.cabinets.left, draft.known_of_room is not RoomKnown.NOTHING
        room_width_mm = draft.room.width_mm if draft.room and is_known else None
        return cls(left.width_mm, left.depth_mm, room_width_mm)

    def compared_as_they_stand(self, draft: Draft) -> Draft:
        """Return a draft in which both cabinets are compared as they stand.

        A room that was measured stays as it is; for any other one stands in, and the pair are
        mirror images about its middle. So do cabinets of which the left one has this size.

        Raises:
            BadInput: when a size is none of a cabinet or a room.
        """
        draft = draft.aimed_at(Pair(None, None), Pair(None, None))
        draft = msgspec.structs.replace(draft, restoring=None, cabinets=self._cabinets(draft))
        if draft.known_room is not None and draft.known_seat is not None:
            return draft
        room = Room.standing_in(self.room_width_mm)
        known = RoomKnown.NOTHING if self.room_width_mm is None else RoomKnown.WIDTH
        seat = default_seat(room, Practice())
        return msgspec.structs.replace(
            draft, room=room, seat=seat, mirror=Mirror.ROOM, room_known=known, survey=()
        )

    def _cabinets(self, draft: Draft) -> Pair[Cabinet]:
        known = PairSize.of(draft)
        size = (self.width_mm, self.depth_mm)
        if draft.cabinets and known and (known.width_mm, known.depth_mm) == size:
            return draft.cabinets
        return Pair(Cabinet(*size), Cabinet(*size))
