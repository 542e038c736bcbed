"""One cabinet of a setup: what is asked of both, asked of one."""

from __future__ import annotations

import msgspec

from witnessmark.model.cabinet import Cabinet, Placement
from witnessmark.model.plan import Side
from witnessmark.model.setup import Setup


class OneCabinet(msgspec.Struct, frozen=True):
    """The cabinet on one side, with all that is known before its first shot."""

    setup: Setup
    side: Side

    @property
    def body(self) -> Cabinet:
        """Its sizes and touch points."""
        return self.setup.cabinets[self.side]

    @property
    def target(self) -> Placement | None:
        """Where it is to stand; None where that is not chosen."""
        return self.setup.targets[self.side]

    def likely_placement(self, toe_in_deg: float = 0.0) -> Placement:
        """Return its target, or without one the middle of its half of the room before the seat."""
        if self.target is not None:
            return self.target
        room, seat = self.setup.room, self.setup.seat
        return Placement(room.width_mm / 4, seat.from_front_mm / 2, toe_in_deg)
