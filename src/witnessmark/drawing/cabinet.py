"""A cabinet seen from above with its touch points named, as strokes and labels.

Drawn as the left one of a pair: the baffle at the bottom of the page, where the listener is, its
inner side on the right. Millimetres from the reference point, x inward, y toward the listener.
"""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.model import STRAIGHTEDGE_POINTS, Cabinet, PlanPoint, TouchPoint

_BAFFLE_SHARE = 0.06
"""Part of the depth by which the second line along the baffle is set back."""
_MARK_SHARE = 0.03
"""Part of the depth that a mark reaches to each side."""
_ASIDE_SHARE = 0.1
"""Part of the depth by which a name stands before or behind its point."""
_SPREAD = 1.6
"""Names stand so many times as far from the middle line as their points, to keep apart."""


def cabinet_drawing(cabinet: Cabinet) -> Drawing:
    """The outline, the baffle, the feet, and every touch point with its name.

    Feet are small squares, touch points small crosses. The straightedge is a dashed line.
    """
    return Drawing(tuple(_strokes(cabinet)), tuple(_labels(cabinet)))


def _strokes(cabinet: Cabinet) -> Iterator[Stroke]:
    points = {name: _at(point) for name, point in cabinet.touch_points.items()}
    inner, outer = points["front-inner"], points["front-outer"]
    rear_inner, rear_outer = points["rear-inner"], points["rear-outer"]
    yield Stroke((inner, outer, rear_outer, rear_inner, inner), Ink.WALL)
    yield Stroke(
        (_toward(inner, rear_inner, _BAFFLE_SHARE), _toward(outer, rear_outer, _BAFFLE_SHARE)),
        Ink.WALL,
    )
    if cabinet.straightedge_mm is not None:
        yield Stroke(tuple(points[name] for name in STRAIGHTEDGE_POINTS), Ink.TARGET)
    size = _MARK_SHARE * cabinet.depth_mm
    for foot in cabinet.feet.values():
        yield _square(_at(foot), size)
    for point in cabinet.points.values():
        yield from _cross(_at(point), size)


def _labels(cabinet: Cabinet) -> Iterator[Label]:
    yield Label("baffle", (0.0, -2 * _BAFFLE_SHARE * cabinet.depth_mm), Ink.WALL)
    for name, point in cabinet.touch_points.items():
        yield Label(name, _aside(cabinet, point), Ink.SEAT)
    for name, foot in cabinet.feet.items():
        if name not in cabinet.touch_points:  # the same name a second time would only confuse
            yield Label(name, _above(cabinet, foot), Ink.STATION)


def _at(point: TouchPoint) -> PlanPoint:
    return point.inward_mm, -point.back_mm


def _aside(cabinet: Cabinet, point: TouchPoint) -> PlanPoint:
    """Away from the middle line, and before or behind the point, whichever leads out of the box."""
    x, y = _at(point)
    down = _ASIDE_SHARE * cabinet.depth_mm
    return _SPREAD * x, y + (down if y > -cabinet.depth_mm / 2 else -down)


def _above(cabinet: Cabinet, foot: TouchPoint) -> PlanPoint:
    x, y = _at(foot)
    return x, y - 2 * _MARK_SHARE * cabinet.depth_mm


def _toward(start: PlanPoint, end: PlanPoint, share: float) -> PlanPoint:
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _square(at: PlanPoint, size: float) -> Stroke:
    x, y = at
    left, right, top, bottom = x - size, x + size, y - size, y + size
    corners = ((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
    return Stroke(corners, Ink.STATION)


def _cross(at: PlanPoint, size: float) -> Iterator[Stroke]:
    x, y = at
    yield Stroke(((x - size, y), (x + size, y)), Ink.SEAT)
    yield Stroke(((x, y - size), (x, y + size)), Ink.SEAT)
