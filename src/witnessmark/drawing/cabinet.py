"""A cabinet seen from above with its touch points named, as strokes and labels.

The baffle is at the bottom of the page, where the listener is. The left one of a pair has its inner
side on the right: millimetres from the reference point, x inward, y toward the listener. The right
one is its mirror image.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.geometry.touch import Face
from witnessmark.model import STRAIGHTEDGE_POINTS, Cabinet, PlanPoint, Side, TouchPoint
from witnessmark.model.plan import between

_BEYOND = 0.25
"""Part of the depth by which a board reaches past the edges of its face; chosen by eye."""


def tape_drawing(
    cabinet: Cabinet, start: str, name: str, at: TouchPoint, side: Side = Side.LEFT
) -> Drawing:
    """Draw the box, board or point that the tape starts from, the tape, and the named point.

    Args:
        cabinet: its size and known points.
        start: a face, or the name of a known point.
        name: of the point that is looked for.
        at: where that is, or may be.
        side: which of the pair is drawn.
    """
    end = (at.inward_mm, -at.back_mm)
    beginning = _beginning(cabinet, start, end)
    strokes = (
        *outline(cabinet),
        *_board(cabinet, start, end),
        Stroke((beginning, end), Ink.MEASURED),
        *cross(end, 0.03 * cabinet.depth_mm),
    )
    labels = (
        Label(start, _beside_the_box(cabinet, start, beginning), Ink.TARGET),
        Label(name, _clear_of(beginning, end, 0.1 * cabinet.depth_mm), Ink.SEAT),
    )
    return as_seen(Drawing(strokes, labels), side)


def _beginning(cabinet: Cabinet, start: str, end: PlanPoint) -> PlanPoint:
    """Return where the tape begins: square to the face, or at the known point."""
    x, y = end
    half = cabinet.width_mm / 2
    planes = {
        Face.BAFFLE: (x, 0.0),
        Face.REAR: (x, -cabinet.depth_mm),
        Face.INNER: (half, y),
        Face.OUTER: (-half, y),
    }
    if start in planes:
        return planes[Face(start)]
    known = cabinet.body_points[start]
    return known.inward_mm, -known.back_mm


def _board(cabinet: Cabinet, start: str, end: PlanPoint) -> Iterator[Stroke]:
    """The plane of a face, as far as the tape needs it."""
    x, y = _beginning(cabinet, start, end)
    half, beyond = cabinet.width_mm / 2, _BEYOND * cabinet.depth_mm
    if start in (Face.BAFFLE, Face.REAR):
        left, right = min(-half, x) - beyond, max(half, x) + beyond
        yield Stroke(((left, y), (right, y)), Ink.TARGET)
    elif start in (Face.INNER, Face.OUTER):
        top, bottom = min(-cabinet.depth_mm, y) - beyond, max(0.0, y) + beyond
        yield Stroke(((x, top), (x, bottom)), Ink.TARGET)


def _beside_the_box(cabinet: Cabinet, start: str, beginning: PlanPoint) -> PlanPoint:
    half, depth = cabinet.width_mm / 2, cabinet.depth_mm
    places = {
        Face.BAFFLE: (0.0, 0.1 * depth),
        Face.REAR: (0.0, -1.1 * depth),
        Face.INNER: (half, -0.5 * depth),
        Face.OUTER: (-half, -0.5 * depth),
    }
    if start in places:
        return places[Face(start)]
    x, y = beginning
    return x, y + (0.1 * depth if y > -depth / 2 else -0.1 * depth)


def _clear_of(beginning: PlanPoint, end: PlanPoint, by_mm: float) -> PlanPoint:
    """Beyond the end of the tape, seen from its beginning."""
    return end[0], end[1] + (by_mm if end[1] > beginning[1] else -by_mm)


_CROSS_MM = 8.0
_NAME_MM = 11.0
"""Distance of a name from its point toward the middle of the box, mm in plan; chosen by eye."""
_CORNER_MM = (14.0, 5.0)
"""How far the name of a corner is from it, across and along."""


def template_drawing(cabinet: Cabinet, side: Side) -> Drawing:
    """Draw the outline from above, a cross at every foot and point, and the axis of the cabinet.

    The baffle is at the bottom of the page, and its middle, from which everything is counted, has a
    cross of its own.
    """
    middle = TouchPoint(0.0, 0.0)
    named = {"middle of the baffle": middle} | cabinet.points
    named |= {f"{name} foot": foot for name, foot in cabinet.feet.items()}
    strokes = [box(cabinet), *_axis(cabinet)]
    for point in named.values():
        strokes += cross(page_point(point), _CROSS_MM)
    labels = [
        Label(name, _inside_corner(cabinet, point), Ink.SEAT) for name, point in named.items()
    ]
    labels += _corners(cabinet)
    return as_seen(Drawing(tuple(strokes), tuple(labels)), side)


def _axis(cabinet: Cabinet) -> Iterator[Stroke]:
    yield Stroke(((0.0, 0.0), (0.0, -cabinet.depth_mm)), Ink.TARGET_AIM)


def _corners(cabinet: Cabinet) -> Iterator[Label]:
    """The box's own corners by name, inside."""
    for name, point in cabinet.body_points.items():
        if name not in cabinet.points:
            x, y = _inside_corner(cabinet, point, _CORNER_MM[1])
            yield Label(name, (x - math.copysign(_CORNER_MM[0], x), y), Ink.WALL)


