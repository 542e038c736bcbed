"""Which shots can be taken in a room as it stands: whether a beam gets to what it is aimed at.

In a cabinet's frame a beam runs from its touch point in a direction e:

    wall      e = -n, square to the wall
    cabinet   e = -f, +f, -i or +i, along the cabinet's own axes, from a face square to them
    point     straight to the seat mark
    spot      e = +f, to the back wall

It must meet that wall before any other, and neither cabinet may stand in it. Furniture is not
known here.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterator, Mapping

from witnessmark.errors import BadInput
from witnessmark.geometry.frame import FramePoint, SideFrame, side_frame
from witnessmark.locate.observe import touch_point
from witnessmark.model import (
    STRAIGHTEDGE_POINTS,
    AimedAt,
    Cabinet,
    Held,
    Placement,
    Setup,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
)
from witnessmark.model.plan import between, edges_cross

BEAM_MM = 10.0
"""Clearance that a beam needs beside another cabinet, mm: its own width and an unsteady hand."""
_STEP_MM = 3.0
"""Distance from its touch point, mm, from which on a beam must be clear of its own cabinet."""
_CLEAR_MM = 1.0
_SAME_MM = 1.0
"""Distance, mm, below which points are on one face."""

Segment = tuple[FramePoint, FramePoint]


def possible_shots(
    setup: Setup,
    side: Side,
    standing: Mapping[Side, Placement],
    holds: Collection[Held],
    walls: Collection[Wall] = tuple(Wall),
) -> tuple[ShotKind, ...]:
    """Return the shots of one cabinet that can be taken, held in one of these ways.

    Shots between the two cabinets are left out: they say as much of the other one. The ends of a
    straightedge are shot to the front wall only, past the cabinet's sides, because there the
    baffle's own plane is what is measured.

    Args:
        setup: room, cabinets, seat.
        side: whose touch points.
        standing: where this cabinet stands, and the other where that is known.
        holds: how the meter may be held.
        walls: to which walls it may be shot, or a dot be measured from.
    """
    aims = {AimedAt(wall.value) for wall in walls} | {AimedAt.SEAT}
    return tuple(
        kind
        for kind in _imaginable(setup.cabinets[side], side)
        if kind.held in holds and kind.to in aims and why_impossible(setup, standing, kind) is None
    )


def _imaginable(cabinet: Cabinet, side: Side) -> Iterator[ShotKind]:
    walls = [AimedAt(wall.value) for wall in Wall]
    for point in cabinet.touch_points:
        if point in STRAIGHTEDGE_POINTS:
            yield ShotKind(side, point, AimedAt.FRONT, Held.CABINET)
            yield ShotKind(side, point, AimedAt.FRONT, Held.WALL)
            continue
        for held, to in itertools.product((Held.CABINET, Held.WALL), walls):
            yield ShotKind(side, point, to, held)
        yield ShotKind(side, point, AimedAt.SEAT, Held.POINT)
        yield ShotKind(side, point, AimedAt.LEFT, Held.SPOT)
        yield ShotKind(side, point, AimedAt.RIGHT, Held.SPOT)


def why_impossible(setup: Setup, standing: Mapping[Side, Placement], kind: ShotKind) -> str | None:
    """Return why a shot cannot be taken of cabinets that stand so, in words; None when it can."""
    try:
        point = touch_point(setup, kind)
    except BadInput as error:
        return str(error)
    if kind.held is Held.CABINET and not _lies_flush(setup.cabinets[kind.cabinet], kind, point):
        return (
            "no face of the cabinet looks squarely at that wall there: hold the meter on the wall"
        )
    frame, placement = side_frame(setup.room, kind.cabinet), standing[kind.cabinet]
    start = frame.point(placement, point)
    end, met = _end(setup, frame, kind, placement, start)
    if met is None:
        return "the touch point stands outside the room"
    aimed = Wall.BACK if kind.held is Held.SPOT else kind.to
    if kind.to is not AimedAt.SEAT and met.value != aimed.value:
        return f"the beam meets the {setup.room.side_name(met)} first"
    return _obstacle(setup, standing, kind, (start, end))


def beam(setup: Setup, standing: Mapping[Side, Placement], kind: ShotKind) -> Segment:
    """Return both ends of the beam of a possible shot, in the frame of its cabinet."""
    frame, placement = side_frame(setup.room, kind.cabinet), standing[kind.cabinet]
    start = frame.point(placement, touch_point(setup, kind))
    end, _ = _end(setup, frame, kind, placement, start)
    return start, end


def _lies_flush(cabinet: Cabinet, kind: ShotKind, point: TouchPoint) -> bool:
    """Return whether a meter at the point, flush on the cabinet, fires along its axis to that wall.

    The point must be on the face that looks there, or proud of it, and the sides must not taper.
    """
    half = cabinet.width_mm / 2
    if kind.to is AimedAt.FRONT:
        return point.back_mm >= cabinet.depth_mm - _SAME_MM or kind.point in STRAIGHTEDGE_POINTS
    if kind.to is AimedAt.BACK:
        return point.back_mm <= _SAME_MM
    own = kind.to.value == kind.cabinet.value
    points, end = cabinet.body_points, "outer" if own else "inner"
    tapered = abs(points[f"front-{end}"].inward_mm - points[f"rear-{end}"].inward_mm) > _SAME_MM
    outward = -point.inward_mm if own else point.inward_mm
    return not tapered and outward >= half - _SAME_MM


def _end(
    setup: Setup, frame: SideFrame, kind: ShotKind, placement: Placement, start: FramePoint
) -> tuple[FramePoint, Wall | None]:
    """Return where a beam ends, and on which wall; None for a wall that it starts beyond."""
    if kind.to is AimedAt.SEAT:
        return frame.from_plan(setup.seat.plan), Wall.BACK
    direction = _direction(frame, kind, placement)
    hits = []
    for wall, line in frame.walls.items():
        height = line.distance_mm(start)
        if height < 0:
            return start, None
        approach = -(line.normal_along * direction[0] + line.normal_out * direction[1])
        if approach > 0:
            hits.append((height / approach, wall))
    length, met = min(hits, key=lambda hit: hit[0])
    return (start[0] + length * direction[0], start[1] + length * direction[1]), met


def _direction(frame: SideFrame, kind: ShotKind, placement: Placement) -> FramePoint:
    toe_in = math.radians(placement.toe_in_deg)
    sine, cosine = math.sin(toe_in), math.cos(toe_in)
    if kind.held is Held.SPOT:
        return sine, cosine
    wall = Wall(kind.to.value)
    if kind.held is Held.WALL:
        line = frame.walls[wall]
        return -line.normal_along, -line.normal_out
    return {
        Wall.FRONT: (-sine, -cosine),
        Wall.BACK: (sine, cosine),
        frame.own_wall: (-cosine, sine),
        frame.own_wall.opposite: (cosine, -sine),
    }[wall]


def _obstacle(
    setup: Setup, standing: Mapping[Side, Placement], kind: ShotKind, path: Segment
) -> str | None:
    """The cabinet that stands in a beam, in words."""
    for side, placement in standing.items():
        own = side is kind.cabinet
        corners = _corners(setup, kind.cabinet, side, placement)
        # the beam starts on its own cabinet; a little off it must be clear of it
        seen = _from_a_step_on(path) if own else path
        if _gap_mm(seen, corners) < (_CLEAR_MM if own else BEAM_MM):
            return f"the {'cabinet itself' if own else f'{side} cabinet'} stands in the beam"
    return None


def _corners(
    setup: Setup, seen_from: Side, side: Side, placement: Placement
) -> tuple[FramePoint, ...]:
    """The four corners of a cabinet in the frame of another, going round."""
    points = setup.cabinets[side].body_points
    named = ("front-inner", "front-outer", "rear-outer", "rear-inner")
    own, other = side_frame(setup.room, seen_from), side_frame(setup.room, side)
    return tuple(
        own.from_plan(other.to_plan(other.point(placement, points[name]))) for name in named
    )


def _from_a_step_on(path: Segment) -> Segment:
    start, end = path
    share = min(1.0, _STEP_MM / (math.dist(start, end) or 1.0))
    return between(start, end, share), end


def _gap_mm(path: Segment, corners: tuple[FramePoint, ...]) -> float:
    """Distance between a beam and the outline of a box; 0 where they cross."""
    edges = zip(corners, corners[1:] + corners[:1], strict=True)
    return min(_between_mm(path, edge) for edge in edges)


def _between_mm(first: Segment, second: Segment) -> float:
    if edges_cross(first, second):
        return 0.0
    return min(
        _point_gap_mm(point, segment)
        for points, segment in ((first, second), (second, first))
        for point in points
    )


def _point_gap_mm(point: FramePoint, segment: Segment) -> float:
    (x1, y1), (x2, y2) = segment
    square = (x2 - x1) ** 2 + (y2 - y1) ** 2
    share = ((point[0] - x1) * (x2 - x1) + (point[1] - y1) * (y2 - y1)) / square if square else 0.0
    share = min(1.0, max(0.0, share))
    return math.dist(point, between(*segment, share))
