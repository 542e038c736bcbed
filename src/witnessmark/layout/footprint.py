"""What a cabinet and its lane take up of the floor, and how a tape finds its corners."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import chain, combinations

import msgspec

from witnessmark.geometry.frame import point_in_plan, side_frame
from witnessmark.layout.mirror import MirrorLine
from witnessmark.layout.practice import Practice
from witnessmark.model import (
    Cabinet,
    KeepClear,
    Pair,
    Placement,
    PlanPoint,
    Room,
    Setup,
    Side,
    TouchPoint,
    Wall,
)
from witnessmark.model.plan import beside, between


class Band(msgspec.Struct, frozen=True):
    """A strip of floor, mm from the cabinet's own side wall: where it begins and where it ends."""

    outer_mm: float
    inner_mm: float

    @property
    def middle_mm(self) -> float:
        """Distance of its middle line from the side wall."""
        return (self.outer_mm + self.inner_mm) / 2

    @property
    def breadth_mm(self) -> float:
        """From edge to edge."""
        return self.inner_mm - self.outer_mm


def lane_pair(line: MirrorLine, practice: Practice) -> Pair[Band]:
    """Return the lane of each cabinet, mirror images of each other.

    About the room's centre line they are the band between the two fractions of the room's width;
    about the line through a seat to one side they are moved with it.
    """
    width, off_centre = line.room.width_mm, line.off_centre_mm

    def lane(shift: float) -> Band:
        return Band(practice.lane_from * width + shift, practice.lane_to * width + shift)

    return Pair(lane(off_centre), lane(-off_centre))


Outline = Sequence[PlanPoint]


def shared_mm2(zone: KeepClear, points: Outline) -> float:
    """Return the area of the zone that lies under the hull of some points, mm^2."""
    round_it = hull(points)
    if len(round_it) < 3:
        return 0.0
    left: list[PlanPoint] = list(zone.corners)
    for start, end in zip(round_it, round_it[1:] + round_it[:1], strict=True):
        left = _cut(left, start, end)
    return abs(_twice_area(left)) / 2


def holds(zone: KeepClear, point: PlanPoint) -> bool:
    """Return whether a point lies in the zone, by how often a line from it crosses the outline.

    On the outline itself either answer may come.
    """
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zone.edges:
        if (y1 > y) is not (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1):
            inside = not inside
    return inside


def hull(points: Outline) -> list[PlanPoint]:
    """Return the corners of the convex hull, going round from x toward y (monotone chains).

    Fewer than three where the points lie on one line.
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return ordered
    return _chain(ordered)[:-1] + _chain(ordered[::-1])[:-1]


def _chain(ordered: Outline) -> list[PlanPoint]:
    chain: list[PlanPoint] = []
    for point in ordered:
        while len(chain) > 1 and beside(chain[-2], chain[-1], point) <= 0:
            chain.pop()
        chain.append(point)
    return chain


def _cut(outline: Outline, start: PlanPoint, end: PlanPoint) -> list[PlanPoint]:
    """Return what of an outline lies on the inner side of a hull's edge."""
    kept: list[PlanPoint] = []
    for before, here in zip([*outline[-1:], *outline[:-1]], outline, strict=True):
        was, now = beside(start, end, before), beside(start, end, here)
        if (was < 0) is not (now < 0):
            share = was / (was - now)
            kept.append(between(before, here, share))
        if now >= 0:
            kept.append(here)
    return kept


def _twice_area(outline: Outline) -> float:
    if len(outline) < 3:
        return 0.0
    return math.fsum(
        x1 * y2 - x2 * y1
        for (x1, y1), (x2, y2) in zip(outline, [*outline[1:], outline[0]], strict=True)
    )


class FloorPoint(msgspec.Struct, frozen=True):
    """A point of a cabinet as a tape finds it: mm square from the side wall and the front wall."""

    side_mm: float
    setback_mm: float


def tape_points(
    room: Room, side: Side, cabinet: Cabinet, placement: Placement
) -> dict[str, FloorPoint]:
    """Return every point of a cabinet itself by name, from its own side wall and the front wall."""
    frame = side_frame(room, side)
    return {
        name: FloorPoint(*frame.tape_distances(frame.point(placement, touch)))
        for name, touch in cabinet.body_points.items()
    }


def pair_tape_points(
    setup: Setup, placements: Pair[Placement]
) -> dict[Side, dict[str, FloorPoint]]:
    """Return the tape points of both cabinets as they stand, by side."""
    return {
        side: tape_points(setup.room, side, setup.cabinets[side], placements[side]) for side in Side
    }


def outline(room: Room, side: Side, cabinet: Cabinet, placement: Placement) -> list[PlanPoint]:
    """Plan points whose hull is what the cabinet takes up: its touch points and its feet."""
    return [point_in_plan(room, side, placement, point) for point in _extremes(cabinet)]


def band(room: Room, side: Side, cabinet: Cabinet, placement: Placement) -> Band:
    """Return the strip along its side wall that a cabinet takes up as it stands."""
    frame = side_frame(room, side)
    sides = [frame.tape_distances(frame.point(placement, point))[0] for point in _extremes(cabinet)]
    return Band(min(sides), max(sides))


def gap_mm(room: Room, side: Side, cabinet: Cabinet, placement: Placement, wall: Wall) -> float:
    """Return the distance from a wall to the nearest point of a cabinet, mm; negative beyond it."""
    frame = side_frame(room, side)
    line = frame.walls[wall]
    return min(line.distance_mm(frame.point(placement, point)) for point in _extremes(cabinet))


def rear_gap_mm(room: Room, cabinets: Pair[Cabinet], placements: Pair[Placement]) -> float:
    """Return the lesser of what the two cabinets leave to the front wall."""
    return min(gap_mm(room, side, cabinets[side], placements[side], Wall.FRONT) for side in Side)


def overlap(first: Sequence[PlanPoint], second: Sequence[PlanPoint]) -> bool:
    """Return whether the hulls of two sets of points overlap (separating axis theorem)."""
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
