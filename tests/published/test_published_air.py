import pytest

from witnessmark.sound import arrival_us, speed_of_sound_m_s


@pytest.mark.parametrize(
    ("temperature_c", "expected_m_s"),
    [
        (-20, 318.927),
        (0, 331.2859),
        (10, 337.2956),
        (15, 340.2606),
        (20, 343.2),
        (25, 346.1145),
        (30, 349.0046),
        (50, 360.3333),
    ],
)
def test_speed_of_sound(temperature_c: float, expected_m_s: float) -> None:
    # ISO 9613-1:1993, formula (A.5): c = 343.2 sqrt(T / 293.15); values computed from it
    assert speed_of_sound_m_s(temperature_c) == pytest.approx(expected_m_s, abs=1e-4)


def test_slope_of_the_speed_of_sound_at_20_degrees() -> None:
    # derived from the same formula: 343.2 / (2 * 293.15) = 0.58537 m/s per kelvin
    slope = (speed_of_sound_m_s(20.5) - speed_of_sound_m_s(19.5)) / 1.0
    assert slope == pytest.approx(0.58537, abs=1e-4)


@pytest.mark.parametrize(
    ("path_mm", "expected_us"), [(1, 2.9138), (10, 29.1375), (304.8, 888.11), (-10, -29.1375)]
)
def test_path_to_time_at_20_degrees(path_mm: float, expected_us: float) -> None:
    # derived: path over 343.2 m/s; the printed values have four figures after the point, the
    # foot is printed as 0.88811 ms
    tolerance_us = 0.01 if path_mm == 304.8 else 1e-4
    assert arrival_us(path_mm, 20) == pytest.approx(expected_us, abs=tolerance_us)
