"""A room's corners from what a meter can measure of it: four walls and one diagonal."""

from __future__ import annotations

import math
from typing import NamedTuple

from witnessmark.errors import BadInput
from witnessmark.model import PlanPoint, Room


class Walls(NamedTuple):
    """The lengths of the four walls and the diagonal from front left to back right, mm."""

    front_mm: float
    right_mm: float
    back_mm: float
    left_mm: float
    diagonal_mm: float

    @classmethod
    def of(cls, room: Room) -> Walls:
        """Return what a meter would find in a room."""
        front_left, front_right, back_right, back_left = room.corners
        return cls(
            math.dist(front_left, front_right),
            math.dist(front_right, back_right),
            math.dist(back_right, back_left),
            math.dist(back_left, front_left),
            math.dist(front_left, back_right),
        )

    def room(self, height_mm: float | None = None) -> Room:
        """Return the room with these walls, its front wall along x.

        Raises:
            BadInput: when the walls do not close with this diagonal, or make no room.
        """
        front_right = (self.front_mm, 0.0)
        back_right = _meeting(front_right, self.right_mm, self.diagonal_mm, -1)
        back_left = _meeting(back_right, self.back_mm, self.left_mm, -1)
        return Room((0.0, 0.0), front_right, back_right, back_left, height_mm)


def _meeting(corner: PlanPoint, from_corner: float, from_origin: float, turn: int) -> PlanPoint:
    """Return the point at two distances, left (``turn`` +1) or right of the line origin-corner.

    With y downward on the page, ``turn`` -1 is the side on which the room goes on.
    """
    base = math.hypot(*corner)
    along = (base**2 + from_origin**2 - from_corner**2) / (2 * base)
    square = from_origin**2 - along**2
    if square <= 0:
        raise BadInput(
            "room: these walls and this diagonal do not close; measure the diagonal from the "
            "front-left to the back-right corner again"
        )
    across = -turn * math.sqrt(square)
    x, y = corner[0] / base, corner[1] / base
    return (along * x - across * y, along * y + across * x)
