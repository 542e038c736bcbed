"""What of the floor that is to be kept clear something takes up.

A zone may be bent inward; what stands on it is taken as its hull. The zone's outline is cut off
along each edge of the hull in turn (Sutherland & Hodgman, Reentrant polygon clipping, 1974, from
memory); where a bent zone falls into pieces, the edges that join them enclose nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from witnessmark.model import KeepClear, PlanPoint

Outline = Sequence[PlanPoint]


def shared_mm2(zone: KeepClear, points: Outline) -> float:
    """Area of the zone that lies under the hull of some points, mm^2."""
    round_it = hull(points)
    if len(round_it) < 3:
        return 0.0
    left: list[PlanPoint] = list(zone.corners)
    for start, end in zip(round_it, round_it[1:] + round_it[:1], strict=True):
        left = _cut(left, start, end)
    return abs(_twice_area(left)) / 2


def holds(zone: KeepClear, point: PlanPoint) -> bool:
    """Whether a point lies in the zone: a line from it crosses the outline an odd number of times.

    On the outline itself either answer may come.
    """
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in zone.edges:
        if (y1 > y) is not (y2 > y) and x < x1 + (y - y1) / (y2 - y1) * (x2 - x1):
            inside = not inside
    return inside


def hull(points: Outline) -> list[PlanPoint]:
    """The corners of the convex hull, going round from x toward y (monotone chains).

    Fewer than three where the points lie on one line.
    """
    ordered = sorted(set(points))
    if len(ordered) < 3:
        return ordered
    return _chain(ordered)[:-1] + _chain(ordered[::-1])[:-1]


def _chain(ordered: Outline) -> list[PlanPoint]:
    chain: list[PlanPoint] = []
    for point in ordered:
        while len(chain) > 1 and _beside(chain[-2], chain[-1], point) <= 0:
            chain.pop()
        chain.append(point)
    return chain


def _cut(outline: Outline, start: PlanPoint, end: PlanPoint) -> list[PlanPoint]:
    """What of an outline lies on the inner side of a hull's edge."""
    kept: list[PlanPoint] = []
    for before, here in zip([*outline[-1:], *outline[:-1]], outline, strict=True):
        was, now = _beside(start, end, before), _beside(start, end, here)
        if (was < 0) is not (now < 0):
            share = was / (was - now)
            kept.append(
                (
                    before[0] + share * (here[0] - before[0]),
                    before[1] + share * (here[1] - before[1]),
                )
            )
        if now >= 0:
            kept.append(here)
    return kept


def _beside(start: PlanPoint, end: PlanPoint, point: PlanPoint) -> float:
    """Positive where a point lies to the inner side of an edge that goes round from x toward y."""
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


def _twice_area(outline: Outline) -> float:
    if len(outline) < 3:
        return 0.0
    return math.fsum(
        x1 * y2 - x2 * y1
        for (x1, y1), (x2, y2) in zip(outline, [*outline[1:], outline[0]], strict=True)
    )
