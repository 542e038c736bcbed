"""Lengths against published definitions and exact rational arithmetic (pint as the reference)."""

import functools
import math
import statistics
from fractions import Fraction

import pint
import pytest

from witnessmark.lengths import UNIT_MM, Units, format_length, parse_length


@functools.cache
def reference() -> pint.UnitRegistry[Fraction]:
    """Return pint's units; reading them takes most of a second, so only where they are used."""
    return pint.UnitRegistry(non_int_type=Fraction)


def reference_mm(value: Fraction | int, unit: str) -> Fraction:
    """Exact millimetres by pint."""
    magnitude = reference().Quantity(Fraction(value), unit).to("millimeter").magnitude
    assert isinstance(magnitude, Fraction)
    return magnitude


@pytest.mark.parametrize(
    ("unit", "reference_unit", "mm"),
    [
        ("in", "inch", Fraction("25.4")),
        ("ft", "foot", Fraction("304.8")),
        ("yd", "yard", Fraction("914.4")),
    ],
)
def test_international_units(unit: str, reference_unit: str, mm: Fraction) -> None:
    # the international yard and pound agreement of 1959; NIST SP 811 appendix B and
    # NIST Handbook 44 appendix C (both from memory)
    assert UNIT_MM[unit] == mm == reference_mm(1, reference_unit)
    assert parse_length(f"1 {unit}").mm == float(mm)


@pytest.mark.parametrize("spelling", ["ft", "foot", "feet", "'"])
def test_the_survey_foot_is_not_used(spelling: str) -> None:
    # 85 FR 62698 (5 October 2020): the US survey foot, 1200/3937 m, is retired
    survey_foot_mm = Fraction(1200, 3937) * 1000
    assert reference_mm(1, "survey_foot") == survey_foot_mm
    assert float((survey_foot_mm / UNIT_MM[spelling] - 1) * 10**6) == pytest.approx(
        2.000004, abs=1e-9
    )
    # over 300 ft the two are 0.18 mm apart
    assert parse_length(f"300 {spelling}").mm == 91_440.0


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("1/2", 12.7),
        ("1/4", 6.35),
        ("1/8", 3.175),
        ("1/16", 1.5875),
        ("1/32", 0.79375),
        ("1/64", 0.396875),
    ],
)
def test_binary_fractions_of_an_inch(text: str, mm: float) -> None:
    # arithmetic, and pint
    assert parse_length(f"{text} in").mm == mm == float(reference_mm(Fraction(text), "inch"))


@pytest.mark.parametrize(
    ("feet", "whole", "part", "mm"),
    [
        (8, 2, "3/8", 2498.725),
        (7, 10, "5/16", 2395.5375),
        (5, 11, "63/64", 1828.403125),
        (6, 6, "3/4", 2000.25),
    ],
)
def test_feet_inches_and_fractions(feet: int, whole: int, part: str, mm: float) -> None:
    # arithmetic, and pint
    expected = reference_mm(feet, "foot") + reference_mm(whole + Fraction(part), "inch")
    assert float(expected) == mm
    assert parse_length(f"{feet} ft {whole} {part} in").mm == mm
    assert parse_length(f"{feet}' {whole}-{part}\"").mm == mm


def test_rounding_uncertainty_of_a_sixteenth_inch_display() -> None:
    # GUM 4.3.7 (from memory): a rectangular distribution of half-width a has u = a / sqrt 3;
    # swept over 16 steps of the display at 4001 evenly spaced places
    span_mm = 16 * 25.4 / 16
    places = [1000 + span_mm * (k + 0.5) / 4001 for k in range(4001)]
    errors = [parse_length(format_length(mm, Units.INCH_16)).mm - mm for mm in places]
    half_width_mm, u_mm = 0.79375, 0.79375 / math.sqrt(3)
    assert u_mm == pytest.approx(0.45827, abs=5e-6)
    assert max(map(abs, errors)) == pytest.approx(half_width_mm, abs=0.007)
    assert max(map(abs, errors)) <= half_width_mm + 1e-9
    assert statistics.pstdev(errors) == pytest.approx(u_mm, abs=0.001)


@pytest.mark.parametrize("spelling", sorted(UNIT_MM.keys() - {"'", '"', "ins"}))
def test_every_spelling_is_the_unit_that_pint_knows_by_it(spelling: str) -> None:
    # "ins", the plural of the symbol, and the two marks are no units to pint
    assert UNIT_MM[spelling] == reference_mm(1, spelling)
    assert parse_length(f"7 {spelling}").mm == float(reference_mm(7, spelling))
    assert UNIT_MM["ins"] == UNIT_MM['"'] == reference_mm(1, "inch")


def test_mixed_metres_are_their_sum() -> None:
    total = reference_mm(2, "metre") + reference_mm(4, "decimetre")
    assert parse_length("2 m 4 dm").mm == float(total)
    total = reference_mm(2, "metre") + reference_mm(43, "centimetre")
    assert parse_length("2 m 43 cm").mm == parse_length("2m43").mm == float(total)
