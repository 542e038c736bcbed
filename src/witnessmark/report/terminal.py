"""Documents as lines of text, for a terminal of 80 columns. Pictures are for paper."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest
from textwrap import wrap

from witnessmark.drawing.levels import curves, picture
from witnessmark.file_errors import printable
from witnessmark.report.blocks import (
    Block,
    GradeCharts,
    Heading,
    LevelCurves,
    LevelPicture,
    Paragraph,
    SideBySide,
    Space,
    Table,
    shared,
)

WIDTH = 80
_INDENT, _GAP = 2, 2
"""Columns before a table that nobody laid out, and between two columns of it."""


def text_lines(blocks: Iterable[Block], width: int = WIDTH) -> Iterator[str]:
    """Return the lines of blocks, an empty one before each heading but the first."""
    is_first = True
    for block in blocks:
        if isinstance(block, Heading) and not is_first:
            yield ""
        is_first = False
        yield from _lines(block, width)


def _lines(block: Block, width: int) -> Iterator[str]:
    match block:
        case Heading():
            text = block.text if block.minor else block.text.upper()
            yield from wrap(_plain(f"{text}{block.rest}"), width, subsequent_indent="    ")
        case Paragraph():
            yield from _paragraph(block, width)
        case Space():
            yield ""
        case Table():
            yield from _laid_out(block) if block.line else _table(block, width)
        case GradeCharts():
            from witnessmark.listening.chart import chart_text  # noqa: PLC0415 - numpy

            for chart in block.charts:
                yield from chart_text(chart).split("\n")
        case LevelPicture():
            yield from picture(block.labels, block.frequencies_hz, block.levels_db, width)
        case LevelCurves():
            yield from curves(block.frequencies_hz, block.one_db, block.other_db, width)
        case SideBySide():
            yield from text_lines((one for column in block.columns for one in column), width)


def _paragraph(block: Paragraph, width: int) -> list[str]:
    first = f"{'':{block.indent}}{block.lead}"
    return wrap(
        _plain(block.text),
        width,
        initial_indent=first,
        subsequent_indent=" " * block.hang,
        break_on_hyphens=False,
    )


def _laid_out(table: Table) -> Iterator[str]:
    """Write a table that says how a row is laid out."""
    heads = [head.split("\n") for head in table.heads]
    for row in (*zip_longest(*heads, fillvalue=""), *table.rows):
        if any(row):
            yield table.line.format(*row).rstrip()


def _table(table: Table, width: int) -> Iterator[str]:
    """Write a table, each column as wide as it needs and there is room for."""
    rows = [[_plain(cell) for cell in row] for row in (table.heads, *table.rows)]
    needed = [float(max(map(len, column)) + _GAP) for column in zip(*rows, strict=True)]
    widths = [max(int(wide), _GAP + 1) for wide in shared(needed, width - _INDENT)]
    for row in rows:
        yield from _row(row, widths)


def _row(cells: Sequence[str], widths: Sequence[int]) -> Iterator[str]:
    columns = [wrap(cell, wide - _GAP) for cell, wide in zip(cells, widths, strict=True)]
    for parts in zip_longest(*columns, fillvalue=""):
        line = "".join(f"{part:{wide}}" for part, wide in zip(parts, widths, strict=True))
        yield f"{'':{_INDENT}}{line}".rstrip()


def _plain(text: str) -> str:
    """Return the text with nothing in it that upsets a terminal."""
    return printable(text, longest=len(text) + 1)
