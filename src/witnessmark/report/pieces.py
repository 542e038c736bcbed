"""Blocks cut into pieces that stand on a page: texts and lines in mm, ready to be flowed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest
from typing import NamedTuple

from witnessmark.report.blocks import (
    Block,
    Figure,
    GradeCharts,
    Heading,
    LevelCurves,
    LevelPicture,
    LineKey,
    Paragraph,
    SideBySide,
    Space,
    Table,
    TiledPart,
    shared,
)
from witnessmark.report.figure import ABOVE_MM, figure, line, part
from witnessmark.report.letters import width_mm as text_mm
from witnessmark.report.letters import wrapped
from witnessmark.report.levels import CURVES_MM, LEVEL_SIGNS, curve_items, picture_rows
from witnessmark.report.page import LETTERS_MM, THIN_MM, PageItem, PageText, Polyline, shifted

LEADING = 1.4
"""Distance from one line of letters to the next, as a multiple of their size."""
_LINE_MM = LEADING * LETTERS_MM
_HEADING_MM = 3.8
_GAP_MM = 4.0
"""Gap between two columns of a table, and between two keys of lines, mm."""
_HAIR_MM = 0.01
"""Added to the width of a column, mm, so that rounding does not break a text as wide as it."""
_SAMPLE_MM = 11.0
"""Length of the sample of a line, mm."""
_BESIDE_MM = 8.0
"""Gap between two columns of blocks, mm."""
BELOW_FIGURE_MM = _LINE_MM / 2
"""How much a figure takes up below itself."""
_HELD_TOGETHER = 4
"""Lines of a row up to which the end of a page does not break it."""


class PagePiece(NamedTuple):
    """What stands together, mm from its own upper left corner.

    ``keeps`` says that the next piece stands on the same page; ``head`` is what stands above the
    piece where it is the first of a page.
    """

    height_mm: float
    items: tuple[PageItem, ...] = ()
    keeps: bool = False
    head: PagePiece | None = None


def pieces(block: Block, width_mm: float) -> Iterator[PagePiece]:
    """Cut a block into pieces from top to bottom, each as wide as given, in mm."""
    match block:
        case Heading():
            yield from _heading(block, width_mm)
        case Paragraph():
            yield from _paragraph(block, width_mm)
        case Space():
            yield PagePiece(_LINE_MM / 2)
        case Table():
            yield from _table(block, width_mm)
        case Figure():
            yield _figure(block, width_mm)
        case TiledPart():
            yield PagePiece(ABOVE_MM + block.tiling.height_mm, tuple(part(block, width_mm)))
        case LineKey():
            yield from _line_key(block, width_mm)
        case GradeCharts() | LevelPicture() | LevelCurves():
            yield from _drawn(block, width_mm)
        case SideBySide():
            wide = column_mm(width_mm, len(block.columns))
            cut = [
                [piece for one in column for piece in pieces(one, wide)] for column in block.columns
            ]
            yield from _beside(cut, width_mm)


def _heading(block: Heading, width_mm: float) -> Iterator[PagePiece]:
    """Its lines, with some room above."""
    yield PagePiece(_GAP_MM / 2, keeps=True)
    for words in wrapped(f"{block.text}{block.rest}", width_mm, _HEADING_MM, bold=True):
        at = (0.0, _HEADING_MM)
        yield PagePiece(LEADING * _HEADING_MM, (PageText(words, at, _HEADING_MM, bold=True),), True)


def _paragraph(block: Paragraph, width_mm: float) -> Iterator[PagePiece]:
    """Its lines, with a little room below."""
    lines = wrapped(f"{block.lead} {block.text}", width_mm)
    for row, words in enumerate(lines, 1):
        height = _LINE_MM + (_LINE_MM / 4 if row == len(lines) else 0.0)
        yield PagePiece(height, (PageText(words, (0.0, LETTERS_MM)),), row < len(lines) < 4)


def _table(block: Table, width_mm: float) -> Iterator[PagePiece]:
    """The heads, then each row by its lines, with a thin line below."""
    widths = _widths(block, width_mm)
    head = _stacked(_row(block.heads, widths, bold=True, closed_mm=0.3))
    yield head._replace(keeps=True)
    for row in block.rows:
        for piece in _row(row, widths, bold=False, closed_mm=THIN_MM):
            yield piece._replace(head=head)
    yield PagePiece(_LINE_MM / 2)


def _widths(block: Table, width_mm: float) -> list[float]:
    """Return the width of each column, as it needs; where that is too much the widest share."""
    needed = [
        max(text_mm(cell, bold=place == 0) for place, cell in enumerate(column))
        + _GAP_MM
        + _HAIR_MM
        for column in zip(block.heads, *block.rows, strict=True)
    ]
    return shared(needed, width_mm)


def _figure(block: Figure, width_mm: float) -> PagePiece:
    width, height = block.size_mm
    items = figure(block.drawing, block.window, block.scale)
    return PagePiece(height + BELOW_FIGURE_MM, tuple(shifted(items, (width_mm - width) / 2, 0.0)))


def _line_key(block: LineKey, width_mm: float) -> Iterator[PagePiece]:
    """As many in a row as there is room for."""
    items: list[PageItem] = []
    x = 0.0
    for ink, words in block.inks.items():
        wide = _SAMPLE_MM + 1.5 + text_mm(words)
        if x and x + wide > width_mm:
            yield PagePiece(_LINE_MM, tuple(items))
            items, x = [], 0.0
        middle = LETTERS_MM * 0.65
        items.append(line(((x, middle), (x + _SAMPLE_MM, middle)), ink))
        items.append(PageText(words, (x + _SAMPLE_MM + 1.5, LETTERS_MM)))
        x += wide + _GAP_MM
    yield PagePiece(_LINE_MM * 1.25, tuple(items))


def _drawn(block: GradeCharts | LevelPicture | LevelCurves, width_mm: float) -> Iterator[PagePiece]:
    """Cut what is drawn over axes into pieces."""
    if isinstance(block, GradeCharts):
        yield from _grade_charts(block, width_mm)
        return
    if isinstance(block, LevelCurves):
        yield PagePiece(CURVES_MM, tuple(curve_items(block, width_mm)))
        return
    for high, items, keeps in picture_rows(block, width_mm):
        yield PagePiece(high, items, keeps)
    yield from _paragraph(Paragraph(LEVEL_SIGNS), width_mm)


def _grade_charts(block: GradeCharts, width_mm: float) -> Iterator[PagePiece]:
    """The charts, and below them what their signs mean."""
    # numpy, which no other block needs
    from witnessmark.report.grades import CHART_MM, CHART_SIGNS, chart_items  # noqa: PLC0415

    wide = column_mm(width_mm, len(block.charts))
    drawn = [
        [PagePiece(CHART_MM, tuple(chart_items(chart, block.numbers, wide)))]
        for chart in block.charts
    ]
    yield from _beside(drawn, width_mm)
    yield from _paragraph(Paragraph(CHART_SIGNS), width_mm)


def _beside(columns: Sequence[Sequence[PagePiece]], width_mm: float) -> Iterator[PagePiece]:
    """Join the first pieces of all columns, then the second ones, and so on."""
    wide = column_mm(width_mm, len(columns))
    for row in zip_longest(*columns, fillvalue=PagePiece(0.0)):
        heads = [piece.head or PagePiece(0.0) for piece in row]
        head = _level(heads, wide) if any(piece.head for piece in row) else None
        yield _level(row, wide)._replace(keeps=any(piece.keeps for piece in row), head=head)


def column_mm(width_mm: float, count: int) -> float:
    """Return the width of each of ``count`` columns, mm."""
    return (width_mm - (count - 1) * _BESIDE_MM) / count


def height_mm(blocks: Sequence[Block], width: float) -> float:
    """Return the height of blocks that stand one below another, mm."""
    return sum(piece.height_mm for block in blocks for piece in pieces(block, width))


def _row(
    cells: Sequence[str], widths: Sequence[float], *, bold: bool, closed_mm: float
) -> Iterator[PagePiece]:
    """Return a row by its lines, the last with a line of a width below."""
    columns = [
        wrapped(cell, width - _GAP_MM, bold=bold) for cell, width in zip(cells, widths, strict=True)
    ]
    count = max(map(len, columns))
    for row in range(count):
        items: list[PageItem] = []
        x = 0.0
        for lines, width in zip(columns, widths, strict=True):
            if row < len(lines):
                items.append(PageText(lines[row], (x, LETTERS_MM), bold=bold))
            x += width
        last = row == count - 1
        if last:
            below = _LINE_MM + 0.2
            items.append(Polyline(((0.0, below), (x - _GAP_MM, below)), closed_mm))
        yield PagePiece(
            _LINE_MM + (1.0 if last else 0.0), tuple(items), count <= _HELD_TOGETHER and not last
        )


def _level(pieces: Iterable[PagePiece], wide_mm: float) -> PagePiece:
    """Join pieces side by side."""
    items: list[PageItem] = []
    height = 0.0
    for place, piece in enumerate(pieces):
        items += shifted(piece.items, place * (wide_mm + _BESIDE_MM), 0.0)
        height = max(height, piece.height_mm)
    return PagePiece(height, tuple(items))


def _stacked(pieces: Iterable[PagePiece]) -> PagePiece:
    """Join pieces, one below another."""
    items: list[PageItem] = []
    down = 0.0
    for piece in pieces:
        items += shifted(piece.items, 0.0, down)
        down += piece.height_mm
    return PagePiece(down, tuple(items))
