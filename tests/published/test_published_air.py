"""The speed of sound against the printed values of standards and papers."""

import math

import pytest

from witnessmark.locate.arrival import arrival_us, speed_of_sound_m_s


def test_the_speed_at_the_reference_temperature() -> None:
    # ISO 9613-1:1993, A.2: 343.2 m/s at 293.15 K
    assert speed_of_sound_m_s(20) == pytest.approx(343.2, abs=1e-9)


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa", "humidity", "printed_m_s", "within"),
    [
        # IEC 61094-2:2009, table F.1
        (23, 101_325, 0.5, 345.86652, 0.003),
        (20, 80_000, 0.65, 344.38267, 0.004),
        # Cramer, JASA 93(5), 2510 (1993), figure 1, as read in the tests of pyfar
        (0, 101_325, 0.0047, 331.508, 0.001),
        (20, 101_325, 0.6019, 344.167, 0.003),
        (30, 101_325, 0.989, 351.508, 0.008),
    ],
)
def test_the_speed_in_printed_airs(
    temperature_c: float, pressure_pa: float, humidity: float, printed_m_s: float, within: float
) -> None:
    # the program leaves humidity and pressure out; ``within`` is what that costs, and no more
    plain_m_s = speed_of_sound_m_s(temperature_c)
    assert plain_m_s < printed_m_s
    assert plain_m_s == pytest.approx(printed_m_s, rel=within)


@pytest.mark.parametrize("temperature_c", [0, 5, 10, 15, 20, 25, 30])
def test_the_speed_in_dry_air_is_cramers(temperature_c: float) -> None:
    # Cramer's equation 15, held to the table of IEC 61094-2 below; both are for 0 to 30 degrees
    dry_m_s = cramer_m_s(temperature_c, 0.0)
    assert speed_of_sound_m_s(temperature_c) == pytest.approx(dry_m_s, abs=0.2)


CRAMER = (
    *(331.5024, 0.603055, -0.000528, 51.471935, 0.1495874, -0.000782, -1.82e-7, 3.73e-8),
    *(-2.93e-10, -85.20931, -0.228525, 5.91e-5, -2.835149, -2.15e-13, 29.179762, 0.000486),
)
"""Cramer, JASA 93(5), 2510 (1993), table III; the same set in IEC 61094-2:2009, table F.2."""


def cramer_m_s(
    temperature_c: float, humidity: float, pressure_pa: float = 101_325, carbon: float = 0.0004
) -> float:
    """Cramer's equation 15, against which the plain formula of the program is held.

    Vapour pressure and enhancement factor as in IEC 61094-2:2009, annex F (from memory).
    """
    t, kelvin = temperature_c, temperature_c + 273.15
    saturated = math.exp(
        1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin
    )
    enhanced = 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * t**2
    water = humidity * saturated / pressure_pa * enhanced
    a = CRAMER
    return (
        a[0]
        + a[1] * t
        + a[2] * t**2
        + (a[3] + a[4] * t + a[5] * t**2) * water
        + (a[6] + a[7] * t + a[8] * t**2) * pressure_pa
        + (a[9] + a[10] * t + a[11] * t**2) * carbon
        + a[12] * water**2
        + a[13] * pressure_pa**2
        + a[14] * carbon**2
        + a[15] * water * pressure_pa * carbon
    )


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa", "humidity", "expected_m_s"),
    [(23, 101_325, 0.5, 345.86652), (20, 80_000, 0.65, 344.38267)],
)
def test_the_reference_is_that_of_the_standard(
    temperature_c: float, pressure_pa: float, humidity: float, expected_m_s: float
) -> None:
    # IEC 61094-2:2009, table F.1, to all its digits
    found = cramer_m_s(temperature_c, humidity, pressure_pa)
    assert found == pytest.approx(expected_m_s, abs=5e-6)


@pytest.mark.parametrize(
    ("temperature_c", "expected_m_s"),
    [
        (0, (331.4477, 331.6035, 331.7594)),
        (10, (337.4593, 337.7811, 338.1027)),
        (20, (343.3595, 343.9869, 344.6135)),
        (30, (349.1481, 350.3102, 351.4698)),
    ],
)
def test_leaving_humidity_out_costs_less_than_a_hundredth(
    temperature_c: float, expected_m_s: tuple[float, float, float]
) -> None:
    # Cramer at 0, 50 and 100 % humidity, 400 ppm of carbon dioxide; a path difference of 10 mm is
    # told within 0.3 us of what it is in any of these airs
    plain_us = arrival_us(10, temperature_c)
    for humidity, expected in zip((0.0, 0.5, 1.0), expected_m_s, strict=True):
        exact_m_s = cramer_m_s(temperature_c, humidity)
        assert exact_m_s == pytest.approx(expected, abs=2e-3)
        assert speed_of_sound_m_s(temperature_c) == pytest.approx(exact_m_s, rel=0.01)
        assert plain_us == pytest.approx(10_000 / exact_m_s, abs=0.3)


@pytest.mark.parametrize(
    ("temperature_c", "humidity", "read_off_m_s"),
    [(20, 0.6019, 344.167), (0, 0.0047, 331.508), (30, 0.989, 351.508)],
)
def test_points_read_off_cramers_first_figure(
    temperature_c: float, humidity: float, read_off_m_s: float
) -> None:
    # Cramer 1993, figure 1, 314 ppm of carbon dioxide, as read in the tests of pyfar
    found = cramer_m_s(temperature_c, humidity, carbon=0.000314)
    assert found == pytest.approx(read_off_m_s, abs=0.1)
