"""A drawing on paper at a scale: its strokes cut off at a window, its labels kept apart."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import pairwise

import msgspec

from witnessmark.drawing.strokes import Box, Drawing, Ink, Label, Stroke, clipped
from witnessmark.report.blocks import TiledPart
from witnessmark.report.letters import extent, wrapped
from witnessmark.report.page import (
    LETTERS_MM,
    SMALL_MM,
    THIN_MM,
    PageItem,
    PageText,
    PaperPoint,
    Polyline,
    shifted,
)
from witnessmark.report.tiling import cross_marks, outline

_WIDTHS_MM = {
    Ink.WALL: 0.5,
    Ink.DATUM: 0.5,
    Ink.LANE: 0.4,
    Ink.SEAT: 0.3,
    Ink.TARGET: 0.35,
    Ink.TARGET_BAFFLE: 0.35,
    Ink.MEASURED: 0.35,
}
"""Widths of lines, mm, by which lines of one pattern differ; what is not named here is thin."""
_BASELINE_SHARE = 0.35
"""Distance of the baseline below the middle of letters, as a part of their size."""
_FARTHEST_MM = 14.0
_CLEAR_MM = 0.8
"""Gap between two texts side by side, mm, so that they do not read as one."""

ABOVE_MM = 15.0
"""Height of a page above the part of a drawing that it shows, mm."""
_KEY_MM = (30.0, 11.0)
_CROSS_MM = 5.0
_NAME_MM = 3.5
"""Distance of a cross's name from its middle, mm to the right and down."""


def figure(drawing: Drawing, window: Box, scale: float) -> Iterator[PageItem]:
    """Draw what lies in a window of a drawing, its upper left corner at (0, 0) on paper.

    Args:
        drawing: what is drawn.
        window: the part of the plan that is shown.
        scale: how many millimetres of plan one of paper is.
    """

    def on_paper(point: PaperPoint) -> PaperPoint:
        return (point[0] - window.left) / scale, (point[1] - window.top) / scale

    for stroke in drawing.strokes:
        for points in _seen(stroke, window):
            yield line(tuple(map(on_paper, points)), stroke.ink)
    shown = [label for label in drawing.labels if _holds(window, label.at)]
    paper = Box(0.0, 0.0, *on_paper((window.right, window.bottom)))
    yield from apart((_text(label, on_paper(label.at)) for label in shown), paper)


def line(points: tuple[PaperPoint, ...], ink: Ink) -> Polyline:
    """Return a line as it is drawn in an ink."""
    return Polyline(points, _WIDTHS_MM.get(ink, THIN_MM), ink.pattern)


def _seen(stroke: Stroke, window: Box) -> Iterator[tuple[PaperPoint, ...]]:
    if all(_holds(window, point) for point in stroke.points):
        yield stroke.points
        return
    for start, end in pairwise(stroke.points):
        part = clipped(start, end, window)
        if part is not None:
            yield part


def _holds(box: Box, point: PaperPoint) -> bool:
    return box.left <= point[0] <= box.right and box.top <= point[1] <= box.bottom


def _text(label: Label, at: PaperPoint) -> PageText:
    x, y = at
    foot = (x, y + _BASELINE_SHARE * SMALL_MM)
    return PageText(label.text.strip(), foot, SMALL_MM, align=label.align, patch=True)


def part(one: TiledPart, width_mm: float) -> Iterator[PageItem]:
    """Draw one page of several that are laid together: what it shows, and where it lies."""
    tile = one.tile
    words = f"{one.name}: {tile.name}, column {tile.column + 1} from the left, row {tile.row + 1}"
    beside = width_mm - _KEY_MM[0] - 4.0
    lines = wrapped(f"{words}. Lay crosses with the same name on each other.", beside)
    for row, text in enumerate(lines[:3]):
        yield PageText(text, (0.0, LETTERS_MM * (1 + 1.4 * row)))
    yield from shifted(_key(one), width_mm - _KEY_MM[0], 0.0)
    yield from shifted(_part_shown(one), 0.0, ABOVE_MM)


def _part_shown(one: TiledPart) -> Iterator[PageItem]:
    """Draw the part of the page, its crosses and its edge."""
    tiling, window = one.tiling, one.tile.window
    names = (
        Label(name, (x + _NAME_MM * tiling.scale, y + _NAME_MM * tiling.scale), Ink.GUESSED)
        for name, (x, y) in tiling.crosses.items()
    )
    drawing = Drawing(
        (*one.drawing.strokes, *cross_marks(tiling, _CROSS_MM), outline(window)),
        (*names, *one.drawing.labels),
    )
    yield from figure(drawing, window, tiling.scale)


def _key(one: TiledPart) -> Iterator[PageItem]:
    """Draw all pages as they lie, this one with a cross through it."""
    tiling = one.tiling
    side = min(_KEY_MM[0] / tiling.columns, _KEY_MM[1] / tiling.rows)
    for tile in tiling.tiles:
        left, top = tile.column * side, tile.row * side
        right, bottom = left + side, top + side
        yield Polyline(((left, top), (right, top), (right, bottom), (left, bottom), (left, top)))
        if tile == one.tile:
            yield Polyline(((left, top), (right, bottom)), 0.35)
            yield Polyline(((left, bottom), (right, top)), 0.35)


def apart(texts: Iterable[PageText], paper: Box) -> Iterator[PageText]:
    """Move texts into the paper and apart, each as near to its place as those before it allow.

    One for which there is no room stays where it is wanted.
    """
    taken: list[Box] = []
    for wanted in texts:
        box = extent(wanted)
        inside = _inward(box, paper)
        tried = (_sum(inside, step) for step in _steps())
        into = (_sum(step, _inward(_moved(box, step), paper)) for step in tried)
        step = next((step for step in into if not _touches(_moved(box, step), taken)), inside)
        taken.append(_moved(box, step))
        yield msgspec.structs.replace(wanted, at=_sum(wanted.at, step))


def _inward(box: Box, paper: Box) -> PaperPoint:
    """Return the step that brings a box onto the paper."""
    return (
        max(paper.left - box.left, 0.0) + min(paper.right - box.right, 0.0),
        max(paper.top - box.top, 0.0) + min(paper.bottom - box.bottom, 0.0),
    )


def _sum(one: PaperPoint, other: PaperPoint) -> PaperPoint:
    return one[0] + other[0], one[1] + other[1]


def _moved(box: Box, step: PaperPoint) -> Box:
    x, y = step
    return Box(box.left + x, box.top + y, box.right + x, box.bottom + y)


def _touches(box: Box, others: Sequence[Box]) -> bool:
    return any(
        box.left < other.right + _CLEAR_MM
        and other.left < box.right + _CLEAR_MM
        and box.top < other.bottom
        and other.top < box.bottom
        for other in others
    )


@lru_cache
def _steps() -> list[PaperPoint]:
    """Return steps from a place to others around it, the nearest first."""
    grid = range(-int(_FARTHEST_MM), int(_FARTHEST_MM) + 1)
    steps = [(float(right), float(down)) for right in grid for down in grid]
    return sorted(steps, key=lambda step: (math.hypot(*step), step))
