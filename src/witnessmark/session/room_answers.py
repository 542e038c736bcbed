"""What a person answers on the first screen, and the draft that it makes: with a room or none."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Self

import msgspec

from witnessmark.errors import BadInput
from witnessmark.layout.practice import Practice
from witnessmark.layout.start import default_seat
from witnessmark.lengths import Units, format_length
from witnessmark.model import Cabinet, Mirror, Pair, Room, RoomKnown, Seat, Wall
from witnessmark.model.limits import AIR, CABINET_SIZE, ROOM_HEIGHT, ROOM_SIDE, Limit
from witnessmark.session.draft import Draft
from witnessmark.survey.outline import Walls

SQUARE, SKEW = "square", "skew"


class RoomAnswers(msgspec.Struct, frozen=True):
    """What is asked of a room and its seat; two lengths while it is square, else five."""

    units: Units
    name: str
    corners: str
    width_mm: float | None
    length_mm: float | None
    front_mm: float | None
    right_mm: float | None
    back_mm: float | None
    left_mm: float | None
    diagonal_mm: float | None
    height_mm: float | None
    from_front_mm: float | None
    from_left_mm: float | None
    ear_height_mm: float | None
    temperature_c: float

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "width_mm": ROOM_SIDE,
        "length_mm": ROOM_SIDE,
        "front_mm": ROOM_SIDE,
        "right_mm": ROOM_SIDE,
        "back_mm": ROOM_SIDE,
        "left_mm": ROOM_SIDE,
        "diagonal_mm": ROOM_SIDE,
        "height_mm": ROOM_HEIGHT,
        "temperature_c": AIR,
    }

    @classmethod
    def of(cls, draft: Draft, name: str) -> RoomAnswers:
        """Return the answers that a draft of the room of this name holds."""
        room, seat = draft.known_room, draft.known_seat
        return cls(
            units=draft.units,
            name=name,
            **corners_of(room),
            height_mm=room.height_mm if room else None,
            from_front_mm=seat.from_front_mm if seat else None,
            from_left_mm=seat.from_left_mm if seat else None,
            ear_height_mm=seat.ear_height_mm if seat else None,
            temperature_c=draft.temperature_c,
        )

    def room(self, known: Room | None) -> Room:
        """Return the room of these corners; what is ``known`` of it beside them stays.

        Raises:
            BadInput: when the walls close no room.
        """
        room = self._bare_room()
        if known is None:
            return room
        if room.has_corners_of(known):
            return msgspec.structs.replace(known, height_mm=self.height_mm)
        return msgspec.structs.replace(
            room, datum=known.datum, offsets=known.offsets, keep_clear=known.keep_clear
        )

    def _bare_room(self) -> Room:
        if self.corners == SQUARE:
            return Room.rectangular(
                _needed("Width", self.width_mm), _needed("Length", self.length_mm), self.height_mm
            )
        walls = Walls(
            _needed("Front wall", self.front_mm),
            _needed("Right wall", self.right_mm),
            _needed("Back wall", self.back_mm),
            _needed("Left wall", self.left_mm),
            _needed("Diagonal", self.diagonal_mm),
        )
        return walls.room(self.height_mm)

    def seat(self, room: Room) -> Seat:
        """Return the seat in a room, where it usually is as far as nothing was told.

        Raises:
            BadInput: when it is not in the room.
        """
        seat = default_seat(
            room,
            Practice(),
            from_front_mm=self.from_front_mm,
            from_left_mm=self.from_left_mm,
            ear_height_mm=self.ear_height_mm,
        )
        for wall, at, end in (
            (Wall.FRONT, seat.from_front_mm, room.length_mm),
            (Wall.LEFT, seat.from_left_mm, room.width_mm),
        ):
            side = f"seat to {room.side_name(wall)}"
            if at <= 0:
                raise BadInput(f"{side}: it must be more than 0; measure it again")
            if at >= end and wall.opposite not in room.datum:
                far = format_length(end, self.units)
                raise BadInput(f"{side}: it must be less than the room's {far}")
        return seat


def corners_of(room: Room | None) -> dict[str, Any]:
    """Return the answers about the corners of a room."""
    is_square = room is None or room.is_rectangle
    walls = [None] * 5 if room is None or is_square else Walls.of(room)
    names = ("front_mm", "right_mm", "back_mm", "left_mm", "diagonal_mm")
    return {
        "corners": SQUARE if is_square else SKEW,
        "width_mm": room.width_mm if room else None,
        "length_mm": room.length_mm if room else None,
        **dict(zip(names, walls, strict=True)),
    }


def _needed(label: str, mm: float | None) -> float:
    if mm is None:
        raise BadInput(f"{label}: needed")
    return mm


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
