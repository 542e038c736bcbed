"""A chart of grades as lines of text, without colour: 60 cells by 14, or narrower and longer.

Each position has a letter: small where earlier grades were in sight, a capital where they were not,
in a ring where the pair was not measured and the point is at its target.
Points of one position are joined by a line. Points that would fall on one cell stand side by side.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from string import ascii_lowercase

from witnessmark.listening.chart import HIGHEST, LOWEST, Axis, Chart, Point
from witnessmark.listening.names import OWN_POSITION

COLUMNS, ROWS = 60, 14
_ACROSS = 32
"""Columns of the plot itself; three before it are for the grades, the rest for the names."""
_NAMES = COLUMNS - _ACROSS - 4
_PER_GRADE = 2
_DOWN = _PER_GRADE * (HIGHEST - LOWEST) + 1


def chart_text(chart: Chart, columns: int = COLUMNS) -> str:
    """The chart as text; of more than 26 positions the first are drawn.

    Where there are less than 60 ``columns`` the names stand below the plot and not beside it.
    """
    letters = dict(zip(_in_order(chart), ascii_lowercase, strict=False))
    plot, names = _Plot(chart, letters).lines(), _names(chart, letters)
    beside = names if columns >= COLUMNS else {}
    rows = [f"{_grade(row)}{line} {beside.get(row, '')}".rstrip() for row, line in enumerate(plot)]
    capital = "a capital: graded with earlier grades out of sight"
    ring = "in a ring: at the target, not measured"
    keys = [capital] if any(point.blind for point in chart.points) else []
    keys += [] if all(point.measured for point in chart.points) else [ring]
    below = [] if beside else list(names.values())
    lines = [chart.title[:COLUMNS], *rows, *_axis_lines(chart.axis), *below, *keys]
    return "\n".join(lines)


def _in_order(chart: Chart) -> list[str]:
    """The positions from left to right."""
    return list(
        dict.fromkeys(point.position for point in sorted(chart.points, key=lambda p: p.value))
    )


def _grade(row: int) -> str:
    whole = row % _PER_GRADE == 0
    return f"{HIGHEST - row // _PER_GRADE} ┤" if whole else "  │"


def _in_ring(letter: str) -> str:
    return unicodedata.lookup(f"CIRCLED LATIN {unicodedata.name(letter).removeprefix('LATIN ')}")


class _Plot:
    """The cells between the axes."""

    def __init__(self, chart: Chart, letters: dict[str, str]) -> None:
        self._chart, self._letters = chart, letters
        self._cells = [[" "] * _ACROSS for _ in range(_DOWN)]

    def lines(self) -> list[str]:
        drawn = [point for point in self._chart.points if point.position in self._letters]
        where = {point.key: self._place(point) for point in drawn}
        for group in self._chart.joined:
            self._join([where[point.key] for point in group if point.key in where])
        return ["".join(row) for row in self._cells]

    def _place(self, point: Point) -> tuple[int, int]:
        """Put the letter on its cell, or on the nearest that is free or has the same letter."""
        column = _column(self._chart.axis, point.value)
        row = round((HIGHEST - point.grade) * _PER_GRADE)
        letter = self._letters[point.position]
        letter = letter.upper() if point.blind else letter
        letter = letter if point.measured else _in_ring(letter)
        cells = self._cells[row]
        free = [at for at, cell in enumerate(cells) if cell in (" ", letter)]
        nearest = min(free, key=lambda at: (abs(at - column), at), default=column)
        cells[nearest] = letter
        return row, nearest

    def _join(self, places: list[tuple[int, int]]) -> None:
        rows = [row for row, _ in places]
        column = places[0][1] if places else 0
        for row in range(min(rows, default=0), max(rows, default=0)):
            if self._cells[row][column] == " ":
                self._cells[row][column] = "│"


def _names(chart: Chart, letters: dict[str, str]) -> dict[int, str]:
    """A line of names for each row beside the plot, a star before what is flagged as the best."""
    known = f"{chart.axis.against}: "
    named = {one.position: one.name.removeprefix(known) for one in reversed(chart.points)}
    best = {point.position for point in chart.points if point.best}
    for position, name in named.items():
        if len(name) + 2 > _NAMES:
            named[position] = name.removeprefix(f"{OWN_POSITION} ")
    lines = [
        f"{letter}{'*' if position in best else ' '}{named[position]}"
        for position, letter in letters.items()
    ]
    if len(named) > _DOWN:
        lines = [*lines[: _DOWN - 1], f"and {len(named) - _DOWN + 1} more"]
    return {row: _cut(line) for row, line in enumerate(lines)}


def _cut(line: str) -> str:
    return line if len(line) <= _NAMES else line[: _NAMES - 1] + "…"


def _column(axis: Axis, value: float) -> int:
    return round((value - axis.low) / (axis.high - axis.low) * (_ACROSS - 1))


def _axis_lines(axis: Axis) -> Iterator[str]:
    """The line below the plot with its marks, and the ends written below it."""
    columns = [_column(axis, mark) for mark in axis.marks]
    yield "  └" + "".join("┴" if column in columns else "─" for column in range(_ACROSS))
    low, high = axis.label(axis.low), axis.label(axis.high)
    yield "   " + low + high.rjust(_ACROSS - len(low))
