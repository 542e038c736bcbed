"""The nearest position at which both cabinets can stand, as mirror images of each other."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from witnessmark.layout.mirror import Stance
from witnessmark.layout.remarks import LayoutCase, obstacles
from witnessmark.lengths import Units, format_length
from witnessmark.model import Pair, Placement

_RING_MM = 100.0
"""Step between the distances that are tried, mm; a narrower gap may be missed."""
_FARTHEST_MM = 2500.0
_DIRECTIONS = 16
"""Directions that are tried: enough to have all four along the walls, few enough for a quick
screen."""
_WITHIN_MM = 0.5


def nearest_free(case: LayoutCase) -> Pair[Placement] | None:
    """Return the free position nearest to that of the case, turned as it is, in whole millimetres.

    A position is free when neither cabinet reaches through a wall, into what stands proud of it,
    into floor that is to be kept clear, or into the other cabinet. How near it is counts by how far
    each cabinet is moved. It is found by trying ever farther in every direction, so a free place
    may be missed that is smaller than the steps. None when the case is free as it is, or none is
    within two and a half metres.
    """
    if case.cabinets is None or _is_free(case, case.stance):
        return None
    for ring in range(1, round(_FARTHEST_MM / _RING_MM) + 1):
        reach = ring * _RING_MM
        free = [
            direction
            for direction in range(_DIRECTIONS)
            if _is_free(case, _moved(case.stance, direction, reach))
        ]
        if free:
            found = [_nearest_along(case, direction, reach) for direction in free]
            nearest = min(found, key=lambda stance: _distance_mm(case.stance, stance))
            return case.line.placements(nearest)
    return None


def _is_free(case: LayoutCase, stance: Stance) -> bool:
    if stance.base_mm <= 0 or stance.setback_mm <= 0:
        return False
    there = case._replace(stance=stance, placements=case.line.placements(stance))
    return next(obstacles(there), None) is None


def _moved(stance: Stance, direction: int, by_mm: float) -> Stance:
    """Both cabinets moved as mirror images, so that the base changes by twice as much."""
    turn = direction * math.tau / _DIRECTIONS
    return stance._replace(
        base_mm=stance.base_mm + 2 * by_mm * math.cos(turn),
        setback_mm=stance.setback_mm + by_mm * math.sin(turn),
    )


def _nearest_along(case: LayoutCase, direction: int, free_mm: float) -> Stance:
    """Return the nearest free stance between one that is free and the ring before, which is not."""
    barred_mm = free_mm - _RING_MM
    while free_mm - barred_mm > _WITHIN_MM:
        middle = (free_mm + barred_mm) / 2
        if _is_free(case, _moved(case.stance, direction, middle)):
            free_mm = middle
        else:
            barred_mm = middle
    return _in_whole_mm(case, _moved(case.stance, direction, free_mm))


def _in_whole_mm(case: LayoutCase, free: Stance) -> Stance:
    """Return the nearest free stance that is as near to this one as whole millimetres allow."""
    side_mm = case.line.side_mm(free.base_mm, free.setback_mm)
    rounded = (
        free._replace(base_mm=case.line.base_mm(side, setback), setback_mm=setback)
        for side, setback in itertools.product(
            (math.floor(side_mm), math.ceil(side_mm)),
            (math.floor(free.setback_mm), math.ceil(free.setback_mm)),
        )
    )
    fit = [stance for stance in rounded if _is_free(case, stance)]
    return min(fit, key=lambda stance: _distance_mm(case.stance, stance), default=free)


def _distance_mm(one: Stance, other: Stance) -> float:
    """Return how far each cabinet is moved from one stance to the other."""
    return math.hypot((other.base_mm - one.base_mm) / 2, other.setback_mm - one.setback_mm)


def free_words(free: Pair[Placement] | None, units: Units) -> Iterator[str]:
    """Yield a sentence on where both cabinets would stand free; none without such a place."""
    if free is None:
        return
    left, right, out = (
        format_length(mm, units)
        for mm in (free.left.side_mm, free.right.side_mm, free.left.setback_mm)
    )
    sides = f"{left} from the left wall, {right} from the right wall"
    if left == right:
        sides = f"{left} from each side wall"
    yield f"Nearest free position: {sides}, {out} from the front wall, turned as now."
