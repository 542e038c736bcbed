"""A drawing on a grid of characters: dots in their cells, and labels moved apart to be read.

Dots are braille, or half blocks where a font has no braille. A cell is twice as high as wide, so
the dots of both are square.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import ClassVar, NamedTuple

from rich.cells import cell_len

from witnessmark.drawing.strokes import Box, Drawing, Ink, Label, LinePattern, clipped
from witnessmark.errors import BadInput
from witnessmark.model import PlanPoint

Dot = tuple[float, float]
"""(x, y) in dots, x to the right and y downward; dot (0, 0) is the top left one."""

_LIT = {
    LinePattern.SOLID: (True,),
    LinePattern.DASHED: (True, True, False, False),
    LinePattern.DOTTED: (True, False, False, False),
    LinePattern.DASH_DOT: (True, True, True, True, True, False, False, True, False, False),
}
"""Which dots of a line are lit, over and over."""
_SMALL_COLUMNS = 36
"""A picture that takes fewer columns leaves out what is spare."""
Cell = tuple[str, str]
"""A character and the ink it is painted in."""
_ROW_COST = 3
"""Columns that one row away from its place counts as: characters are taller than wide."""


class Canvas(ABC):
    """Cells of dots; lines that share a cell are both seen, and the later one gives its ink.

    Plain loops, not numpy: a plan is a few thousand dots, drawn in a few milliseconds, and the
    first picture need not wait for an import ten times as long.
    """

    BITS: ClassVar[tuple[tuple[int, ...], ...]]
    """The bit of each dot of a cell, row by row."""

    def __init__(self, columns: int, rows: int) -> None:
        """``columns`` and ``rows`` count character cells."""
        self.across, self.down = len(self.BITS[0]), len(self.BITS)
        self.width, self.height = columns * self.across, rows * self.down
        # to half a dot beyond the outer ones, which is what rounds to them
        self._box = Box(-0.5, -0.5, self.width - 0.5, self.height - 0.5)
        self._cells = [bytearray(columns) for _ in range(rows)]
        self._inks: list[list[str]] = [[""] * columns for _ in range(rows)]

    @staticmethod
    @abstractmethod
    def sign(bits: int) -> str:
        """Return the character of a cell in which these dots are lit, at least one."""

    def dot(self, x: int, y: int, ink: str = "") -> None:
        """Light one dot; outside the canvas nothing happens."""
        if 0 <= x < self.width and 0 <= y < self.height:
            row, column = y // self.down, x // self.across
            self._cells[row][column] |= self._bit(x, y)
            self._inks[row][column] = ink

    def line(
        self,
        points: Sequence[Dot],
        ink: str = "",
        pattern: LinePattern = LinePattern.SOLID,
    ) -> None:
        """Light the dots along a polyline, the pattern running on through its corners."""
        lit = _LIT[pattern]
        run = 0
        for start, end in pairwise(points):
            seen = clipped(start, end, self._box)
            if seen is None:
                continue
            (x, y), (x_end, y_end) = seen
            steps = max(1, round(max(abs(x_end - x), abs(y_end - y))))
            for step in range(steps + 1):
                if lit[(run + step) % len(lit)]:
                    share = step / steps
                    self.dot(
                        _nearest(x + share * (x_end - x)), _nearest(y + share * (y_end - y)), ink
                    )
            run += steps

    def lit(self, x: int, y: int) -> bool:
        """Return whether a dot is lit."""
        return bool(self._cells[y // self.down][x // self.across] & self._bit(x, y))

    def row(self, row: int) -> list[tuple[str, str]]:
        """Return one row of cells, each its character (a space where none is lit) and its ink."""
        return [
            (self.sign(bits) if bits else " ", ink)
            for bits, ink in zip(self._cells[row], self._inks[row], strict=True)
        ]

    def _bit(self, x: int, y: int) -> int:
        return self.BITS[y % self.down][x % self.across]


def _nearest(at: float) -> int:
    # halves always upward: to the even one, steps of a dot from a half would leave gaps
    return math.floor(at + 0.5)


class BrailleCanvas(Canvas):
    """2 by 4 dots to the cell."""

    BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))

    @staticmethod
    def sign(bits: int) -> str:
        """Return the braille pattern with these dots."""
        return chr(0x2800 + bits)


class BlockCanvas(Canvas):
    """A canvas of half blocks, 1 by 2 dots a cell: coarser, but in the oldest terminal fonts."""

    BITS = ((1,), (2,))

    @staticmethod
    def sign(bits: int) -> str:
        """Return the upper half, the lower half, or both."""
        return " ▀▄█"[bits]


CANVASES: Mapping[str, type[Canvas]] = {"braille": BrailleCanvas, "blocks": BlockCanvas}
"""What plans may be drawn with, by the name that a person gives it."""


def canvas_for(environment: Mapping[str, str], encoding: str) -> type[Canvas]:
    """Return the canvas that a terminal can show.

    ``WITNESSMARK_PLAN`` decides where it is set. Otherwise half blocks are taken on the bare
    console of Linux, whose fonts hold 512 characters at most, and where the terminal's encoding is
    not Unicode; else braille.

    Raises:
        BadInput: when ``WITNESSMARK_PLAN`` names neither.
    """
    chosen = environment.get("WITNESSMARK_PLAN")
    if chosen:
        if chosen not in CANVASES:
            raise BadInput(f'WITNESSMARK_PLAN: "{chosen}" is not one of {", ".join(CANVASES)}')
        return CANVASES[chosen]
    is_bare = environment.get("TERM") == "linux"
    is_unicode = encoding.lower().startswith("utf")
    return BrailleCanvas if is_unicode and not is_bare else BlockCanvas


class Placed(NamedTuple):
    """A text by the cells that it takes, and the cell in which it begins."""

    text: Sequence[str]
    row: int
    column: int

    def touches(self, other: Placed) -> bool:
        """Return whether two labels run into each other, without a blank between them."""
        return (
            self.row == other.row
            and self.column <= other.column + len(other.text)
            and other.column <= self.column + len(self.text)
        )


def spread(wanted: Iterable[Placed], columns: int, rows: int) -> list[Placed]:
    """Place labels within a grid, each as near to where it is wanted as those before it allow.

    One for which there is no room at all stays where it is wanted, over the others.
    """
    placed: list[Placed] = []
    for label in wanted:
        inside = _within(label, columns, rows)
        free = (place for place in _around(inside, columns, rows) if _is_free(place, placed))
        placed.append(next(free, inside))
    return placed


def _within(label: Placed, columns: int, rows: int) -> Placed:
    text = label.text[:columns]
    column = max(0, min(label.column, columns - len(text)))
    return Placed(text, max(0, min(label.row, rows - 1)), column)


def _is_free(label: Placed, others: Sequence[Placed]) -> bool:
    return not any(label.touches(other) for other in others)


def _around(label: Placed, columns: int, rows: int) -> Iterator[Placed]:
    for down, across in _steps(columns, rows):
        row, column = label.row + down, label.column + across
        if 0 <= row < rows and 0 <= column <= columns - len(label.text):
            yield Placed(label.text, row, column)


@lru_cache(maxsize=8)
def _steps(columns: int, rows: int) -> tuple[tuple[int, int], ...]:
    """Steps down and across from a cell to every other one, the nearest first."""
    steps = [
        (down, across) for down in range(1 - rows, rows) for across in range(1 - columns, columns)
    ]
    return tuple(sorted(steps, key=lambda step: (_ROW_COST * abs(step[0]) + abs(step[1]), *step)))


class Projection(NamedTuple):
    """Plan millimetres to dots: one scale for both axes, the box in the middle of the canvas."""

    dots_per_mm: float
    left: float
    top: float

    @classmethod
    def fitting(cls, box: Box, width: int, height: int) -> Projection:
        """Return the largest scale at which ``box`` lies within ``width`` by ``height`` dots."""
        across, down = max(box.right - box.left, 1.0), max(box.bottom - box.top, 1.0)
        scale = min((width - 1) / across, (height - 1) / down)
        return cls(
            scale,
            (width - 1 - scale * across) / 2 - scale * box.left,
            (height - 1 - scale * down) / 2 - scale * box.top,
        )

    def dot(self, point: PlanPoint) -> Dot:
        """Return where a point in plan lies on the canvas."""
        return self.left + self.dots_per_mm * point[0], self.top + self.dots_per_mm * point[1]


def plan_cells(
    drawing: Drawing, view: Box, columns: int, rows: int, kind: type[Canvas] = BrailleCanvas
) -> list[list[Cell]]:
    """Return the part ``view`` of a drawing as rows of cells, labels over strokes."""
    canvas = kind(columns, rows)
    projection = Projection.fitting(view, canvas.width, canvas.height)
    taken = projection.dots_per_mm * (view.right - view.left) / canvas.across
    small = taken < _SMALL_COLUMNS
    for stroke in drawing.strokes:
        if not (stroke.is_spare and small):
            dots = [projection.dot(point) for point in stroke.points]
            canvas.line(dots, stroke.ink, stroke.ink.pattern)
    cells = [canvas.row(row) for row in range(rows)]
    shown = [
        label
        for label in drawing.labels
        if not label.is_spare and _is_seen(projection.dot(label.at), canvas)
    ]
    wanted = [_placed(label, projection, canvas) for label in shown]
    for label, place in zip(shown, spread(wanted, columns, rows), strict=True):
        for column, character in enumerate(place.text, place.column):
            cells[place.row][column] = (character, label.ink)
    for label in drawing.labels:
        if label.is_spare and not small and _is_seen(projection.dot(label.at), canvas):
            _put_where_free(cells, _placed(label, projection, canvas), label.ink)
    return cells


def _put_where_free(cells: list[list[Cell]], place: Placed, ink: Ink) -> None:
    """Write a label where there is nothing yet, with a blank to each side."""
    row, first, last = cells[place.row], place.column, place.column + len(place.text)
    around = row[max(first - 1, 0) : last + 1]
    if first >= 0 and last <= len(row) and all(sign == " " for sign, _ in around):
        row[first:last] = [(sign, ink) for sign in place.text]


def _is_seen(dot: Dot, canvas: Canvas) -> bool:
    # half a dot more, for a label right at the edge must not depend on rounding
    x, y = dot
    return -0.5 <= x < canvas.width and -0.5 <= y < canvas.height


def _placed(label: Label, projection: Projection, canvas: Canvas) -> Placed:
    """Place a label over its point."""
    x, y = projection.dot(label.at)
    text = _in_cells(label.text)
    return Placed(
        text, int(y // canvas.down), round(x / canvas.across - label.align.before * len(text))
    )


def _in_cells(text: str) -> tuple[str, ...]:
    """Return the signs of a text by the cells they take; a broad one leaves its second empty."""
    cells: list[str] = []
    for sign in text:
        broad = cell_len(sign)
        if broad == 0 and cells:
            cells[-1] += sign
        else:
            cells += [sign, *[""] * (broad - 1)]
    return tuple(cells)
