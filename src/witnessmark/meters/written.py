"""Numbers as meters write them in text: decimal, with a power of ten, grouped, in sixteens, mixed.

Who reads such a number knows from a profile how it is written. Nothing here guesses.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Final

FEET: Final = (
    r"[0-9]{1,3} ?(?:'|ft|FT|feet|\u2032)[ -]*"
    r"[0-9]{1,2}(?:[.,][0-9]{1,4}|(?:[ -]+[0-9]{1,2}/[0-9]{1,3}))?"
    r" ?(?:\"|''|inch|in|IN|\u2033)?"
)
"""Feet and inches, in which zeros may fill the inches up to two digits."""

_DECIMAL = re.compile(
    "(?P<digits>[0-9]{1,12}(?:[.,][0-9]{1,12})?)(?:[eE](?P<power>[+-]?[0-9]{1,2}))?"
)
_SIXTEENS = re.compile("(?:0[xX])?(?P<digits>[0-9A-Fa-f]{1,12})[hH]?")
_MIXED = re.compile(r"(?:(?P<whole>[0-9]{1,6})[ -]+)?(?P<over>[0-9]{1,3})/(?P<under>[0-9]{1,3})")
_FEET = re.compile(FEET)
_FEET_PARTS = re.compile(r"(?P<feet>[0-9]+)[^0-9]+(?P<inches>[0-9].*?)[^0-9]*")


def number_written(
    value: str, *, thousands: str = "", hexadecimal: bool = False
) -> Fraction | None:
    """Return the number that a text is, exactly; None where it is none.

    ``thousands`` is the sign between groups of three digits, if there is one.
    """
    if hexadecimal:
        sixteens = _SIXTEENS.fullmatch(value)
        return Fraction(int(sixteens["digits"], 16)) if sixteens else None
    if thousands:
        value = value.replace(thousands, "")
    if decimal := _DECIMAL.fullmatch(value):
        number = Fraction(decimal["digits"].replace(",", "."))
        return number * Fraction(10) ** int(decimal["power"] or 0)
    return _mixed(value)


def inches_written(value: str) -> Fraction | None:
    """Return the inches that feet and inches are, exactly; None where a text is no such."""
    parts = _FEET_PARTS.fullmatch(value) if _FEET.fullmatch(value) else None
    if parts is None:
        return None
    whole, *rest = re.split("[ -]+", parts["inches"])
    inches = Fraction(whole.replace(",", "."))
    if rest:
        part = _mixed(rest[0])
        inches = inches + part if part is not None else Fraction(12)
    return int(parts["feet"]) * 12 + inches if inches < 12 else None


def _mixed(value: str) -> Fraction | None:
    """Return a fraction below one, alone or behind a whole number."""
    parts = _MIXED.fullmatch(value)
    if parts is None or not int(parts["over"]) < int(parts["under"]):
        return None
    return int(parts["whole"] or 0) + Fraction(int(parts["over"]), int(parts["under"]))
