"""What a document is made of, from top to bottom: headings, paragraphs, tables, pictures.

A block says what is shown, not how: ``terminal`` makes lines of text of it, ``pieces`` and
``flow`` lay it on pages, which ``pdf`` and ``svg`` draw.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

import msgspec

if TYPE_CHECKING:
    from witnessmark.drawing.strokes import Box, Drawing, Ink
    from witnessmark.listening.chart import Chart
    from witnessmark.report.tiling import Tile, Tiling

Say = Callable[[float], str]
"""Writes a length, mm, in some units."""


class Heading(msgspec.Struct, frozen=True):
    """A line that tells what follows, on the page on which that begins.

    The terminal shows ``text`` in capitals, unless it is ``minor``, and ``rest`` after it as it is.
    """

    text: str
    rest: str = ""
    minor: bool = False


class Paragraph(msgspec.Struct, frozen=True):
    """Sentences, with what stands before their first line, such as a number.

    ``indent`` and ``hang`` are the columns of the terminal before the first and the other lines.
    """

    text: str
    lead: str = ""
    indent: int = 0
    hang: int = 4


EXPANDED = Paragraph("± is the expanded uncertainty, k = 2 (95 %).")
"""What stands below figures with their ±."""


class Space(msgspec.Struct, frozen=True):
    """An empty line."""


class Table(msgspec.Struct, frozen=True):
    """Rows of texts under their heads, which stand again at the top of every further page.

    ``line`` is a format that lays a row out on the terminal; without it each column is as wide as
    it needs to be. A head may have several lines.
    """

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    line: str = ""


class Figure(msgspec.Struct, frozen=True):
    """The part of a drawing in a window, at a scale, in the middle of the page."""

    drawing: Drawing
    window: Box
    scale: float

    @property
    def size_mm(self) -> tuple[float, float]:
        """Return its width and height on paper."""
        box = self.window
        return (box.right - box.left) / self.scale, (box.bottom - box.top) / self.scale


class TiledPart(msgspec.Struct, frozen=True):
    """The part of a drawing that one page shows, where that lies, and the crosses to lay it by."""

    name: str
    drawing: Drawing
    tiling: Tiling
    tile: Tile


class LineKey(msgspec.Struct, frozen=True):
    """What the lines of a figure stand for: a short one of each, with its words."""

    inks: dict[Ink, str]


class GradeCharts(msgspec.Struct, frozen=True):
    """Charts of grades side by side; ``numbers`` is what each trial is called there, by its key."""

    charts: tuple[Chart, ...]
    numbers: Mapping[str, str]


class LevelPicture(msgspec.Struct, frozen=True):
    """Levels over frequency, a row for each position: the darker, the louder.

    ``labels`` stand before the rows; ``levels_db`` has for each row its level at each frequency.
    """

    labels: tuple[str, ...]
    frequencies_hz: tuple[float, ...]
    levels_db: tuple[tuple[float, ...], ...]


class LevelCurves(msgspec.Struct, frozen=True):
    """One curve of levels over frequency, and another to compare it with."""

    frequencies_hz: tuple[float, ...]
    one_db: tuple[float, ...]
    other_db: tuple[float, ...] | None = None


class SideBySide(msgspec.Struct, frozen=True):
    """Blocks side by side, each column as wide as the others; what is alike stands level."""

    columns: tuple[tuple[Block, ...], ...]


Block = (
    Heading
    | Paragraph
    | Space
    | Table
    | Figure
    | TiledPart
    | LineKey
    | GradeCharts
    | LevelPicture
    | LevelCurves
    | SideBySide
)


def shared(needed: Sequence[float], most: float) -> list[float]:
    """Share a width among columns: each gets what it needs, or where that is too much its part."""
    widths, left = [0.0] * len(needed), most
    narrow_first = sorted(range(len(needed)), key=lambda place: needed[place])
    for done, place in enumerate(narrow_first):
        widths[place] = min(needed[place], left / (len(needed) - done))
        left -= widths[place]
    return widths
