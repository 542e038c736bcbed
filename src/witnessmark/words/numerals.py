"""Numbers, lengths and angles spelled for the ear: rounded to what hands can follow."""

from __future__ import annotations

from fractions import Fraction

from witnessmark.lengths import UNIT_MM, Units, format_bare

_SMALL = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"),
    *("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
)
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_PARTS = {2: "half", 4: "quarter", 8: "eighth", 16: "sixteenth"}
_HALVES_BELOW_MM = 3.0
"""Length, mm, below which halves are spelled: a nudge of one and of two differ by as much."""
_INCH_STEPS = ((1, Fraction(1, 16)), (4, Fraction(1, 8)), (12, Fraction(1, 4)))
"""Inches below which a length is rounded to which part of one; longer ones to halves."""


def number_words(number: int) -> str:
    """Return a whole number below a million, not below zero, as it is spelled."""
    if number < 20:
        return _SMALL[number]
    if number < 100:
        tens, rest = divmod(number, 10)
        return _TENS[tens] + (f"-{_SMALL[rest]}" if rest else "")
    size, name = (1000, "thousand") if number >= 1000 else (100, "hundred")
    many, rest = divmod(number, size)
    joint = " and " if rest < 100 else " "
    return f"{number_words(many)} {name}" + (f"{joint}{number_words(rest)}" if rest else "")


def digit_words(number: int) -> str:
    """Return the digits of a whole number one by one, as a display shows them."""
    return " ".join(_SMALL[int(digit)] for digit in str(number))


def move_words(move_mm: float, units: Units) -> str:
    """Return how far to move, unsigned, with its unit: rounded to what hands can follow."""
    far = abs(move_mm)
    if not units.is_metric:
        inches = Fraction(far) / UNIT_MM["in"]
        step = next((part for below, part in _INCH_STEPS if inches < below), Fraction(1, 2))
        return _inch_words(round(inches / step) * step)
    halves = round(2.0 * far) if far < _HALVES_BELOW_MM else 2 * round(far)
    return _amount_words(Fraction(halves, 2), "millimetre")


def reading_words(reading_mm: float, units: Units) -> str:
    """Return what a meter shows: its millimetres digit by digit, or feet and inches."""
    if units.is_metric:
        return digit_words(int(format_bare(reading_mm, Units.MM)))
    steps = round(Fraction(reading_mm) / UNIT_MM["in"] * 16)
    feet, sixteenths = divmod(steps, 12 * 16)
    inches = _inch_words(Fraction(sixteenths, 16))
    if not feet:
        return inches
    whole = f"{number_words(feet)} {'foot' if feet == 1 else 'feet'}"
    return f"{whole} {inches}" if sixteenths else whole


def angle_words(angle_deg: float) -> str:
    """Return how far to turn, unsigned, to a tenth of a degree."""
    tenths = round(10.0 * abs(angle_deg))
    if tenths == 5:
        return "half a degree"
    whole, rest = divmod(tenths, 10)
    if not rest:
        return f"{number_words(whole)} degree{'' if whole == 1 else 's'}"
    return f"{number_words(whole)} point {_SMALL[rest]} degrees"


def _inch_words(inches: Fraction) -> str:
    return _amount_words(inches, "inch")


def _amount_words(amount: Fraction, unit: str) -> str:
    """Spell a whole number and a part of a unit: ``six and three quarter inches``."""
    whole, part = divmod(amount, 1)
    many = f"{unit}es" if unit == "inch" else f"{unit}s"
    if not part:
        return f"{number_words(whole)} {unit if whole == 1 else many}"
    if whole:
        return f"{number_words(whole)} and {_part_words(part, counted=False)} {many}"
    article = "an" if unit[0] in "aeiou" else "a"
    joint = "" if part == Fraction(1, 2) else "of "
    return f"{_part_words(part, counted=True)} {joint}{article} {unit}"


def _part_words(part: Fraction, *, counted: bool) -> str:
    """Spell a part; ``counted`` where the unit follows as of one: ``three quarters of``."""
    name = _PARTS[part.denominator]
    if part.numerator > 1:
        return f"{_SMALL[part.numerator]} {name}{'s' if counted or name != 'quarter' else ''}"
    if name == "half" and counted:
        return name
    return f"{'an' if name == 'eighth' else 'a'} {name}"
