"""The scale of a watched point: its start at the left, where to stop, and where the point is."""

from __future__ import annotations

import pytest
from exact_shots import SETUP

from witnessmark.app.widgets.big_figures import scale_row
from witnessmark.lengths import Units
from witnessmark.placing.cabinet_work import Watch
from witnessmark.placing.round import Round

WAY = Watch(Round.begin(SETUP).prompted, 1421.0, 1391.0, 1.5)


@pytest.mark.parametrize("width", [40, 78, 138])
@pytest.mark.parametrize("units", Units)
@pytest.mark.parametrize("now_mm", [1500.0, 1421.0, 1400.0, 1391.0, 1388.0, 1200.0])
def test_a_row_is_as_wide_as_it_may_be(width: int, units: Units, now_mm: float) -> None:
    row = scale_row(WAY, now_mm, units, width)
    assert len(row) == width
    assert row.count("●") == 1


def test_the_mark_goes_from_the_start_to_the_stop_and_past_it() -> None:
    places = [scale_row(WAY, mm, Units.MM, 78).index("●") for mm in (1421, 1410, 1400, 1391, 1386)]
    assert places == sorted(set(places))
    row = scale_row(WAY, 1400.0, Units.MM, 78)
    assert row.startswith("1421 ")
    assert row.endswith(" stop at 1391 mm")
    assert places[3] == row.index("┃") < places[4]


def test_what_is_off_the_scale_stays_at_its_end() -> None:
    far = [scale_row(WAY, mm, Units.MM, 78) for mm in (1600.0, 1200.0)]
    assert [row.index("●") for row in far] == [len("1421 "), 78 - len(" stop at 1391 mm") - 1]
