"""The figures of a round as lines of text: targets, measured, difference, verdict, symmetry."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from textual.content import Content

from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units
from witnessmark.model import Quantity
from witnessmark.placing.figures import MARKS, FigureRow, FigureTable, tables
from witnessmark.placing.guidance import Guidance

_STYLES = {Verdict.IN: "$text-success", Verdict.OUT: "$text-error", Verdict.UNSURE: "$text-warning"}


class Columns(NamedTuple):
    """How many cells each figure of a row takes."""

    target: int
    measured: int
    width: int
    off: int


_METRIC_COLUMNS, _INCH_COLUMNS = Columns(7, 9, 4, 7), Columns(11, 11, 7, 10)
_NAME, _VERDICT = 10, 8


def columns(units: Units) -> Columns:
    """The columns in which lengths of these units fit."""
    return _METRIC_COLUMNS if units.is_metric else _INCH_COLUMNS


def status_width(units: Units) -> int:
    """How many cells the lines take."""
    return _NAME + sum(columns(units)) + len(" ± ") + _VERDICT


def status_lines(guidance: Guidance, rows: int) -> Content:
    """Both cabinets and their symmetry, ``status_width`` cells wide.

    Tilts are told where they are known and ``rows`` leave room for them.
    """
    lines = list(_lines(guidance, tilts=True))
    if len(lines) > rows:
        lines = list(_lines(guidance, tilts=False))
    return Content("\n").join(lines)


def _lines(guidance: Guidance, *, tilts: bool) -> Iterator[Content]:
    *cabinets, pair = tables(guidance)
    wide = columns(guidance.setup.units)
    for table in cabinets:
        yield _heading(wide, table, is_current=table.name == guidance.side)
        for row in table.rows:
            if tilts or row.name != Quantity.TILT.label:
                yield _row(wide, row, stale=table.stale and row.name != Quantity.TILT.label)
    yield from _symmetry(pair)


def _heading(wide: Columns, table: FigureTable, *, is_current: bool) -> Content:
    marker, style = ("▶", "bold $accent") if is_current else (" ", "bold")
    off = f"{'off':>{wide.width + wide.off + 2}}"
    titles = f"{'target':>{wide.target}}{table.note:>{wide.measured}}{off}"
    sure = (f" {MARKS[Verdict.UNSURE]} {table.sure}" if table.sure else "", "$text-warning")
    name = f"{marker} {table.name.upper():8}"
    return Content.assemble((name, style), (titles, "$text-muted"), sure)


def _row(wide: Columns, row: FigureRow, *, stale: bool) -> Content:
    start = f"  {row.name:8}{row.target:>{wide.target}}{row.measured or '—':>{wide.measured}}"
    if not row.measured:
        return Content(start)
    start += f" ±{row.width.removesuffix('°'):{wide.width}}"
    if row.verdict is None:
        return Content(start)
    words, style = said(row.verdict)
    if row.sure:
        words = f"{MARKS[row.verdict]} {row.sure}"
    shown = (words, "$text-muted" if stale else style)
    return Content.assemble(start, f"{row.off:>{wide.off}} ", shown)


def _symmetry(table: FigureTable) -> Iterator[Content]:
    title = ("  SYMMETRY ", "bold")
    if table.verdict is None:
        yield Content.assemble(title, (table.note, "$text-muted"))
        return
    yield Content.assemble(title, (f"{table.note}  ", "$text-muted"), said(table.verdict))
    figures = [_difference(row) for row in table.rows]
    for place in range(0, len(figures), 2):
        yield _beside(*figures[place : place + 2])


def _difference(row: FigureRow) -> Content:
    assert row.verdict is not None  # noqa: S101 - each row of the pair has one
    words = f"{row.name:8}{row.off} ±{row.width} "
    return Content.assemble(words, (MARKS[row.verdict], _STYLES[row.verdict]))


def _beside(one: Content, *other: Content) -> Content:
    gap = " " * max(1, 23 - one.cell_length)
    return Content.assemble("  ", one, *(part for more in other for part in (gap, more)))


def said(verdict: Verdict) -> tuple[str, str]:
    """A verdict as its sign and word, and the style it is shown in."""
    return f"{MARKS[verdict]} {verdict}", _STYLES[verdict]
