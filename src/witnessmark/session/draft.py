"""What is known so far of a setup, while a person is still entering it."""

from __future__ import annotations

import msgspec

from witnessmark.model import (
    Cabinet,
    Meter,
    Mirror,
    Pair,
    Placement,
    Room,
    RoomKnown,
    Seat,
    Setup,
)
from witnessmark.model.setup import SetupOptions


class Draft(SetupOptions, frozen=True):
    """A setup with gaps: room, seat and cabinets are each whole or not there.

    Where nothing was entered, a person's setup differs in two values from a round file, whose
    answers do not change: the beam's angle error is that of a common meter, and the pair mirror
    each other about the seat.
    """

    room: Room | None = None
    cabinets: Pair[Cabinet] | None = None
    seat: Seat | None = None
    meter: Meter = Meter(flush_deg=0.1)
    mirror: Mirror = Mirror.SEAT

    @classmethod
    def of(cls, setup: Setup) -> Draft:
        """Return the draft that has no gaps."""
        return cls(**msgspec.structs.asdict(setup))

    @property
    def setup(self) -> Setup | None:
        """The setup, once room, seat and cabinets are there."""
        if self.room is None or self.seat is None or self.cabinets is None:
            return None
        return Setup(**msgspec.structs.asdict(self))

    @property
    def known_room(self) -> Room | None:
        """The room, where all of it was measured; none that stands in for it."""
        return self.room if self.known_of_room is RoomKnown.WHOLE else None

    @property
    def known_seat(self) -> Seat | None:
        """The seat, where the room was measured that it is in."""
        return self.seat if self.known_of_room is RoomKnown.WHOLE else None

    @property
    def is_begun(self) -> bool:
        """Whether anything was entered of the room."""
        return self.room is not None or bool(self.survey)

    def for_another_room(self) -> Draft:
        """Return the draft of a room not known yet, with the same meter and way of measuring."""
        along = set(SetupOptions.__struct_fields__) - self.OF_THE_ROOM
        return Draft(**{name: getattr(self, name) for name in along})

    def aimed_at(
        self, targets: Pair[Placement | None], tilts_deg: Pair[float | None] | None = None
    ) -> Draft:
        """Return the draft with other targets; no mark is being put back any more."""
        tilts_deg = self.tilt_targets_deg if tilts_deg is None else tilts_deg
        if (targets, tilts_deg) == (self.targets, self.tilt_targets_deg):
            return self
        return msgspec.structs.replace(
            self, targets=targets, tilt_targets_deg=tilts_deg, restoring=None
        )
