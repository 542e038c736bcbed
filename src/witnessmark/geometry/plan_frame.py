"""Moving a plan into the plan frame: front-left corner at the origin, front wall along x."""

from __future__ import annotations

import math
from typing import NamedTuple

from witnessmark.model import PlanPoint, Room

_NEAR_MM = 1e-3
"""Distance, mm, within which a plan lies in the plan frame; only rounding is that small."""


class Shift(NamedTuple):
    """How a plan lies in the frame of another: its origin moved, its axes turned."""

    origin: PlanPoint
    cosine: float
    sine: float

    @classmethod
    def to_front(cls, front_left: PlanPoint, front_right: PlanPoint) -> Shift:
        """Return the shift that puts ``front_left`` at the origin and ``front_right`` on x."""
        width = math.dist(front_left, front_right) or 1.0
        cosine = (front_right[0] - front_left[0]) / width
        return cls(front_left, cosine, (front_right[1] - front_left[1]) / width)

    @property
    def turn_deg(self) -> float:
        """The turn that the plan makes, from x toward y."""
        return math.degrees(math.atan2(-self.sine, self.cosine))

    def moved(self, point: PlanPoint) -> PlanPoint:
        """Return where a point of the plan before is now."""
        x, y = point[0] - self.origin[0], point[1] - self.origin[1]
        return x * self.cosine + y * self.sine, y * self.cosine - x * self.sine


def in_plan_frame(room: Room) -> tuple[Room, Shift | None]:
    """Return the walls of a room in the plan frame, and how they were moved, if they were.

    Datum lines and what stands proud belong to walls and stay with them. Floor to be kept clear is
    not carried over, because only its reader knows in which plan it was given.
    """
    front_left, front_right = room.front_left, room.front_right
    if max(abs(front_left[0]), abs(front_left[1]), abs(front_right[1])) < _NEAR_MM:
        return room, None
    shift = Shift.to_front(front_left, front_right)
    moved = Room(
        (0.0, 0.0),
        (math.dist(front_left, front_right), 0.0),
        shift.moved(room.back_right),
        shift.moved(room.back_left),
        height_mm=room.height_mm,
        datum=room.datum,
        offsets=room.offsets,
    )
    return moved, shift
