"""A printed page, in millimetres of paper: texts and lines, for any renderer.

The origin is the page's upper left corner, x to the right, y down, as in plan.
"""

from __future__ import annotations

import enum
from collections.abc import Iterable, Iterator

import msgspec

from witnessmark.drawing.strokes import Align, LinePattern

PaperPoint = tuple[float, float]
"""(x, y) on a page, mm."""

LETTERS_MM = 3.1
"""Height of letters, mm, from one line's foot to the next where lines are set close."""
SMALL_MM = 2.5
THIN_MM = 0.18


class Paper(enum.StrEnum):
    """The sizes of paper."""

    A4 = "A4"
    LETTER = "letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Return width and height: ISO 216, and 8 1/2 by 11 in."""
        return {Paper.A4: (210.0, 297.0), Paper.LETTER: (215.9, 279.4)}[self]


class PageText(msgspec.Struct, frozen=True):
    """One line of letters; ``at`` is on the line that they stand on.

    With ``patch`` a strip of bare paper lies under it, so that no line runs through the letters.
    """

    text: str
    at: PaperPoint
    size_mm: float = LETTERS_MM
    bold: bool = False
    align: Align = Align.START
    patch: bool = False


class Polyline(msgspec.Struct, frozen=True):
    """A polyline."""

    points: tuple[PaperPoint, ...]
    width_mm: float = THIN_MM
    pattern: LinePattern = LinePattern.SOLID

    @property
    def dashes_mm(self) -> tuple[float, ...]:
        """Return strokes and gaps in turn; nothing where it is solid."""
        return tuple(self.width_mm * part for part in self.pattern.dashes)


PageItem = PageText | Polyline


class Page(msgspec.Struct, frozen=True):
    """What one page shows, the later laid over the earlier."""

    width_mm: float
    height_mm: float
    items: tuple[PageItem, ...]


def shifted(items: Iterable[PageItem], right_mm: float, down_mm: float) -> Iterator[PageItem]:
    """Return the same items elsewhere."""
    for item in items:
        if isinstance(item, PageText):
            at = (item.at[0] + right_mm, item.at[1] + down_mm)
            yield msgspec.structs.replace(item, at=at)
        else:
            points = tuple((x + right_mm, y + down_mm) for x, y in item.points)
            yield msgspec.structs.replace(item, points=points)
