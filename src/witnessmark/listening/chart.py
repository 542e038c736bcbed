"""Grades against where the pair stood, as a record that any renderer can draw."""

from __future__ import annotations

import enum
import math
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from string import ascii_lowercase

import msgspec

from witnessmark.lengths import UNIT_MM, Units, format_length
from witnessmark.listening.difference import stance
from witnessmark.listening.judging import latest_flagged, positions
from witnessmark.listening.names import OWN_POSITION
from witnessmark.model import GRADES, Setup, Trial

_FOOT = float(UNIT_MM["ft"])
_METRIC_STEPS_MM = tuple(digit * 10.0**power for power in (1, 2, 3, 4) for digit in (1, 2, 5))
_FEET = (1 / 24, 1 / 12, 1 / 6, 1 / 4, 1 / 2, 1, 2, 5, 10, 20, 50, 100)
_IMPERIAL_STEPS_MM = tuple(feet * _FOOT for feet in _FEET)
_DEGREE_STEPS = (0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 45.0)
_MOST_STEPS = 5
"""Steps between the two ends of an axis, at most."""
LOWEST, HIGHEST = min(GRADES), max(GRADES)


class Against(enum.StrEnum):
    """What the grades are drawn against."""

    SETBACK = "setback"
    SPREAD = "spread"
    TOE_IN = "toe-in"


class Point(msgspec.Struct, frozen=True):
    """One graded trial: ``value`` in mm or degrees, its grade from 1 to 5.

    ``key`` is the trial's, ``position`` that of the first trial of the same position; ``best`` is
    the one that was flagged last. Where not ``measured`` the value is that of the target.
    """

    key: str
    position: str
    name: str
    value: float
    grade: float
    blind: bool
    best: bool
    measured: bool


class ChartAxis(msgspec.Struct, frozen=True):
    """What runs across: its ends and the step between its marks, in mm or degrees.

    All three are round in the person's units.
    """

    against: Against
    low: float
    high: float
    step: float
    units: Units

    @property
    def marks(self) -> tuple[float, ...]:
        """Where its marks are, the two ends included."""
        count = round((self.high - self.low) / self.step)
        return tuple(self.low + place * self.step for place in range(count + 1))

    def label(self, value: float) -> str:
        """Return a value as it is written beside the axis."""
        if self.against is Against.TOE_IN:
            return f"{round(value, 1) + 0.0:g}°"
        return format_length(value, self.units)


class Chart(msgspec.Struct, frozen=True):
    """Points in the order of trying, from the lowest grade, 1, to the highest, 5.

    A grade is the mean of what a trial was graded on.
    """

    axis: ChartAxis
    points: tuple[Point, ...]

    @property
    def title(self) -> str:
        """What is drawn against what."""
        return f"mean grade against {self.axis.against}"

    @property
    def joined(self) -> tuple[tuple[Point, ...], ...]:
        """The points of each position that was graded more than once, to be joined by a line."""
        ordered = sorted(self.points, key=lambda point: point.position)
        groups = (tuple(group) for _, group in groupby(ordered, lambda point: point.position))
        return tuple(group for group in groups if len(group) > 1)


def grade_chart(
    setup: Setup, trials: Mapping[str, Trial], names: Mapping[str, str], against: Against
) -> Chart:
    """Return the grades of the trials against one quantity of where the pair was found.

    Trials without a grade are left out. Which trials are worth a look together, such as those that
    differ in nothing else, is the caller's choice.

    Args:
        setup: the room and its mirror line, and the units.
        trials: by key.
        names: what each trial is called.
        against: the quantity.
    """
    points, flagged = [], latest_flagged(trials)
    for key, position in positions(trials).items():
        trial = trials[key]
        grade = trial.impression.mean_grade
        if grade is not None:
            points.append(
                Point(
                    key,
                    position,
                    names[key],
                    _value(setup, trial, against),
                    grade,
                    blind=trial.impression.blind,
                    best=key == flagged,
                    measured=trial.measured is not None,
                )
            )
    return Chart(axis([point.value for point in points], against, setup.units), tuple(points))


def _value(setup: Setup, trial: Trial, against: Against) -> float:
    base, setback, toe_in = stance(setup, trial.standing)
    return {Against.SETBACK: setback, Against.SPREAD: base, Against.TOE_IN: toe_in}[against]


def axis(values: Sequence[float], against: Against, units: Units = Units.MM) -> ChartAxis:
    """Return an axis that holds the values: at most five steps between two round ends."""
    low, high = min(values, default=0.0), max(values, default=0.0)
    for step in _steps(against, units):
        # the billionth keeps a value that is on a mark from taking one step more
        first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
        if first == last:
            first, last = first - 1, last + 1
        if last - first <= _MOST_STEPS:
            break
    return ChartAxis(against, first * step, last * step, step, units)


def _steps(against: Against, units: Units) -> Sequence[float]:
    if against is Against.TOE_IN:
        return _DEGREE_STEPS
    if units.is_metric:
        return _METRIC_STEPS_MM
    return _IMPERIAL_STEPS_MM


COLUMNS, ROWS = 60, 14
_ACROSS = 32
"""Columns of the plot itself; three before it are for the grades, the rest for the names."""
_NAMES = COLUMNS - _ACROSS - 4
_PER_GRADE = 2
_DOWN = _PER_GRADE * (HIGHEST - LOWEST) + 1


def chart_text(chart: Chart, columns: int = COLUMNS) -> str:
    """Return the chart as text; of more than 26 positions the first are drawn.

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


def _column(axis: ChartAxis, value: float) -> int:
    return round((value - axis.low) / (axis.high - axis.low) * (_ACROSS - 1))


def _axis_lines(axis: ChartAxis) -> Iterator[str]:
    """The line below the plot with its marks, and the ends written below it."""
    columns = [_column(axis, mark) for mark in axis.marks]
    yield "  └" + "".join("┴" if column in columns else "─" for column in range(_ACROSS))
    low, high = axis.label(axis.low), axis.label(axis.high)
    yield "   " + low + high.rjust(_ACROSS - len(low))
