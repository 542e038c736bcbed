"""Bars of a known length, across and down the page, which show whether it was printed true."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.sheet.letters import wrapped
from witnessmark.sheet.page import SMALL_MM, Align, Item, Line, PaperPoint, Text

BESIDE_MM, BELOW_MM = 13.0, 14.0
"""How much of a page's left and foot the bars take."""
BARS_MM = {"4 in": 101.6, "100 mm": 100.0}
"""How long each bar is, by what stands at its end."""
_FIRST_MM, _APART_MM = 3.0, 8.0
_TICK_MM = 1.4
_BAR_MM = 0.3
_ADVICE = (
    "Print at full size (100 %), never fitted to the page. Measure a bar across and a bar down: "
    "both must be as long as they say."
)


def check_bars() -> Iterator[Item]:
    """The bars and how to print, beside and below a page's lower left corner at (0, 0)."""
    for place, (name, length) in enumerate(BARS_MM.items()):
        off = _FIRST_MM + place * _APART_MM
        yield from _bar((0.0, off), (length, off))
        yield Text(name, (length + 2.5, off + 0.35 * SMALL_MM), SMALL_MM)
        yield from _bar((-off, 0.0), (-off, -length))
        yield Text(name, (-off, -length - 2.5), SMALL_MM, align=Align.MIDDLE)
    for row, words in enumerate(wrapped(_ADVICE, 55.0, SMALL_MM)):
        yield Text(words, (118.0, _FIRST_MM + 1.0 + 1.3 * SMALL_MM * row), SMALL_MM)


def _bar(start: PaperPoint, end: PaperPoint) -> Iterator[Line]:
    """A bar with a tick across each end."""
    yield Line((start, end), _BAR_MM)
    across = (_TICK_MM, 0.0) if start[0] == end[0] else (0.0, _TICK_MM)
    for x, y in (start, end):
        yield Line(((x - across[0], y - across[1]), (x + across[0], y + across[1])), _BAR_MM)
