"""What a loudspeaker can be, known before the first shot: in the room, facing it, clear of others.

A cabinet that faces the front wall, stands in a wall, in the other cabinet or beyond it is no
answer to any shots. One that is turned in or out as hardly any is, or that stands beyond the seat's
line, can be but is unlikely.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

from witnessmark.geometry.frame import footprint, reference_in_plan, side_frame
from witnessmark.lengths import Units, format_length
from witnessmark.model import Cabinet, Placement, PlanPoint, Room, Setup, Side, Wall

HARDLY_MM = 1.0
"""Distance, mm, by which a point may lie beyond a wall: the hand that measured it was that
rough."""
MEASURED_SLACK_MM = 30.0
"""Farthest that shots and a tape may put a cabinet into a wall, or into the other one, that in
truth touches it; common practice, no source."""
FACING_DEG = 90.0
"""Largest toe-in, either way, at which a cabinet still faces the room."""
USUAL_TOE_IN_DEG = (-20.0, 55.0)
"""Toe-ins in use; common practice, no source."""


def outside(
    room: Room,
    side: Side,
    cabinet: Cabinet,
    placement: Placement,
    units: Units = Units.MM,
    *,
    slack_mm: float = HARDLY_MM,
) -> str | None:
    """Return what is wrong with a placement outside the room, in words; None for one inside.

    The lower corners and feet count, and ``slack_mm`` beyond a wall is let pass. A datum line may
    be stood over: nothing is there.
    """
    frame = side_frame(room, side)
    reference, reach_mm = frame.reference(placement), _reach_mm(cabinet)
    near = [
        wall
        for wall, line in frame.walls.items()
        if line.distance_mm(reference) < reach_mm and wall not in room.datum
    ]
    points = cabinet.body_points | cabinet.standing_points if near else {}
    beyond = [
        (-frame.walls[wall].distance_mm(frame.point(placement, point)), name, wall)
        for wall in near
        for name, point in points.items()
    ]
    farthest, name, wall = max(beyond, default=(0.0, "", Wall.FRONT))
    if farthest <= slack_mm:
        return None
    return (
        f"the {side} cabinet would stand outside the room, its {name} "
        f"{format_length(farthest, units)} beyond the {wall} wall"
    )


@lru_cache(maxsize=64)
def _reach_mm(cabinet: Cabinet) -> float:
    """How far any point of a cabinet is from its reference point, at most."""
    points = cabinet.body_points | cabinet.standing_points
    return max(math.hypot(point.inward_mm, point.back_mm) for point in points.values())


def cannot_be(setup: Setup, placements: Mapping[Side, Placement]) -> str | None:
    """Return why no pair can stand so, in words; None where it can.

    Args:
        setup: room and cabinets.
        placements: of one cabinet or both, as measured.
    """
    for side, placement in placements.items():
        if not all(map(math.isfinite, (placement.side_mm, placement.setback_mm))):
            return f"the {side} cabinet would stand nowhere"
        if abs(placement.toe_in_deg) > FACING_DEG:
            return (
                f"the {side} cabinet would face away from the seat "
                f"(toe-in {placement.toe_in_deg:.0f}°)"
            )
        beyond = outside(
            setup.room,
            side,
            setup.cabinets[side],
            placement,
            setup.units,
            slack_mm=MEASURED_SLACK_MM,
        )
        if beyond:
            return beyond
    if len(placements) == len(Side) and not _are_clear(setup, placements):
        left, right = (
            footprint(setup.room, side, setup.cabinets[side], placements[side]) for side in Side
        )
        if _overlap_mm(left, right) > MEASURED_SLACK_MM:
            return "the two cabinets would stand in each other"
        if max(x for x, _ in right) < min(x for x, _ in left):
            return "the left cabinet would stand to the right of the right one"
    return None


def _are_clear(setup: Setup, placements: Mapping[Side, Placement]) -> bool:
    """Whether the cabinets are the right way round and too far apart to touch, however turned."""
    left, right = (reference_in_plan(setup.room, side, placements[side]) for side in Side)
    reach_mm = sum(_reach_mm(setup.cabinets[side]) for side in Side)
    return left[0] < right[0] and math.dist(left, right) > reach_mm


def is_unlikely(setup: Setup, side: Side, placement: Placement) -> bool:
    """Return whether hardly any cabinet stands so: turned too far, or beyond the seat."""
    least, most = USUAL_TOE_IN_DEG
    frame = side_frame(setup.room, side)
    is_beyond = frame.reference(placement)[0] > frame.from_plan(setup.seat.plan)[0]
    return is_beyond or not least <= placement.toe_in_deg <= most


def _overlap_mm(one: tuple[PlanPoint, ...], other: tuple[PlanPoint, ...]) -> float:
    """Return by how much two convex outlines would have to move apart, mm; 0 or less when clear.

    Separating axes: outlines are clear of each other if they are so square to one of their edges.
    """
    overlaps = []
    for outline in (one, other):
        for (x, y), (next_x, next_y) in zip(outline, outline[1:] + outline[:1], strict=True):
            length = math.hypot(next_x - x, next_y - y)
            across = (y - next_y) / length, (next_x - x) / length
            spans = [
                [point[0] * across[0] + point[1] * across[1] for point in points]
                for points in (one, other)
            ]
            overlaps.append(min(max(spans[0]) - min(spans[1]), max(spans[1]) - min(spans[0])))
    return min(overlaps)
