"""A round as lines of text: sentences that fit, and the figures with their verdicts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from operator import itemgetter
from textwrap import wrap
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


_METRIC_COLUMNS, _INCH_COLUMNS = Columns(7, 9, 4, 8), Columns(12, 13, 8, 14)
_NAME, _VERDICT = 10, 8


def columns(units: Units) -> Columns:
    """The columns in which lengths of these units fit."""
    return _METRIC_COLUMNS if units.is_metric else _INCH_COLUMNS


def status_width(units: Units) -> int:
    """Return how many cells the lines take."""
    return _NAME + sum(columns(units)) + len(" ± ") + _VERDICT


class StatusLine(NamedTuple):
    """A line, and how soon it is shown where there is no room for all: the lower, the sooner."""

    rank: int
    content: Content


_HEADING, _UNSURE_PAIR, _OUT_PAIR, _UNDECIDED, _IN_HAND, _IN_PAIR, _OTHER = range(7)
"""Ranks: what decides whether left and right match before what is decided."""
_PAIR_RANKS = {
    Verdict.UNSURE: _UNSURE_PAIR,
    Verdict.OUT: _OUT_PAIR,
    Verdict.IN: _IN_PAIR,
}


def status_lines(guidance: Guidance, rows: int) -> Content:
    """Both cabinets and their symmetry, ``status_width`` cells wide, in at most ``rows`` rows.

    What is left out where they are too few is decided, or not yet measured.
    """
    lines = list(_lines(guidance))
    ranked = sorted(range(len(lines)), key=lambda place: (lines[place].rank, place))
    return Content("\n").join(lines[place].content for place in sorted(ranked[:rows]))


def _lines(guidance: Guidance) -> Iterator[StatusLine]:
    *cabinets, pair = tables(guidance)
    units = guidance.setup.units
    wide = columns(units)
    for table in cabinets:
        is_current = table.name == guidance.side
        yield StatusLine(_HEADING, _heading(wide, table, is_current=is_current))
        for row in table.rows:
            is_open = row.verdict in (Verdict.UNSURE, Verdict.OUT) and not table.stale
            rank = _UNDECIDED if is_open else _IN_HAND if is_current else _OTHER
            stale = table.stale and row.name != Quantity.TILT.label
            yield StatusLine(rank, _row(wide, row, stale=stale))
    yield from _symmetry(pair, status_width(units) // 2)


def _heading(wide: Columns, table: FigureTable, *, is_current: bool) -> Content:
    marker, style = ("▶", "bold $accent") if is_current else (" ", "bold")
    off = f"{'off':>{wide.width + wide.off + 2}}"
    titles = f"{'target':>{wide.target}}{table.note:>{wide.measured}}{off}"
    verdict: tuple[str, str] = ("", "")
    if table.verdict is not None and not table.stale:
        words, verdict_style = said(table.verdict)
        words = f"{MARKS[table.verdict]} {table.sure}" if table.sure else words
        verdict = (f" {words}", verdict_style)
    name = (f"{marker} {table.name.upper():8}", style)
    return Content.assemble(name, (titles, "$text-muted"), verdict)


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


def _symmetry(table: FigureTable, half: int) -> Iterator[StatusLine]:
    """The pair, two quantities a line, those first that are not decided yet."""
    title = ("  SYMMETRY ", "bold")
    if table.verdict is None:
        yield StatusLine(_HEADING, Content.assemble(title, (table.note, "$text-muted")))
        return
    heading = Content.assemble(title, (f"{table.note}  ", "$text-muted"), said(table.verdict))
    yield StatusLine(_HEADING, heading)
    ranked = [(_PAIR_RANKS[row.verdict], row) for row in table.rows if row.verdict is not None]
    ranked.sort(key=itemgetter(0))
    for place in range(0, len(ranked), 2):
        (rank, first), *others = ranked[place : place + 2]
        contents = [_difference(first), *(_difference(row) for _, row in others)]
        yield StatusLine(rank, _beside(contents, half))


def _difference(row: FigureRow) -> Content:
    assert row.verdict is not None  # noqa: S101 - left out by the only caller
    words = f"{row.name:8}{row.off} ±{row.width} "
    return Content.assemble(words, (MARKS[row.verdict], _STYLES[row.verdict]))


def _beside(contents: list[Content], half: int) -> Content:
    first, *others = contents
    gap = " " * max(1, half - len("  ") - first.cell_length)
    return Content.assemble("  ", first, *(part for one in others for part in (gap, one)))


def said(verdict: Verdict) -> tuple[str, str]:
    """A verdict as its sign and word, and the style it is shown in."""
    return f"{MARKS[verdict]} {verdict}", _STYLES[verdict]


def fitting(sentences: Iterable[str], columns: int, rows: int) -> list[str]:
    """Return lines with the first of the sentences, as many as fit whole; none is cut.

    Each begins a line of its own, but where they would not fit so they follow one another.
    """
    texts = list(sentences)
    apart = [line for text in texts for line in wrap(text, columns, break_on_hyphens=False)]
    if len(apart) <= rows:
        return apart
    lines: list[str] = []
    told = ""
    for text in texts:
        more = wrap(f"{told} {text}".lstrip(), columns, break_on_hyphens=False)
        if len(more) > rows:
            break
        told, lines = f"{told} {text}".lstrip(), more
    return lines
