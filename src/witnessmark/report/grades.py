"""The chart of grades on paper: a dot a trial, with the trial's number beside it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from witnessmark.drawing.strokes import Align, Box
from witnessmark.listening.chart import HIGHEST, LOWEST, Chart, Point
from witnessmark.report.figure import apart
from witnessmark.report.page import (
    LETTERS_MM,
    SMALL_MM,
    PageItem,
    PageText,
    PaperPoint,
    Polyline,
)

_TITLE_MM, _PLOT_MM, _AXIS_MM = 6.0, 38.0, 9.0
CHART_MM = _TITLE_MM + _PLOT_MM + _AXIS_MM
"""How high a chart is."""
CHART_SIGNS = (
    "A number is that of the trial. A full dot: measured there. A hollow one: meant to stand "
    "there, not measured. A ring around it: graded with earlier grades out of sight. A "
    "cross: flagged last as the best so far. A line joins trials of one position."
)
_LEFT_MM, _RIGHT_MM = 6.0, 6.0
_INSET_MM = 2.5
"""Gap between the ends of the axes and what is drawn there, mm."""
_TICK_MM = 1.0
_RING_MM = 0.9


def chart_items(chart: Chart, numbers: Mapping[str, str], width_mm: float) -> Iterator[PageItem]:
    """Draw a chart ``width_mm`` wide; trials of one position are joined by a line."""
    return _PaperChart(chart, numbers, width_mm).items()


class _PaperChart(NamedTuple):
    """A chart of this width; ``numbers`` is what each trial is called there, by its key."""

    chart: Chart
    numbers: Mapping[str, str]
    width_mm: float

    def items(self) -> Iterator[PageItem]:
        yield from self._axes()
        yield from self._points()

    def _axes(self) -> Iterator[PageItem]:
        chart, foot = self.chart, _TITLE_MM + _PLOT_MM
        yield PageText(chart.title, (0.0, LETTERS_MM), bold=True)
        yield Polyline(
            ((_LEFT_MM, _TITLE_MM), (_LEFT_MM, foot), (self.width_mm - _RIGHT_MM, foot)), 0.3
        )
        for grade in range(LOWEST, HIGHEST + 1):
            y = self._down(grade)
            yield Polyline(((_LEFT_MM - _TICK_MM, y), (_LEFT_MM, y)))
            at = (_LEFT_MM - 1.5 * _TICK_MM, y + 0.35 * SMALL_MM)
            yield PageText(str(grade), at, SMALL_MM, align=Align.END)
        marks = chart.axis.marks
        for mark in marks:
            x = self._across(mark)
            yield Polyline(((x, foot), (x, foot + _TICK_MM)))
        for mark in (marks[0], marks[-1]):
            at = (self._across(mark), foot + _TICK_MM + 1.2 * SMALL_MM)
            yield PageText(chart.axis.label(mark), at, SMALL_MM, align=Align.MIDDLE)

    def _points(self) -> Iterator[PageItem]:
        chart = self.chart
        for group in chart.joined:
            yield Polyline(tuple(self._at(point) for point in group))
        for point in chart.points:
            yield from _sign(point, self._at(point))
        plot = Box(_LEFT_MM, _TITLE_MM, self.width_mm, _TITLE_MM + _PLOT_MM)
        yield from apart((self._number(point) for point in chart.points), plot)

    def _number(self, point: Point) -> PageText:
        x, y = self._at(point)
        at = (x + 2 * _RING_MM, y - _RING_MM)
        return PageText(self.numbers[point.key], at, SMALL_MM)

    def _at(self, point: Point) -> PaperPoint:
        return self._across(point.value), self._down(point.grade)

    def _across(self, value: float) -> float:
        axis = self.chart.axis
        wide = self.width_mm - _LEFT_MM - _RIGHT_MM - 2 * _INSET_MM
        return _LEFT_MM + _INSET_MM + wide * (value - axis.low) / (axis.high - axis.low)

    def _down(self, grade: float) -> float:
        high = _PLOT_MM - 2 * _INSET_MM
        return _TITLE_MM + _INSET_MM + high * (HIGHEST - grade) / (HIGHEST - LOWEST)


def _sign(point: Point, at: PaperPoint) -> Iterator[Polyline]:
    """Draw the dot of a trial, with what is special about it."""
    yield _ring(at, _RING_MM)
    if point.measured:  # filled by rings: a page has lines and texts alone
        yield from (_ring(at, part * _RING_MM) for part in (0.7, 0.4, 0.1))
    if point.blind:
        yield _ring(at, 1.7 * _RING_MM)
    if point.best:
        (x, y), reach = at, 2.4 * _RING_MM
        yield Polyline(((x - reach, y), (x + reach, y)), 0.35)
        yield Polyline(((x, y - reach), (x, y + reach)), 0.35)


def _ring(at: PaperPoint, radius_mm: float) -> Polyline:
    turns = [turn * math.tau / 24 for turn in range(25)]
    points = tuple(
        (at[0] + radius_mm * math.cos(turn), at[1] + radius_mm * math.sin(turn)) for turn in turns
    )
    return Polyline(points, 0.35)
