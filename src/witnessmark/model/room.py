"""The room in its plan frame, its walls, and the seat."""

from __future__ import annotations

import enum
import math
from collections.abc import Mapping
from typing import ClassVar, Self

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.fittings import KeepClear, WallOffset
from witnessmark.model.limits import DISTANCE, LENGTH, MOST_ZONES, ON_PLAN, ROOM_SIDE, Limit
from witnessmark.model.plan import PlanPoint, Wall
from witnessmark.model.survey import DatumLine

RoomItem = DatumLine | WallOffset | KeepClear
"""One thing that is in a room."""

_SAME_MM = 0.01
"""Distance, mm, below which corners are the same, but for rounding."""
_STAND_IN_MM = 20_000.0
"""A side of a room that nobody measured, mm: no living room is longer; common practice, no source.
"""
_ROUND = (Wall.FRONT, Wall.RIGHT, Wall.BACK, Wall.LEFT)
"""The walls in the order in which the corners go round the room, each from its own corner on."""


class RoomKnown(enum.StrEnum):
    """How much of a room's size was measured; what was not is stood in for by a large one."""

    WHOLE = "whole"
    WIDTH = "width"
    """Only the width: the length, and the seat with it, stand in."""
    NOTHING = "nothing"
    """Neither width nor length; shots to the front wall and to a cabinet's own side wall do."""


class Room(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Four corners in the plan frame, mm; the floor is flat and the walls are straight.

    ``datum`` names the sides without a wall: there a straight line (a string, a tape, a rug's edge)
    takes the wall's place. ``offsets`` are what stands proud of the walls, ``keep_clear`` is floor
    where nothing may stand.

    Raises:
        BadInput: when the corners do not make a convex room of at least 0.5 m a side, one is over
            100 m away, a datum line is named twice or has an offset, or there are too many zones.
    """

    front_left: PlanPoint
    front_right: PlanPoint
    back_right: PlanPoint
    back_left: PlanPoint
    height_mm: float | None = None
    datum: tuple[Wall, ...] = ()
    offsets: tuple[WallOffset, ...] = ()
    keep_clear: tuple[KeepClear, ...] = ()

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "front_left": ON_PLAN,
        "front_right": ON_PLAN,
        "back_right": ON_PLAN,
        "back_left": ON_PLAN,
        "height_mm": DISTANCE,
    }

    def __post_init__(self) -> None:
        self._check_datum()
        if len(self.keep_clear) > MOST_ZONES:
            raise BadInput(f"keep_clear: there are too many zones; give {MOST_ZONES} at most")
        corners = self.corners
        if not all(math.isfinite(value) for corner in corners for value in corner):
            raise BadInput("room: every corner needs two finite numbers of millimetres")
        if not all(ON_PLAN.admits(value) for corner in corners for value in corner):
            raise BadInput("room: a corner is more than 100 m away from where the plan begins")
        for before, corner, after in zip(
            corners[-1:] + corners[:-1], corners, corners[1:] + corners[:1], strict=True
        ):
            turn = (corner[0] - before[0]) * (after[1] - corner[1]) - (corner[1] - before[1]) * (
                after[0] - corner[0]
            )
            if math.dist(before, corner) < ROOM_SIDE.least:
                raise BadInput("room: every wall must be at least 0.5 m long")
            if turn <= 0:
                raise BadInput(
                    "room: the corners front_left, front_right, back_right, back_left must go "
                    "round the room in that order, each bending inward"
                )

    def _check_datum(self) -> None:
        for wall in self.datum:
            if self.datum.count(wall) > 1:
                raise BadInput(f"datum: the {wall} line is named twice; name it once")
            if any(offset.wall is wall for offset in self.offsets):
                raise BadInput(
                    f"offsets: nothing sticks out from the {wall} line, which is a datum line "
                    "and no wall"
                )

    @classmethod
    def rectangular(cls, width_mm: float, length_mm: float, height_mm: float | None = None) -> Self:
        """Return a room with four right angles, ``width_mm`` along the front wall."""
        return cls(
            front_left=(0.0, 0.0),
            front_right=(width_mm, 0.0),
            back_right=(width_mm, length_mm),
            back_left=(0.0, length_mm),
            height_mm=height_mm,
        )

    @classmethod
    def standing_in(cls, width_mm: float | None = None) -> Self:
        """Return a room for one that nobody measured, large enough for any pair."""
        return cls.rectangular(_STAND_IN_MM if width_mm is None else width_mm, _STAND_IN_MM)

    def has_corners_of(self, other: Room) -> bool:
        """Return whether two rooms have the same corners, but for rounding."""
        pairs = zip(self.corners, other.corners, strict=True)
        return all(math.dist(one, another) < _SAME_MM for one, another in pairs)

    @property
    def is_rectangle(self) -> bool:
        """Whether it has the corners of one that was typed as width and length."""
        return self.has_corners_of(Room.rectangular(self.width_mm, self.length_mm))

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

    @property
    def out_of_square_mm(self) -> float:
        """How far the room is from a rectangle: in opposite walls, or in its diagonals."""
        front_left, front_right, back_right, back_left = self.corners
        return max(
            abs(math.dist(front_left, front_right) - math.dist(back_left, back_right)),
            abs(math.dist(front_left, back_left) - math.dist(front_right, back_right)),
            abs(math.dist(front_left, back_right) - math.dist(front_right, back_left)),
        )

    def wall(self, wall: Wall) -> tuple[PlanPoint, PlanPoint]:
        """Return the two ends of a wall, in the order in which the corners go round the room."""
        start = _ROUND.index(wall)
        return self.corners[start], self.corners[(start + 1) % 4]

    def side_length_mm(self, wall: Wall) -> float:
        """Return the length of a wall or datum line from corner to corner."""
        return math.dist(*self.wall(wall))

    def side_name(self, wall: Wall) -> str:
        """Return what is there, in words: ``front wall``, or ``right datum line``."""
        return f"{wall} datum line" if wall in self.datum else f"{wall} wall"

    def proud_mm(self, wall: Wall, height_mm: float) -> float:
        """Return how far a wall stands proud, mm, where a level beam at this height meets it."""
        return max(
            (
                offset.proud_mm
                for offset in self.offsets
                if offset.wall is wall and offset.reaches(height_mm)
            ),
            default=0.0,
        )


class Seat(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The listener's head: plan position of its middle, and the height of the ears, mm."""

    from_front_mm: float
    from_left_mm: float
    ear_height_mm: float | None = None

    LIMITS: ClassVar[Mapping[str, Limit]] = {"ear_height_mm": LENGTH}

    @property
    def plan(self) -> PlanPoint:
        """(x, y) in the plan frame."""
        return (self.from_left_mm, self.from_front_mm)
