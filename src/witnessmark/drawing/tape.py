"""One reading of a tape at a cabinet seen from above: from where it is taken to which point."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.drawing.cabinet import as_seen, cross, outline
from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.geometry.touch import Face
from witnessmark.model import Cabinet, PlanPoint, Side, TouchPoint

_BEYOND = 0.25
"""A board reaches past the edges of its face by this part of the depth."""


def tape_drawing(
    cabinet: Cabinet, start: str, name: str, at: TouchPoint, side: Side = Side.LEFT
) -> Drawing:
    """The box, the board or the point that the tape starts from, the tape, and the point by name.

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
    """Where the tape begins: square to the face, or at the known point."""
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
