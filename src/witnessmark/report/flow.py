"""Blocks flowed onto pages, each with its title, its number and, where scale counts, check bars."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

import msgspec

from witnessmark.drawing.strokes import Align, Box
from witnessmark.report.blocks import Block
from witnessmark.report.letters import cut, lacking_words, printable, refuse_lacking, wrapped
from witnessmark.report.page import (
    SMALL_MM,
    Page,
    PageItem,
    PageText,
    Paper,
    PaperPoint,
    Polyline,
    shifted,
)
from witnessmark.report.pieces import PagePiece, pieces

_MARGIN_MM = 12.0
_TITLE_MM = 4.6
_HEAD_MM = 9.0
"""Distance from the margin to the first block, mm."""
_FOOT_MM = 6.0

BESIDE_MM, BELOW_MM = 13.0, 14.0
"""How much of a page's left and foot the bars take."""
BARS_MM = {"4 in": 101.6, "100 mm": 100.0}
"""How long each bar is, by what stands at its end."""
_FIRST_MM, _APART_MM = 3.0, 8.0
_TICK_MM = 1.4
_BAR_MM = 0.3
_BARS_ADVICE = (
    "Print at full size (100 %), never fitted to the page. Measure a bar across and a bar down: "
    "both must be as long as they say."
)


class SheetFrame(NamedTuple):
    """The paper of a sheet, and whether it bears check bars."""

    paper: Paper
    bars: bool = False

    @property
    def body(self) -> Box:
        """Return the part of the page that blocks may fill."""
        width, height = self.paper.size_mm
        left, bottom = (BESIDE_MM, BELOW_MM) if self.bars else (0.0, 0.0)
        return Box(
            _MARGIN_MM + left,
            _MARGIN_MM + _HEAD_MM,
            width - _MARGIN_MM,
            height - _MARGIN_MM - _FOOT_MM - bottom,
        )

    @property
    def width_mm(self) -> float:
        """Return the width of the blocks."""
        return self.body.right - self.body.left

    @property
    def height_mm(self) -> float:
        """Return the height of the blocks that one page holds."""
        return self.body.bottom - self.body.top


def flow(title: str, blocks: Iterable[Block], frame: SheetFrame) -> tuple[Page, ...]:
    """Lay blocks on pages, one after another.

    A sign that cannot be printed is replaced, and the foot of the page says which that was.

    Raises:
        BadInput: when a sign cannot be printed and the faces of the extra are missing.
    """
    cut_up = [piece for block in blocks for piece in pieces(block, frame.width_mm)]
    texts = [item.text for piece in cut_up for item in piece.items if isinstance(item, PageText)]
    refuse_lacking({sign for text in (title, *texts) for sign in printable(text)[1]})
    columns = list(_columns(cut_up, frame.height_mm))
    return tuple(
        _page(title, column, f"page {number} of {len(columns)}", frame)
        for number, column in enumerate(columns, 1)
    )


def _columns(pieces: Sequence[PagePiece], height_mm: float) -> Iterator[list[PagePiece]]:
    """Return the pieces of each page from top to bottom."""
    column: list[PagePiece] = []
    for together in _together(pieces):
        needed = sum(piece.height_mm for piece in (*column, *together))
        if column and needed > height_mm:
            yield column
            column = [] if together[0].head is None else [together[0].head]
        column += together
    yield column


def _together(pieces: Iterable[PagePiece]) -> Iterator[list[PagePiece]]:
    """Return runs of pieces of which each keeps the next one with it."""
    run: list[PagePiece] = []
    for piece in pieces:
        run.append(piece)
        if not piece.keeps:
            yield run
            run = []
    if run:
        yield run


def _page(title: str, column: Sequence[PagePiece], number: str, frame: SheetFrame) -> Page:
    width, height = frame.paper.size_mm
    body, right = frame.body, width - _MARGIN_MM
    items: list[PageItem] = []
    down = body.top
    for piece in column:
        items += shifted(piece.items, body.left, down)
        down += piece.height_mm
    shown = cut(title, right - _MARGIN_MM, _TITLE_MM, bold=True)
    items.append(PageText(shown, (_MARGIN_MM, _MARGIN_MM + 0.8 * _TITLE_MM), _TITLE_MM, bold=True))
    rule = _MARGIN_MM + 1.3 * _TITLE_MM
    items.append(Polyline(((_MARGIN_MM, rule), (right, rule)), 0.3))
    if frame.bars:
        items += shifted(check_bars(), body.left, body.bottom)
    foot = height - _MARGIN_MM
    items.append(PageText(number, (right, foot), SMALL_MM, align=Align.END))
    return Page(width, height, tuple(_printed(items, (_MARGIN_MM, foot), right - _MARGIN_MM - 25)))


def _printed(items: Iterable[PageItem], note_at: PaperPoint, most_mm: float) -> Iterator[PageItem]:
    """Return the items with signs that can be printed, and a note of those that were replaced."""
    lacking: set[str] = set()
    for item in items:
        if isinstance(item, PageText):
            text, replaced = printable(item.text)
            lacking |= replaced
            yield msgspec.structs.replace(item, text=text)
        else:
            yield item
    if lacking:
        yield PageText(cut(lacking_words(lacking), most_mm, SMALL_MM), note_at, SMALL_MM)


def check_bars() -> Iterator[PageItem]:
    """Draw the bars and say how to print, around a page's lower left corner at (0, 0)."""
    for place, (name, length) in enumerate(BARS_MM.items()):
        off = _FIRST_MM + place * _APART_MM
        yield from _bar((0.0, off), (length, off))
        yield PageText(name, (length + 2.5, off + 0.35 * SMALL_MM), SMALL_MM)
        yield from _bar((-off, 0.0), (-off, -length))
        yield PageText(name, (-off, -length - 2.5), SMALL_MM, align=Align.MIDDLE)
    for row, words in enumerate(wrapped(_BARS_ADVICE, 55.0, SMALL_MM)):
        yield PageText(words, (118.0, _FIRST_MM + 1.0 + 1.3 * SMALL_MM * row), SMALL_MM)


def _bar(start: PaperPoint, end: PaperPoint) -> Iterator[Polyline]:
    """Draw a bar with a tick across each end."""
    yield Polyline((start, end), _BAR_MM)
    across = (_TICK_MM, 0.0) if start[0] == end[0] else (0.0, _TICK_MM)
    for x, y in (start, end):
        yield Polyline(((x - across[0], y - across[1]), (x + across[0], y + across[1])), _BAR_MM)
