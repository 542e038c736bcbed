"""What a sheet is made of, from top to bottom: headings, paragraphs, tables, figures."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import zip_longest
from typing import NamedTuple, Protocol

import msgspec

from witnessmark.drawing.strokes import Box, Drawing, Ink
from witnessmark.sheet.figure import figure, line
from witnessmark.sheet.letters import width_mm as text_mm
from witnessmark.sheet.letters import wrapped
from witnessmark.sheet.page import LETTERS_MM, THIN_MM, Item, Line, Text, shifted

LEADING = 1.4
"""From one line of letters to the next, as a multiple of their size."""
_LINE_MM = LEADING * LETTERS_MM
_HEADING_MM = 3.8
_GAP_MM = 4.0
"""Between two columns of a table, and between two keys of lines."""
_HAIR_MM = 0.01
"""What keeps a text in a column that is as wide as the text, whatever is rounded."""
_SAMPLE_MM = 11.0
"""How long the sample of a line is."""
_BESIDE_MM = 8.0
"""Between two columns of blocks."""
BELOW_FIGURE_MM = _LINE_MM / 2
"""How much a figure takes up below itself."""
_HELD_TOGETHER = 4
"""A row of so many lines is not broken by the end of a page."""


class Piece(NamedTuple):
    """What stands together, mm from its own upper left corner.

    ``keeps`` says that the next piece stands on the same page; ``head`` is what stands above the
    piece where it is the first of a page.
    """

    height_mm: float
    items: tuple[Item, ...] = ()
    keeps: bool = False
    head: Piece | None = None


class Block(Protocol):
    """Anything that can be cut into pieces of a width."""

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """The pieces from top to bottom."""
        ...


class Heading(msgspec.Struct, frozen=True):
    """A line that tells what follows, on the page on which that begins."""

    text: str

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """Its lines, with some room above."""
        yield Piece(_GAP_MM / 2, keeps=True)
        for words in wrapped(self.text, width_mm, _HEADING_MM, bold=True):
            at = (0.0, _HEADING_MM)
            yield Piece(LEADING * _HEADING_MM, (Text(words, at, _HEADING_MM, bold=True),), True)


class Paragraph(msgspec.Struct, frozen=True):
    """Sentences."""

    text: str

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """Its lines, with a little room below."""
        lines = wrapped(self.text, width_mm)
        for row, words in enumerate(lines, 1):
            height = _LINE_MM + (_LINE_MM / 4 if row == len(lines) else 0.0)
            yield Piece(height, (Text(words, (0.0, LETTERS_MM)),), row < len(lines) < 4)


class Table(msgspec.Struct, frozen=True):
    """Rows of texts under their heads, which stand again at the top of every further page."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """The heads, then each row by its lines, with a thin line below."""
        widths = self._widths(width_mm)
        head = _stacked(_row(self.heads, widths, bold=True, closed_mm=0.3))
        yield head._replace(keeps=True)
        for row in self.rows:
            for piece in _row(row, widths, bold=False, closed_mm=THIN_MM):
                yield piece._replace(head=head)
        yield Piece(_LINE_MM / 2)

    def _widths(self, width_mm: float) -> list[float]:
        """As wide as each column needs to be; where that is too much the widest share the rest."""
        needed = [
            max(text_mm(cell, bold=place == 0) for place, cell in enumerate(column))
            + _GAP_MM
            + _HAIR_MM
            for column in zip(self.heads, *self.rows, strict=True)
        ]
        widths, left = [0.0] * len(needed), width_mm
        narrow_first = sorted(range(len(needed)), key=lambda place: needed[place])
        for done, place in enumerate(narrow_first):
            widths[place] = min(needed[place], left / (len(needed) - done))
            left -= widths[place]
        return widths


class Figure(msgspec.Struct, frozen=True):
    """The part of a drawing in a window, at a scale, in the middle of the page."""

    drawing: Drawing
    window: Box
    scale: float

    @property
    def size_mm(self) -> tuple[float, float]:
        """How wide and high it is on paper."""
        box = self.window
        return (box.right - box.left) / self.scale, (box.bottom - box.top) / self.scale

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """The one piece."""
        width, height = self.size_mm
        items = figure(self.drawing, self.window, self.scale)
        yield Piece(height + BELOW_FIGURE_MM, tuple(shifted(items, (width_mm - width) / 2, 0.0)))


class Columns(msgspec.Struct, frozen=True):
    """Blocks side by side, each column as wide as the others; what is alike stands level."""

    columns: tuple[tuple[Block, ...], ...]

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """The first pieces of all columns as one, then the second ones, and so on."""
        wide = column_mm(width_mm, len(self.columns))
        cut = [
            [piece for block in blocks for piece in block.pieces(wide)] for blocks in self.columns
        ]
        for row in zip_longest(*cut, fillvalue=Piece(0.0)):
            heads = [piece.head or Piece(0.0) for piece in row]
            head = _level(heads, wide) if any(piece.head for piece in row) else None
            yield _level(row, wide)._replace(keeps=any(piece.keeps for piece in row), head=head)


def column_mm(width_mm: float, count: int) -> float:
    """How wide each of so many columns is."""
    return (width_mm - (count - 1) * _BESIDE_MM) / count


class LineKey(msgspec.Struct, frozen=True):
    """What the lines of a figure stand for: a short one of each, with its words."""

    inks: dict[Ink, str]

    def pieces(self, width_mm: float) -> Iterator[Piece]:
        """As many in a row as there is room for."""
        items: list[Item] = []
        x = 0.0
        for ink, words in self.inks.items():
            wide = _SAMPLE_MM + 1.5 + text_mm(words)
            if x and x + wide > width_mm:
                yield Piece(_LINE_MM, tuple(items))
                items, x = [], 0.0
            middle = LETTERS_MM * 0.65
            items.append(line(((x, middle), (x + _SAMPLE_MM, middle)), ink))
            items.append(Text(words, (x + _SAMPLE_MM + 1.5, LETTERS_MM)))
            x += wide + _GAP_MM
        yield Piece(_LINE_MM * 1.25, tuple(items))


def height_mm(blocks: Sequence[Block], width: float) -> float:
    """How high blocks are, one below another."""
    return sum(piece.height_mm for block in blocks for piece in block.pieces(width))


def _row(
    cells: Sequence[str], widths: Sequence[float], *, bold: bool, closed_mm: float
) -> Iterator[Piece]:
    """A row by its lines, the last with a line of a width below."""
    columns = [
        wrapped(cell, width - _GAP_MM, bold=bold) for cell, width in zip(cells, widths, strict=True)
    ]
    count = max(map(len, columns))
    for row in range(count):
        items: list[Item] = []
        x = 0.0
        for lines, width in zip(columns, widths, strict=True):
            if row < len(lines):
                items.append(Text(lines[row], (x, LETTERS_MM), bold=bold))
            x += width
        last = row == count - 1
        if last:
            below = _LINE_MM + 0.2
            items.append(Line(((0.0, below), (x - _GAP_MM, below)), closed_mm))
        yield Piece(
            _LINE_MM + (1.0 if last else 0.0), tuple(items), count <= _HELD_TOGETHER and not last
        )


def _level(pieces: Iterable[Piece], wide_mm: float) -> Piece:
    """Pieces side by side as one."""
    items: list[Item] = []
    height = 0.0
    for place, piece in enumerate(pieces):
        items += shifted(piece.items, place * (wide_mm + _BESIDE_MM), 0.0)
        height = max(height, piece.height_mm)
    return Piece(height, tuple(items))


def _stacked(pieces: Iterable[Piece]) -> Piece:
    """Pieces as one."""
    items: list[Item] = []
    down = 0.0
    for piece in pieces:
        items += shifted(piece.items, 0.0, down)
        down += piece.height_mm
    return Piece(down, tuple(items))
