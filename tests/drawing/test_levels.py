"""Levels as letters: shades that say more by more ink, and curves over one another."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.drawing.levels import (
    BOTH,
    ONE,
    OTHER,
    SHADES,
    curves,
    frequency_axis,
    shade_class,
    shades,
)

HZ = 20.0 * 2.0 ** (np.arange(94) / 24)


def test_each_level_has_its_shade() -> None:
    levels = (-30.0, -12.0, -6.0, 0.0, 6.0, 12.0)
    assert [shade_class(level) for level in levels] == [0, 1, 2, 3, 4, 5]
    assert len(SHADES) == 6


@pytest.mark.parametrize("columns", [30, 64, 200])
def test_a_narrow_dip_is_never_lost_between_columns(columns: int) -> None:
    level = np.full(94, 3.0)
    level[47] = -20.0
    row = shades(HZ, level, columns)
    assert len(row) == columns
    assert row.count(" ") >= 1
    assert set(row) == {" ", SHADES[3]}
    middle = row.index(" ") / columns
    assert middle == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize("columns", [20, 40, 64, 100])
def test_the_axis_stands_where_its_frequencies_are(columns: int) -> None:
    axis = frequency_axis(HZ, columns)
    assert len(axis) == columns
    assert axis.startswith("20")
    assert axis.endswith("300")
    level = np.where(np.abs(HZ - 100.0) == np.abs(HZ - 100.0).min(), -20.0, 3.0)
    if "100" in axis.split():
        assert abs(axis.index("100") - shades(HZ, level, columns).index(" ")) <= 1


def test_two_curves_are_told_apart_by_their_letters() -> None:
    one, other = np.full(94, 6.0), np.full(94, -6.0)
    rows = curves(HZ, one, other, 44)
    assert all(len(row) <= 44 for row in rows)
    assert rows[2] == " +6 " + ONE * 40
    assert rows[6] == " -6 " + OTHER * 40
    assert rows[4] == " +0 " + "-" * 40
    assert curves(HZ, one, one, 44)[2] == " +6 " + BOTH * 40
    assert OTHER * 2 not in "".join(curves(HZ, one, None, 44))
