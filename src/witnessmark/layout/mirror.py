"""The line about which a pair is laid out, and where its two cabinets stand as mirror images.

Distances between the two are counted along the front wall. In a rectangle with the seat in the
middle both lines are one.
"""

from __future__ import annotations

from typing import NamedTuple

from witnessmark.geometry.frame import side_frame
from witnessmark.model import Mirror, Pair, Placement, Room, Seat, Setup, Side


class Stance(NamedTuple):
    """A pair as one thing: how far apart, how far from the front wall, how far turned in."""

    base_mm: float
    setback_mm: float
    toe_in_deg: float


class MirrorLine(NamedTuple):
    """The room's centre line, or the line through the seat square to the front wall."""

    room: Room
    seat: Seat
    mirror: Mirror

    @property
    def off_centre_mm(self) -> float:
        """How far to the right of the room's middle it runs, by the room's width."""
        if self.mirror is Mirror.ROOM:
            return 0.0
        return self.seat.from_left_mm - self.room.width_mm / 2

    def base_mm(self, side_mm: float, setback_mm: float) -> float:
        """Return the distance from baffle to baffle, mm, for a left cabinet's side distance.

        Below 0 when it stands across the line.
        """
        left = self._along(Side.LEFT, side_mm, setback_mm)
        if self.mirror is Mirror.SEAT:
            return 2 * (self._seat_along(Side.LEFT) - left)
        return self.room.width_mm - left - self._along(Side.RIGHT, side_mm, setback_mm)

    def side_mm(self, base_mm: float, setback_mm: float) -> float:
        """Return the left cabinet's distance from its side wall, mm, for a base."""
        widest = self.base_mm(0.0, setback_mm)
        return (widest - base_mm) / (widest - self.base_mm(1.0, setback_mm))

    def placements(self, stance: Stance) -> Pair[Placement]:
        """Return both cabinets as mirror images of each other."""
        base, setback, toe_in = stance
        left = self.side_mm(base, setback)
        right = left
        if self.mirror is Mirror.SEAT:
            along = self._seat_along(Side.RIGHT) - base / 2
            right, _ = side_frame(self.room, Side.RIGHT).tape_distances((along, setback))
        return Pair(Placement(left, setback, toe_in), Placement(right, setback, toe_in))

    def _along(self, side: Side, side_mm: float, setback_mm: float) -> float:
        frame = side_frame(self.room, side)
        return frame.reference(Placement(side_mm, setback_mm, 0.0))[0]

    def _seat_along(self, side: Side) -> float:
        return side_frame(self.room, side).from_plan(self.seat.plan)[0]


def image_of(setup: Setup, side: Side, other: Placement) -> Placement:
    """Return where the cabinet on ``side`` stands as the mirror image of the ``other`` one."""
    if setup.mirror is Mirror.ROOM:
        return other
    own_frame, other_frame = side_frame(setup.room, side), side_frame(setup.room, side.other)
    seat = setup.seat.plan
    from_the_line = other_frame.from_plan(seat)[0] - other_frame.reference(other)[0]
    along = own_frame.from_plan(seat)[0] - from_the_line
    side_mm, setback_mm = own_frame.tape_distances((along, other.setback_mm))
    return Placement(side_mm, setback_mm, other.toe_in_deg)
