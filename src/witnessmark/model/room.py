"""The room in its plan frame, its walls, and the seat.

Plan frame: seen from above with the front wall (the wall behind the cabinets) at the top of the
page; x runs from the left wall to the right as the listener sees it, y from the front wall toward
the listener, origin in the front-left corner, millimetres.
"""

from __future__ import annotations

import enum
import math
from typing import Self

import msgspec

from witnessmark.errors import BadInput

PlanPoint = tuple[float, float]
"""(x, y) in the plan frame, millimetres."""


class Side(enum.StrEnum):
    """Which of the two cabinets, as the listener sees them."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def other(self) -> Side:
        """The cabinet on the other side."""
        return Side.RIGHT if self is Side.LEFT else Side.LEFT


class Wall(enum.StrEnum):
    """The four walls, as the listener facing the cabinets names them."""

    FRONT = "front"
    BACK = "back"
    LEFT = "left"
    RIGHT = "right"

    @classmethod
    def beside(cls, side: Side) -> Wall:
        """The own side wall of the cabinet on ``side``."""
        return cls.LEFT if side is Side.LEFT else cls.RIGHT


class Room(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Four corners in the plan frame, mm; the floor is flat and the walls are straight.

    Raises:
        BadInput: when the corners do not make a convex room of at least 0.5 m a side.
    """

    front_left: PlanPoint
    front_right: PlanPoint
    back_right: PlanPoint
    back_left: PlanPoint
    height_mm: float | None = None

    def __post_init__(self) -> None:
        corners = self.corners
        if not all(math.isfinite(value) for corner in corners for value in corner):
            raise BadInput("room: every corner needs two finite numbers of millimetres")
        for before, corner, after in zip(
            corners[-1:] + corners[:-1], corners, corners[1:] + corners[:1], strict=True
        ):
            turn = (corner[0] - before[0]) * (after[1] - corner[1]) - (corner[1] - before[1]) * (
                after[0] - corner[0]
            )
            if math.dist(before, corner) < 500:
                raise BadInput("room: every wall must be at least 0.5 m long")
            if turn <= 0:
                raise BadInput(
                    "room: the corners front_left, front_right, back_right, back_left must go "
                    "round the room in that order, each bending inward"
                )

    @classmethod
    def rectangular(cls, width_mm: float, length_mm: float, height_mm: float | None = None) -> Self:
        """A room with four right angles, ``width_mm`` along the front wall."""
        return cls(
            front_left=(0.0, 0.0),
            front_right=(width_mm, 0.0),
            back_right=(width_mm, length_mm),
            back_left=(0.0, length_mm),
            height_mm=height_mm,
        )

    @property
    def corners(self) -> tuple[PlanPoint, PlanPoint, PlanPoint, PlanPoint]:
        """Front-left, front-right, back-right, back-left."""
        return (self.front_left, self.front_right, self.back_right, self.back_left)

    @property
    def width_mm(self) -> float:
        """Length of the front wall."""
        return math.dist(self.front_left, self.front_right)

    @property
    def length_mm(self) -> float:
        """Mean length of the two side walls."""
        return (
            math.dist(self.front_left, self.back_left)
            + math.dist(self.front_right, self.back_right)
        ) / 2

    def wall(self, wall: Wall) -> tuple[PlanPoint, PlanPoint]:
        """The two ends of a wall, in the order in which the corners go round the room."""
        front_left, front_right, back_right, back_left = self.corners
        return {
            Wall.FRONT: (front_left, front_right),
            Wall.RIGHT: (front_right, back_right),
            Wall.BACK: (back_right, back_left),
            Wall.LEFT: (back_left, front_left),
        }[wall]


class Seat(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The listener's head: plan position of its middle, and the height of the ears, mm."""

    from_front_mm: float
    from_left_mm: float
    ear_height_mm: float | None = None

    @property
    def plan(self) -> PlanPoint:
        """(x, y) in the plan frame."""
        return (self.from_left_mm, self.from_front_mm)
