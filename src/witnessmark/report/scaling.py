"""A drawing at a scale: on one page at the largest that fits, or on as many as a scale takes."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from witnessmark.drawing.strokes import Box, Drawing
from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.report.blocks import Block, Figure, Paragraph, TiledPart
from witnessmark.report.figure import ABOVE_MM
from witnessmark.report.flow import SheetFrame
from witnessmark.report.pieces import BELOW_FIGURE_MM, height_mm
from witnessmark.report.tiling import Tiling, overview

_SCALES = (1, 2, 5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 300, 500, 1000)
_AROUND_MM = 3.0
"""Width of paper left bare around a drawing, mm, for labels at its edge."""
_HOW_TO_LAY = Paragraph(
    "It takes several pages. Lay them so that crosses with the same name lie on each other, and "
    "tape them down. The drawing below shows where each page goes."
)


def parse_scale(text: str) -> float:
    """Read how many millimetres one of paper is, from ``1:20`` or ``20``.

    Raises:
        BadInput: when that is not a scale.
    """
    match = re.fullmatch(r"(?:1\s*:\s*)?([0-9]{1,4}(?:\.[0-9]{1,3})?)", text.strip())
    if match is None or float(match[1]) < 1:
        shown = printable(text, 40)
        raise BadInput(f'scale: "{shown}" is not one; write 1:20, or 1:1 for full size')
    return float(match[1])


def to_scale(
    name: str,
    drawing: Drawing,
    scale: float | None,
    frame: SheetFrame,
    beside: Sequence[Block] = (),
) -> Iterator[Block]:
    """Draw at a scale, on one page or cut into several that overlap.

    Args:
        name: what it is called on further pages.
        drawing: what is drawn.
        scale: how many millimetres one of paper is; None for the largest that fits on one page.
        frame: the paper.
        beside: what else stands on the page that it begins on, above it.

    Raises:
        BadInput: when the scale would take too many pages.
    """
    above = (*beside, _scale_line(_SCALES[-1]))
    free = _free_mm(frame, above)
    chosen = _largest_fitting(drawing.box, frame.width_mm, free) if scale is None else scale
    window = _with_room(drawing.box, chosen)
    yield from (*beside, _scale_line(chosen))
    if _is_within(window, chosen, frame.width_mm, free):
        yield Figure(drawing, window, chosen)
        return
    # a hair less than the page, which no rounding carries past its end
    tiling = Tiling(window, chosen, frame.width_mm, frame.height_mm - ABOVE_MM - 0.01)
    yield _HOW_TO_LAY
    yield fitted(overview(drawing, tiling), frame.width_mm, _free_mm(frame, (*above, _HOW_TO_LAY)))
    yield from (TiledPart(name, drawing, tiling, tile) for tile in tiling.tiles)


def fitted(drawing: Drawing, width_mm: float, height_mm: float, part: Box | None = None) -> Figure:
    """Draw a part, or all, as large as fits on that much paper, at any scale."""
    box = part or drawing.box
    across = (box.right - box.left) / (width_mm - 2 * _AROUND_MM)
    down = (box.bottom - box.top) / (height_mm - 2 * _AROUND_MM)
    scale = max(across, down)
    return Figure(drawing, _with_room(box, scale), scale)


def _largest_fitting(box: Box, width_mm: float, height_mm: float) -> float:
    """Return the largest round scale at which a box fits on this paper; the smallest if none."""
    fits = (
        float(scale)
        for scale in _SCALES
        if _is_within(_with_room(box, scale), scale, width_mm, height_mm)
    )
    return next(fits, float(_SCALES[-1]))


def _free_mm(frame: SheetFrame, above: Sequence[Block]) -> float:
    return frame.height_mm - height_mm(above, frame.width_mm) - BELOW_FIGURE_MM


def _with_room(box: Box, scale: float) -> Box:
    """Return a box with some paper around it."""
    around = _AROUND_MM * scale
    return Box(box.left - around, box.top - around, box.right + around, box.bottom + around)


def _is_within(box: Box, scale: float, width_mm: float, height_mm: float) -> bool:
    # the thousandth keeps what fits exactly
    across, down = (box.right - box.left) / scale, (box.bottom - box.top) / scale
    return across <= width_mm + 1e-3 and down <= height_mm + 1e-3


def _scale_line(scale: float) -> Paragraph:
    if scale == 1:
        return Paragraph("Full size (1:1).")
    return Paragraph(f"Scale 1:{scale:g}: the room is {scale:g} times as large as on paper.")
