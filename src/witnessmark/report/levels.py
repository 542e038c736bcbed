"""Levels over frequency on paper: a walk as strips, and one curve against another.

A page has lines and texts alone, so a level is the thickness of a strip: the thicker, the louder.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import groupby, pairwise
from typing import Final

from witnessmark.drawing.levels import CLASSES_DB, MARKS_HZ, octave_share, shade_class
from witnessmark.drawing.strokes import Align, LinePattern
from witnessmark.report.blocks import LevelCurves, LevelPicture
from witnessmark.report.letters import width_mm as text_mm
from witnessmark.report.page import SMALL_MM, THIN_MM, PageItem, PageText, Polyline

_ROW_MM, _STRIP_MM = 4.4, 3.6
"""Height of a row, and of its thickest strip, mm."""
_GAP_MM = 2.0
_AXIS_MM = 6.0
_TICK_MM = 1.0
LEVEL_SIGNS: Final = (
    "The thicker a strip, the louder: none below -12 dB, then by steps up to -6, 0, +6 and +12 dB, "
    "thickest above. Below the rows: frequency in Hz."
)
_PLOT_MM = 55.0
_TOP_DB, _FOOT_DB, _STEP_DB = 12.0, -24.0, 6.0
_LEFT_MM = 8.0
CURVES_MM: Final = _PLOT_MM + _AXIS_MM + _GAP_MM
"""How high a plot of curves is, mm."""

_PictureRow = tuple[float, tuple[PageItem, ...], bool]


def picture_rows(block: LevelPicture, width_mm: float) -> Iterator[_PictureRow]:
    """Return each row by its height, what is in it, and whether the next one stays with it."""
    left = max((text_mm(label) for label in block.labels), default=0.0) + _GAP_MM
    for label, level in zip(block.labels, block.levels_db, strict=True):
        middle = _ROW_MM / 2
        name = PageText(
            label, (left - _GAP_MM, middle + 0.35 * SMALL_MM), SMALL_MM, align=Align.END
        )
        strips = _strips(block.frequencies_hz, level, left, width_mm, middle)
        yield _ROW_MM, (name, *strips), True
    yield _AXIS_MM, tuple(_axis(block.frequencies_hz, left, width_mm, 0.0)), False


def _strips(
    frequencies_hz: Sequence[float], level: Sequence[float], left: float, right: float, y: float
) -> Iterator[Polyline]:
    """Draw a run of lines with one class of level as one strip, halfway to its neighbours."""
    edges = _edges(frequencies_hz)
    lines = zip(level, edges, edges[1:], strict=False)
    for shade, run in groupby(lines, lambda line: shade_class(line[0])):
        ends = list(run)
        if shade:
            start, end = (
                _across(frequencies_hz, hz, left, right) for hz in (ends[0][1], ends[-1][2])
            )
            yield Polyline(((start, y), (end, y)), _STRIP_MM * shade / len(CLASSES_DB))


def _edges(frequencies_hz: Sequence[float]) -> list[float]:
    between = [math.sqrt(one * other) for one, other in pairwise(frequencies_hz)]
    return [frequencies_hz[0], *between, frequencies_hz[-1]]


def _axis(
    frequencies_hz: Sequence[float], left: float, right: float, y: float
) -> Iterator[PageItem]:
    """Draw a line with frequencies below it, of which those left out would lie outside."""
    yield Polyline(((left, y), (right, y)), 0.3)
    for mark in MARKS_HZ:
        if frequencies_hz[0] <= mark <= frequencies_hz[-1]:
            x = _across(frequencies_hz, float(mark), left, right)
            yield Polyline(((x, y), (x, y + _TICK_MM)))
            at = (x, y + _TICK_MM + 1.2 * SMALL_MM)
            yield PageText(str(mark), at, SMALL_MM, align=Align.MIDDLE)


def curve_items(block: LevelCurves, width_mm: float) -> Iterator[PageItem]:
    """Draw one curve as a line, and the other as a dashed one, over -24 to +12 dB."""
    right = width_mm - _GAP_MM
    for step in range(round((_TOP_DB - _FOOT_DB) / _STEP_DB) + 1):
        level = _TOP_DB - step * _STEP_DB
        y = _down(level)
        yield Polyline(((_LEFT_MM, y), (right, y)), 0.3 if level == 0 else THIN_MM / 2)
        at = (_LEFT_MM - _GAP_MM / 2, y + 0.35 * SMALL_MM)
        yield PageText(f"{level:+g}" if level else "0", at, SMALL_MM, align=Align.END)
    for curve, width, pattern in (
        (block.other_db, 0.3, LinePattern.DASHED),
        (block.one_db, 0.5, LinePattern.SOLID),
    ):
        if curve is not None:
            points = tuple(
                (_across(block.frequencies_hz, hz, _LEFT_MM, right), _down(level))
                for hz, level in zip(block.frequencies_hz, curve, strict=True)
            )
            yield Polyline(points, width, pattern)
    yield from _axis(block.frequencies_hz, _LEFT_MM, right, _PLOT_MM)


def _down(level: float) -> float:
    held = min(max(level, _FOOT_DB), _TOP_DB)
    return SMALL_MM + (_PLOT_MM - SMALL_MM) * (_TOP_DB - held) / (_TOP_DB - _FOOT_DB)


def _across(frequencies_hz: Sequence[float], hz: float, left: float, right: float) -> float:
    return left + (right - left) * octave_share(frequencies_hz, hz)
