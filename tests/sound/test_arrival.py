import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.model import Seat
from witnessmark.sound import arrival_us, level_db, path_mm, speed_of_sound_m_s

paths = st.floats(100, 20_000)


@pytest.mark.parametrize("temperature_c", [-20.1, 50.1, 300.0, math.nan, math.inf])
def test_a_temperature_out_of_range_is_refused_with_the_range(temperature_c: float) -> None:
    with pytest.raises(BadInput, match="must lie between -20 and 50"):
        speed_of_sound_m_s(temperature_c)


def test_the_longer_path_on_the_left_makes_left_later_and_softer() -> None:
    assert arrival_us(10, 20) > 0
    assert level_db(2505, 2495) < 0


@given(paths, paths)
def test_exchanging_the_cabinets_turns_the_sign(left: float, right: float) -> None:
    assert arrival_us(left - right, 15) == -arrival_us(right - left, 15)
    assert level_db(left, right) == pytest.approx(-level_db(right, left), abs=1e-12)


def test_twice_the_distance_is_six_decibels_less() -> None:
    assert level_db(4000, 2000) == pytest.approx(-6.0206, abs=1e-4)


def test_warm_air_makes_the_same_path_shorter_in_time() -> None:
    assert arrival_us(10, 30) < arrival_us(10, 10)


@pytest.mark.parametrize("paths_mm", [(0, 2000), (2000, 0), (-1, 2000), (math.nan, 2000)])
def test_a_seat_in_a_cabinet_has_no_level(paths_mm: tuple[float, float]) -> None:
    with pytest.raises(BadInput, match="away from both cabinets"):
        level_db(*paths_mm)


def test_heights_lengthen_the_path_only_when_both_are_known() -> None:
    low, eared = Seat(4000, 2500), Seat(4000, 2500, ear_height_mm=1000)
    assert path_mm((1300, 2400), 940, low) == 2000
    assert path_mm((1300, 2400), None, eared) == 2000
    assert path_mm((1300, 2400), 1000, eared) == 2000
    assert path_mm((1300, 2400), 2500, eared) == 2500
