"""Rooms and the distances that a survey takes in them, as shapely tells them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np
import pytest
from hypothesis import strategies as st
from shapely import LineString, Point

from witnessmark.model import (
    Corner,
    FloorMark,
    Flush,
    Measure,
    Meter,
    PlanPoint,
    Room,
    Shortest,
    Straight,
    Wall,
)
from witnessmark.model.survey import diagonal, length_at, wall_length, width_at

EXACT = Meter(repeatability_mm=0.5, resolution_mm=0.0, zero_mm=0.0)
METER = Meter(repeatability_mm=0.5, resolution_mm=1.0, zero_mm=0.7, scale_ppm=30.0)
ROOM = Room((0.0, 0.0), (5363.0, 0.0), (5414.0, 7237.0), (-12.0, 7228.0))
WALLS = [wall_length(wall, 1.0) for wall in Wall]
DIAGONALS = [diagonal(Corner.FRONT_LEFT, 1.0), diagonal(Corner.FRONT_RIGHT, 1.0)]
ENOUGH = [*WALLS, DIAGONALS[0]]
WIDTHS = [width_at(depth, 1.0) for depth in (1200.0, 2400.0, 3900.0)]
LENGTHS = [length_at(across, 1.0) for across in (900.0, 3600.0)]
FLUSH = [
    Flush(FloorMark(Corner.FRONT_LEFT, Wall.LEFT, 1500.0), 1.0),
    Flush(FloorMark(Corner.BACK_RIGHT, Wall.BACK, 1100.0), 1.0),
]
SHORTEST = [
    Shortest(FloorMark(Corner.BACK_RIGHT), Wall.LEFT, 1.0),
    Shortest(FloorMark(Corner.FRONT_RIGHT, Wall.FRONT, 700.0), Wall.BACK, 1.0),
]
EVERYTHING = [*WALLS, *DIAGONALS, *WIDTHS, *LENGTHS, *FLUSH, *SHORTEST]

marks = st.builds(
    lambda corner, which, at: FloorMark(corner, corner.walls[which], at),
    st.sampled_from(Corner),
    st.sampled_from((0, 1)),
    st.floats(50.0, 3500.0),
) | st.builds(FloorMark, st.sampled_from(Corner))
measures = st.one_of(
    st.builds(Straight, marks, marks, st.just(1.0)),
    st.builds(Shortest, marks, st.sampled_from(Wall), st.just(1.0)),
    st.builds(Flush, marks.filter(lambda mark: mark.along is not None), st.just(1.0)),
)


def end_of(room: Room, corner: Corner) -> PlanPoint:
    return dict(zip(Corner, room.corners, strict=True))[corner]


def place_of(room: Room, mark: FloorMark) -> PlanPoint:
    """Return where a mark is, by shapely."""
    start = end_of(room, mark.corner)
    if mark.along is None:
        return start
    (other,) = set(mark.along.ends) - {mark.corner}
    x, y = LineString([start, end_of(room, other)]).interpolate(mark.at_mm).coords[0]
    return x, y


def long_line(room: Room, wall: Wall) -> LineString:
    (x0, y0), (x1, y1) = room.wall(wall)
    dx, dy = 100 * (x1 - x0), 100 * (y1 - y0)
    return LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)])


def told_by_shapely(room: Room, measure: Measure) -> float:
    start = place_of(room, measure.start)
    if isinstance(measure, Straight):
        return math.dist(start, place_of(room, measure.end))
    if isinstance(measure, Shortest):
        return float(long_line(room, measure.wall).distance(Point(start)))
    (x0, y0), (x1, y1) = room.wall(measure.back)
    beam = LineString([start, (start[0] - (y1 - y0) * 100, start[1] + (x1 - x0) * 100)])
    hit = beam.intersection(long_line(room, measure.back.opposite))
    return math.dist(start, hit.coords[0])


def taken(
    room: Room,
    wanted: Sequence[Measure],
    rng: np.random.Generator | None = None,
    meter: Meter = METER,
) -> list[Measure]:
    """Return the measures as a tape without error shows them, or with the errors of a meter."""
    zero, scale = (0.0, 0.0) if rng is None else rng.normal(0, (meter.zero_mm, meter.scale_ppm))
    readings = [told_by_shapely(room, measure) * (1 + scale * 1e-6) + zero for measure in wanted]
    if rng is not None:
        readings = [reading + rng.normal(0, meter.shot_sigma_mm) for reading in readings]
    return [
        msgspec.structs.replace(measure, reading_mm=float(reading))
        for measure, reading in zip(wanted, readings, strict=True)
    ]


def spoilt(wanted: Sequence[Measure], place: int, reading_mm: float) -> list[Measure]:
    wrong = msgspec.structs.replace(wanted[place], reading_mm=reading_mm)
    return [*wanted[:place], wrong, *wanted[place + 1 :]]


def assert_corners(found: Room, expected: Room, within_mm: float = 1e-4) -> None:
    for one, other in zip(found.corners, expected.corners, strict=True):
        assert one == pytest.approx(other, abs=within_mm)


def in_frame(room: Room) -> Room:
    """Return the same room with its front wall along x."""
    (x0, y0), (x1, y1) = room.front_left, room.front_right
    turn = complex(x1 - x0, y1 - y0) / math.hypot(x1 - x0, y1 - y0)
    corners = [complex(x - x0, y - y0) / turn for x, y in room.corners]
    return Room(*((corner.real, corner.imag) for corner in corners))
