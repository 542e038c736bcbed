"""What a cabinet covers of the floor, with its feet, to be laid there at full size."""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.drawing.cabinet import as_seen, box, cross, page_point
from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.model import Cabinet, PlanPoint, Side, TouchPoint

_CROSS_MM = 8.0
_NAME_MM = 11.0
"""How far a name is from its point, toward the middle of the box."""
_CORNER_MM = (14.0, 5.0)
"""How far the name of a corner is from it, across and along."""


def template_drawing(cabinet: Cabinet, side: Side) -> Drawing:
    """The outline seen from above, a cross at every foot and point, and the line of its axis.

    The baffle is at the bottom of the page, and its middle, from which everything is counted, has a
    cross of its own.
    """
    middle = TouchPoint(0.0, 0.0)
    named = {"middle of the baffle": middle} | cabinet.points
    named |= {f"{name} foot": foot for name, foot in cabinet.feet.items()}
    strokes = [box(cabinet), *_axis(cabinet)]
    for point in named.values():
        strokes += cross(page_point(point), _CROSS_MM)
    labels = [Label(name, _inside(cabinet, point), Ink.SEAT) for name, point in named.items()]
    labels += _corners(cabinet)
    return as_seen(Drawing(tuple(strokes), tuple(labels)), side)


def _axis(cabinet: Cabinet) -> Iterator[Stroke]:
    yield Stroke(((0.0, 0.0), (0.0, -cabinet.depth_mm)), Ink.TARGET_AIM)


def _corners(cabinet: Cabinet) -> Iterator[Label]:
    """The box's own corners by name, inside."""
    for name, point in cabinet.body_points.items():
        if name not in cabinet.points:
            x, y = _inside(cabinet, point, _CORNER_MM[1])
            yield Label(name, (x - math.copysign(_CORNER_MM[0], x), y), Ink.WALL)


def _inside(cabinet: Cabinet, point: TouchPoint, by_mm: float = _NAME_MM) -> PlanPoint:
    """Before or behind a point, whichever is nearer to the middle of the box."""
    x, y = page_point(point)
    return x, y - (by_mm if y > -cabinet.depth_mm / 2 else -by_mm)
