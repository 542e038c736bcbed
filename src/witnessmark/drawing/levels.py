"""Levels over frequency in letters: a walk as shades, and one curve against another.

Shades say the level without colour: the fainter the sign, the less is heard; empty is least.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from textwrap import wrap
from typing import Final

from witnessmark.drawing.strokes import Align, Box, Drawing, Ink, Label, Stroke

CLASSES_DB: Final = (-12.0, -6.0, 0.0, 6.0, 12.0)
"""The levels, dB, that part one shade from the next; common practice, no source."""
SHADES: Final = " ·░▒▓█"
KEY: Final = "dB: empty below -12, · to -6, ░ to 0, ▒ to +6, ▓ to +12, █ above"
MARKS_HZ: Final = (20, 300, 100, 40, 200, 60, 80, 30, 150)
"""What an axis bears, those first that it can least do without."""
_TOP_DB, _FOOT_DB = 12, -24
FINE_DB, COARSE_DB = 3, 6
"""What one row of a curve is, where there are many rows, or few."""
_LEFT: Final = 4
"""Columns before a curve, for its levels."""
ONE, OTHER, BOTH = "o", "+", "*"


_ROW, _HIGHEST, _ACROSS, _NAMES = 21.0, 16.0, 270.0, 74.0
"""Of a drawn walk: the height of a row and of its loudest step, the width of its steps and of the
names before them."""
DRAWN_KEY: Final = "Bass at each station: the higher, the louder"
DRAWN_LETTERS: Final = 12.0
"""How high the letters of a drawn walk are, in its own units."""


def shade_class(level_db: float) -> int:
    """Return which shade a level has, from 0, the least."""
    return sum(level_db >= edge for edge in CLASSES_DB)


def shades(frequencies_hz: Sequence[float], level_db: Sequence[float], columns: int) -> str:
    """Return a curve as a row of shades; of what falls on one column, the farthest from 0 dB."""
    return "".join(SHADES[shade_class(one)] for one in _columns(frequencies_hz, level_db, columns))


def picture(
    labels: Sequence[str],
    frequencies_hz: Sequence[float],
    levels_db: Sequence[Sequence[float]],
    columns: int,
) -> list[str]:
    """Return a walk as rows of shades behind their labels, with the axis and the key below."""
    left = max(map(len, labels), default=0) + 2
    across = columns - left
    rows = [
        f"{label:>{left - 2}}  {shades(frequencies_hz, level, across)}".rstrip()
        for label, level in zip(labels, levels_db, strict=True)
    ]
    return [
        *rows,
        " " * left + frequency_axis(frequencies_hz, across).rstrip(),
        *wrap(KEY, columns),
    ]


def skyline(
    labels: Sequence[str],
    frequencies_hz: Sequence[float],
    levels_db: Sequence[Sequence[float]],
) -> tuple[Drawing, Box]:
    """Return a walk as a drawing, and all of it that is shown: a row of steps for each label.

    A step is one shade of ``picture``: the higher, the louder, and on its foot the least. Units are
    its own, about a pixel of a small phone.
    """
    rows = range(2, len(labels) + 2)
    foot = _ROW * (len(labels) + 2)
    places = [octave_share(frequencies_hz, hz) * _ACROSS for hz in frequencies_hz]
    between = [(one + other) / 2 for one, other in pairwise(places)]
    edges = [float(round(at)) for at in (places[0], *between, places[-1])]
    strokes = [
        Stroke(tuple(_steps(level, edges, _ROW * row)), Ink.WALL)
        for row, level in zip(rows, levels_db, strict=True)
    ]
    names = [
        Label(label, (-4.0, _ROW * row - _HIGHEST / 3), Ink.WALL, align=Align.END)
        for row, label in zip(rows, labels, strict=True)
    ]
    shown = [mark for mark in (20, 40, 80, 150, 300) if mark <= frequencies_hz[-1] * 1.03]
    marks = [
        Label(f"{mark}", (octave_share(frequencies_hz, float(mark)) * _ACROSS, foot), Ink.WALL)
        for mark in shown
    ]
    key = Label(DRAWN_KEY, (-_NAMES, _ROW / 3), Ink.WALL, align=Align.START)
    unit = Label("Hz", (-20.0, foot), Ink.WALL, align=Align.END)
    return Drawing(tuple(strokes), (key, *names, *marks, unit)), Box(-_NAMES, 0.0, _ACROSS, foot)


def _steps(
    level_db: Sequence[float], edges: Sequence[float], foot: float
) -> Iterator[tuple[float, float]]:
    """The outline of one row: from left to right above its foot, and back along it."""
    yield edges[0], foot
    lines = zip(level_db, edges, edges[1:], strict=False)
    for shade, run in groupby(lines, lambda line: shade_class(line[0])):
        ends = list(run)
        top = foot - _HIGHEST * shade / len(CLASSES_DB)
        yield ends[0][1], top
        yield ends[-1][2], top
    yield edges[-1], foot
    yield edges[0], foot


def frequency_axis(frequencies_hz: Sequence[float], columns: int) -> str:
    """Return the frequencies below or above a row of ``columns`` columns, Hz, as many as fit."""
    cells = " " * columns
    for mark in map(str, MARKS_HZ):
        at = min(_column(frequencies_hz, float(mark), columns), columns - len(mark))
        end = at + len(mark)
        if not cells[max(at - 1, 0) : end + 1].strip():
            cells = cells[:at] + mark + cells[end:]
    return cells


def curves(
    frequencies_hz: Sequence[float],
    one_db: Sequence[float],
    other_db: Sequence[float] | None,
    columns: int,
    row_db: int = FINE_DB,
) -> list[str]:
    """Return a curve as rows of letters, o, over another, +; * is where both are."""
    across = columns - _LEFT
    rows = (_TOP_DB - _FOOT_DB) // row_db + 1
    zero = _TOP_DB // row_db
    cells = [["-" if row == zero else " "] * across for row in range(rows)]
    for sign, curve in ((OTHER, other_db), (ONE, one_db)):
        if curve is None:
            continue
        for column, level in enumerate(_columns(frequencies_hz, curve, across)):
            row = min(max(round((_TOP_DB - level) / row_db), 0), rows - 1)
            is_shared = sign == ONE and cells[row][column] == OTHER
            cells[row][column] = BOTH if is_shared else sign
    levels = (_TOP_DB - row * row_db for row in range(rows))
    marks = (f"{level:+d}" if level % COARSE_DB == 0 else "" for level in levels)
    lines = [f"{mark:>3} {''.join(row)}" for mark, row in zip(marks, cells, strict=True)]
    return [
        *(line.rstrip() for line in lines),
        " " * _LEFT + frequency_axis(frequencies_hz, across),
    ]


def _column(frequencies_hz: Sequence[float], frequency_hz: float, columns: int) -> int:
    share = octave_share(frequencies_hz, frequency_hz)
    return min(max(int(share * columns), 0), columns - 1)


def octave_share(frequencies_hz: Sequence[float], frequency_hz: float) -> float:
    """Return which part of the way from the lowest to the highest a frequency is, by octaves."""
    low, high = frequencies_hz[0], frequencies_hz[-1]
    return math.log(frequency_hz / low) / math.log(high / low)


def _columns(
    frequencies_hz: Sequence[float], level_db: Sequence[float], columns: int
) -> Sequence[float]:
    """The level of each column: where no line falls, that of the line nearest to it."""
    places = [_column(frequencies_hz, one, columns) for one in frequencies_hz]
    lines = list(zip(places, level_db, strict=True))
    found = []
    for column in range(columns):
        nearest = min(abs(place - column) for place, _ in lines)
        here = [level for place, level in lines if abs(place - column) == nearest]
        found.append(max(here, key=abs))
    return found
