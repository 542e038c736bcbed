"""Distances taken along the floor of a room, from which its corners are worked out."""

from __future__ import annotations

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import LENGTH
from witnessmark.model.plan import Corner, Wall


class FloorMark(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A place at the foot of the walls: a corner, or a distance from it along one of its walls.

    Raises:
        BadInput: when the wall does not meet that corner, or the distance is not one.
    """

    corner: Corner
    along: Wall | None = None
    at_mm: float = 0.0

    def __post_init__(self) -> None:
        if self.along is not None and self.along not in self.corner.walls:
            walls = " and ".join(self.corner.walls)
            raise BadInput(f"mark: in the {self.corner} corner the {walls} walls meet")
        if not LENGTH.admits(self.at_mm):
            raise BadInput(f"mark: {self.at_mm:g} mm along a wall must lie between 0 and 100 m")
        if self.along is None and self.at_mm > 0:
            raise BadInput(f"mark: along which wall from the {self.corner} corner is missing")


class Straight(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="straight"):
    """A taut tape or a beam between two marks: a wall's length, a diagonal, a width."""

    start: FloorMark
    end: FloorMark
    reading_mm: float


class Shortest(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="shortest"):
    """From a mark square to a wall or datum line, that is the shortest way to it."""

    start: FloorMark
    wall: Wall
    reading_mm: float


class Flush(msgspec.Struct, frozen=True, forbid_unknown_fields=True, tag="flush"):
    """The meter's back flush on the wall at a mark, the beam square to it, to the opposite wall.

    Raises:
        BadInput: when the mark tells no wall.
    """

    start: FloorMark
    reading_mm: float

    def __post_init__(self) -> None:
        if self.start.along is None:
            raise BadInput(
                f"mark: on which wall of the {self.start.corner} corner the meter's back stands is "
                "missing"
            )

    @property
    def back(self) -> Wall:
        """The wall that the meter's back is flush on."""
        assert self.start.along is not None  # noqa: S101 - checked when it was made
        return self.start.along


Measure = Straight | Shortest | Flush
"""One distance of a survey, mm."""


class DatumLine(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A straight line (a string, a tape, a rug's edge) on a side that has no wall.

    ``first`` and ``second`` are the square distances, mm, of its two ends from other sides, by
    wall: first the end nearer to the front wall (of a left or right line) or to the left wall. An
    end with a single distance lies on the adjoining wall.
    """

    wall: Wall
    first: dict[Wall, float]
    second: dict[Wall, float]


def wall_length(wall: Wall, reading_mm: float) -> Straight:
    """Return a wall from corner to corner."""
    start, end = wall.ends
    return Straight(FloorMark(start), FloorMark(end), reading_mm)


def diagonal(corner: Corner, reading_mm: float) -> Straight:
    """Return the line from a corner to the one across the room."""
    return Straight(FloorMark(corner), FloorMark(corner.opposite), reading_mm)


def width_at(depth_mm: float, reading_mm: float) -> Straight:
    """Return the line between marks so far along both side walls from the front corners."""
    return Straight(
        FloorMark(Corner.FRONT_LEFT, Wall.LEFT, depth_mm),
        FloorMark(Corner.FRONT_RIGHT, Wall.RIGHT, depth_mm),
        reading_mm,
    )


def length_at(across_mm: float, reading_mm: float) -> Straight:
    """Return the line between marks so far along front and back wall from the left corners."""
    return Straight(
        FloorMark(Corner.FRONT_LEFT, Wall.FRONT, across_mm),
        FloorMark(Corner.BACK_LEFT, Wall.BACK, across_mm),
        reading_mm,
    )