def _inside_corner(cabinet: Cabinet, point: TouchPoint, by_mm: float = _NAME_MM) -> PlanPoint:
    """Before or behind a point, whichever is nearer to the middle of the box."""
    x, y = page_point(point)
    return x, y - (by_mm if y > -cabinet.depth_mm / 2 else -by_mm)


_BAFFLE_SHARE = 0.06
"""Part of the depth by which the second line along the baffle is set back."""
_MARK_SHARE = 0.03
"""Part of the depth that a mark reaches to each side."""
_ASIDE_SHARE = 0.1
"""Part of the depth by which a name stands before or behind its point."""
_SPREAD = 1.6
"""How many times as far from the middle line as their points names stand, to keep apart."""


def cabinet_drawing(cabinet: Cabinet, side: Side = Side.LEFT) -> Drawing:
    """Draw the outline, the baffle, and every touch point and foot with its name.

    Feet are small squares, touch points small crosses. The straightedge is a dashed line. A foot
    that is called as the corner that it stands by is marked ``foot``.
    """
    strokes = (*outline(cabinet), *_strokes(cabinet))
    return as_seen(Drawing(strokes, tuple(_labels(cabinet))), side)


def outline(cabinet: Cabinet) -> Iterator[Stroke]:
    """Yield the box, and a second line along its baffle, as the left one of a pair."""
    bottom = box(cabinet)
    yield bottom
    inner, outer, rear_outer, rear_inner, _ = bottom.points
    yield Stroke(
        (between(inner, rear_inner, _BAFFLE_SHARE), between(outer, rear_outer, _BAFFLE_SHARE)),
        Ink.WALL,
    )


def box(cabinet: Cabinet) -> Stroke:
    """Return the four lower corners as a closed line, from front-inner by front-outer."""
    points = cabinet.body_points
    around = ("front-inner", "front-outer", "rear-outer", "rear-inner", "front-inner")
    return Stroke(tuple(page_point(points[name]) for name in around), Ink.WALL)


def as_seen(drawing: Drawing, side: Side) -> Drawing:
    """Return what was drawn of the left one of a pair, for the one on ``side``."""
    if side is Side.LEFT:
        return drawing
    strokes = (Stroke(tuple((-x, y) for x, y in one.points), one.ink) for one in drawing.strokes)
    labels = (Label(one.text, (-one.at[0], one.at[1]), one.ink) for one in drawing.labels)
    return Drawing(tuple(strokes), tuple(labels))


def _strokes(cabinet: Cabinet) -> Iterator[Stroke]:
    if cabinet.straightedge_mm is not None:
        points = {name: page_point(point) for name, point in cabinet.touch_points.items()}
        yield Stroke(tuple(points[name] for name in STRAIGHTEDGE_POINTS), Ink.TARGET)
    size = _MARK_SHARE * cabinet.depth_mm
    for foot in cabinet.feet.values():
        yield _square(page_point(foot), size)
    for point in cabinet.points.values():
        yield from cross(page_point(point), size)


def _labels(cabinet: Cabinet) -> Iterator[Label]:
    yield Label("baffle", (0.0, -2 * _BAFFLE_SHARE * cabinet.depth_mm), Ink.WALL)
    for name, point in cabinet.body_points.items():
        yield Label(name, _aside(cabinet, point), Ink.SEAT)
    for name, foot in cabinet.feet.items():
        # the same name a second time would only confuse
        shown = "foot" if name in cabinet.body_points else name
        yield Label(shown, _inside(cabinet, foot), Ink.STATION)
    if cabinet.straightedge_mm is not None:
        for name in STRAIGHTEDGE_POINTS:
            x, y = page_point(cabinet.touch_points[name])
            yield Label(name, (x, y + 2 * _ASIDE_SHARE * cabinet.depth_mm), Ink.TARGET)


def page_point(point: TouchPoint) -> PlanPoint:
    """Return where a point of the left one of a pair is drawn."""
    return point.inward_mm, -point.back_mm


def _aside(cabinet: Cabinet, point: TouchPoint) -> PlanPoint:
    """Away from the middle line, and before or behind the point, whichever leads out of the box."""
    x, y = page_point(point)
    down = _ASIDE_SHARE * cabinet.depth_mm
    return _SPREAD * x, y + (down if y > -cabinet.depth_mm / 2 else -down)


def _inside(cabinet: Cabinet, foot: TouchPoint) -> PlanPoint:
    """Before or behind a foot, whichever is nearer to the middle of the box."""
    x, y = page_point(foot)
    up = _ASIDE_SHARE * cabinet.depth_mm
    return x, y - (up if y > -cabinet.depth_mm / 2 else -up)


def _square(at: PlanPoint, size: float) -> Stroke:
    x, y = at
    left, right, top, bottom = x - size, x + size, y - size, y + size
    corners = ((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
    return Stroke(corners, Ink.STATION)


def cross(at: PlanPoint, size: float) -> Iterator[Stroke]:
    """Yield the mark of a touch point, ``size`` mm to each side."""
    x, y = at
    yield Stroke(((x - size, y), (x + size, y)), Ink.SEAT)
    yield Stroke(((x, y - size), (x, y + size)), Ink.SEAT)
