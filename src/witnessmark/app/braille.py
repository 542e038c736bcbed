"""A canvas of braille characters: 2 by 4 dots to the character cell, so dots are nearly square."""

from collections.abc import Sequence
from itertools import pairwise

from witnessmark.drawing.clip import clipped
from witnessmark.drawing.strokes import Box, LinePattern

Dot = tuple[float, float]
"""(x, y) in dots, x to the right and y downward; dot (0, 0) is the top left one."""

DOTS_ACROSS, DOTS_DOWN = 2, 4
_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_BLANK = 0x2800
_LIT = {
    LinePattern.SOLID: (True,),
    LinePattern.DASHED: (True, True, False, False),
    LinePattern.DOTTED: (True, False, False, False),
    LinePattern.DASH_DOT: (True, True, True, True, True, False, False, True, False, False),
}
"""Which dots of a line are lit, over and over."""


class BrailleCanvas:
    """Cells of dots; lines that share a cell are both seen, and the later one gives its ink.

    Plain loops, not numpy: a plan is a few thousand dots, drawn in a few milliseconds, and the
    first picture need not wait for an import ten times as long.
    """

    def __init__(self, columns: int, rows: int) -> None:
        """``columns`` and ``rows`` count character cells."""
        self.width, self.height = columns * DOTS_ACROSS, rows * DOTS_DOWN
        # to half a dot beyond the outer ones, which is what rounds to them
        self._box = Box(-0.5, -0.5, self.width - 0.5, self.height - 0.5)
        self._cells = [bytearray(columns) for _ in range(rows)]
        self._inks: list[list[str]] = [[""] * columns for _ in range(rows)]

    def dot(self, x: int, y: int, ink: str = "") -> None:
        """Light one dot; outside the canvas nothing happens."""
        if 0 <= x < self.width and 0 <= y < self.height:
            row, column = y // DOTS_DOWN, x // DOTS_ACROSS
            self._cells[row][column] |= _BITS[y % DOTS_DOWN][x % DOTS_ACROSS]
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
                    self.dot(round(x + share * (x_end - x)), round(y + share * (y_end - y)), ink)
            run += steps

    def lit(self, x: int, y: int) -> bool:
        """Whether a dot is lit."""
        bit = _BITS[y % DOTS_DOWN][x % DOTS_ACROSS]
        return bool(self._cells[y // DOTS_DOWN][x // DOTS_ACROSS] & bit)

    def row(self, row: int) -> list[tuple[str, str]]:
        """One row of cells, each its character (a space where nothing is lit) and its ink."""
        return [
            (chr(_BLANK + bits) if bits else " ", ink)
            for bits, ink in zip(self._cells[row], self._inks[row], strict=True)
        ]
