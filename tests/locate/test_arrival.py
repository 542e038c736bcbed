import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.locate.arrival import arrival_us, level_db, path_mm, speed_of_sound_m_s
from witnessmark.model import Seat

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


def _legs(seat_off_centre_mm: float = 0, left_back_mm: float = 0) -> tuple[float, float]:
    """Paths in mm; base 2.5 m, depth 2.165064 m; the left box moved toward the front wall."""
    seat = Seat(2165.064 + 1000, 3000 + seat_off_centre_mm)
    left = path_mm((3000 - 1250, 1000 - left_back_mm), None, seat)
    return left, path_mm((3000 + 1250, 1000), None, seat)


@pytest.mark.parametrize(
    ("off_centre_mm", "difference_mm", "difference_us", "difference_db"),
    [(10, 9.99994, 29.1374, -0.0347), (50, 49.9925, 145.666, -0.1737)],
)
def test_a_seat_to_the_right_hears_left_later_and_softer(
    off_centre_mm: float, difference_mm: float, difference_us: float, difference_db: float
) -> None:
    # constructed: base 2.5 m, depth 2.165064 m, speed of sound 343.2 m/s
    left, right = _legs(seat_off_centre_mm=off_centre_mm)
    assert left - right == pytest.approx(difference_mm, abs=1e-4)
    assert arrival_us(left - right, 20) == pytest.approx(difference_us, abs=1e-3)
    assert level_db(left, right) == pytest.approx(difference_db, abs=1e-4)


def test_the_legs_to_a_seat_10_mm_off_centre() -> None:
    # constructed, as above
    left, right = _legs(seat_off_centre_mm=10)
    assert left == pytest.approx(2505.015, abs=1e-3)
    assert right == pytest.approx(2495.015, abs=1e-3)


def test_the_left_box_10_mm_back_is_heard_later() -> None:
    # constructed, as above
    left, right = _legs(left_back_mm=10)
    assert left - right == pytest.approx(8.66524, abs=1e-4)
    assert arrival_us(left - right, 20) == pytest.approx(25.2484, abs=1e-3)


def test_ten_microseconds_are_3_432_mm_of_path() -> None:
    # derived: 343.2 m/s times 10 us
    assert arrival_us(3.432, 20) == pytest.approx(10, abs=1e-9)
    assert arrival_us(-3.432, 20) == pytest.approx(-10, abs=1e-9)


@pytest.mark.parametrize(
    ("path_mm", "expected_us"), [(1, 2.9138), (10, 29.1375), (304.8, 888.11), (-10, -29.1375)]
)
def test_path_to_time_at_20_degrees(path_mm: float, expected_us: float) -> None:
    # constructed: path over 343.2 m/s, written out to four figures after the point, the foot to two
    tolerance_us = 0.01 if path_mm == 304.8 else 1e-4
    assert arrival_us(path_mm, 20) == pytest.approx(expected_us, abs=tolerance_us)
