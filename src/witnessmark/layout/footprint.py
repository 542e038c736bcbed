"""What a cabinet takes up of the floor, and how a tape finds its corners."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, combinations

import msgspec

from witnessmark.geometry.frame import point_in_plan, side_frame
from witnessmark.layout.band import Band
from witnessmark.model import (
    Cabinet,
    Pair,
    Placement,
    PlanPoint,
    Room,
    Setup,
    Side,
    TouchPoint,
    Wall,
)


class FloorPoint(msgspec.Struct, frozen=True):
    """A point of a cabinet as a tape finds it: mm square from the side wall and the front wall."""

    side_mm: float
    setback_mm: float


def tape_points(
    room: Room, side: Side, cabinet: Cabinet, placement: Placement
) -> dict[str, FloorPoint]:
    """Every point of a cabinet itself by name, from its own side wall and the front wall."""
    frame = side_frame(room, side)
    return {
        name: FloorPoint(*frame.tape_distances(frame.point(placement, touch)))
        for name, touch in cabinet.body_points.items()
    }


def pair_tape_points(
    setup: Setup, placements: Pair[Placement]
) -> dict[Side, dict[str, FloorPoint]]:
    """The same of both cabinets as they stand."""
    return {
        side: tape_points(setup.room, side, setup.cabinets[side], placements[side]) for side in Side
    }


def outline(room: Room, side: Side, cabinet: Cabinet, placement: Placement) -> list[PlanPoint]:
    """Plan points whose hull is what the cabinet takes up: its touch points and its feet."""
    return [point_in_plan(room, side, placement, point) for point in _extremes(cabinet)]


def band(room: Room, side: Side, cabinet: Cabinet, placement: Placement) -> Band:
    """The strip along its side wall that a cabinet takes up as it stands."""
    frame = side_frame(room, side)
    sides = [frame.tape_distances(frame.point(placement, point))[0] for point in _extremes(cabinet)]
    return Band(min(sides), max(sides))


def gap_mm(room: Room, side: Side, cabinet: Cabinet, placement: Placement, wall: Wall) -> float:
    """Distance from a wall to the nearest point of a cabinet; negative when it would be beyond."""
    frame = side_frame(room, side)
    line = frame.walls[wall]
    return min(line.distance_mm(frame.point(placement, point)) for point in _extremes(cabinet))


def rear_gap_mm(room: Room, cabinets: Pair[Cabinet], placements: Pair[Placement]) -> float:
    """The lesser of what the two cabinets leave to the front wall."""
    return min(gap_mm(room, side, cabinets[side], placements[side], Wall.FRONT) for side in Side)


def overlap(first: Sequence[PlanPoint], second: Sequence[PlanPoint]) -> bool:
    """Whether the hulls of two sets of points share more than an edge (separating axis theorem)."""
    return not any(
        max(_along(axis, first)) <= min(_along(axis, second))
        or max(_along(axis, second)) <= min(_along(axis, first))
        for axis in _normals(first, second)
    )


def _extremes(cabinet: Cabinet) -> Iterator[TouchPoint]:
    return chain(cabinet.body_points.values(), cabinet.feet.values())


def _normals(*outlines: Sequence[PlanPoint]) -> Iterator[PlanPoint]:
    # every edge of a hull joins two of its points: the normals of all pairs hold the hull's own
    for outline_points in outlines:
        for (x1, y1), (x2, y2) in combinations(outline_points, 2):
            if (x1, y1) != (x2, y2):
                yield (y1 - y2, x2 - x1)


def _along(axis: PlanPoint, points: Sequence[PlanPoint]) -> list[float]:
    return [axis[0] * x + axis[1] * y for x, y in points]
