"""Reading and printing lengths as people write them, metric or feet and inches.

What is read: one number with its unit (``2.435 m``, ``99 1/2 in``, ``8.25 ft``), or whole feet
followed by inches (``8' 3 1/2"``, ``8ft 3-1/2in``, ``8′ 3½″``, ``8'3``). A bare number is in
millimetres. The rules that save a person from a wrong length:

* The dot is always a decimal mark; thousands are never separated. One comma is a decimal comma
  (``2,435 m``, ``243,5 cm``, ``2435,4``), but where it could as well mark thousands (one to three
  digits, a comma, three digits) it is refused. With metres it is read all the same, because
  thousands of metres are not lengths here.
* A fraction is below one: ``8'11/2"`` could be 1 1/2 or 5 1/2 inches and is refused.
* Decimal feet are read as such, and a bare decimal that could be metres as millimetres; both are
  answered with a note.
* Zero is a length (an offset from a wall may be 0); nothing negative is, nor anything over 100 m.

Feet are international feet, 304.8 mm exactly, never survey feet. All arithmetic is exact, and
nothing here looks at the locale.
"""

import enum
import math
import re
import unicodedata
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Final, NamedTuple, Self

from witnessmark.errors import LengthError

_MM, _CM, _METRE = Fraction(1), Fraction(10), Fraction(1000)
_INCH = Fraction(254, 10)
_FOOT, _YARD = 12 * _INCH, 36 * _INCH

_SPELLINGS = {
    _MM: ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    _CM: ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    _METRE: ("m", "metre", "metres", "meter", "meters"),
    _INCH: ("in", '"', "inch", "inches"),
    _FOOT: ("ft", "'", "foot", "feet"),
    _YARD: ("yd", "yard", "yards"),
}

UNIT_MM: Final[Mapping[str, Fraction]] = MappingProxyType(
    {spelling: size for size, spellings in _SPELLINGS.items() for spelling in spellings}
)
"""What one of each unit is in millimetres, exactly, by its lower-case spelling."""

_LONGEST_MM = 100 * _METRE
_LONGEST_TEXT = 80
_HOW = "write it as 2435 mm, 243.5 cm, 2.435 m or 8' 3 1/2\""

_WHOLE_FROM_MM = 0.95
"""An expanded uncertainty of this or more rounds to a millimetre; tenths beside it mean nothing."""


class Units(enum.StrEnum):
    """What lengths are printed in, and to which step."""

    MM = "mm"
    TENTH_MM = "0.1 mm"
    INCH_16 = "1/16 in"
    INCH_32 = "1/32 in"

    @property
    def finer(self) -> Self:
        """Units for what was measured: bare millimetres with their tenths."""
        return Units.TENTH_MM if self is Units.MM else self

    @property
    def whole(self) -> Self:
        """Units for a tape and for targets: millimetres without their tenths."""
        return Units.MM if self is Units.TENTH_MM else self

    def known_to(self, expanded_mm: float) -> Self:
        """Units that print no more of a length than its expanded uncertainty supports.

        Tenths of a millimetre only where it is known to less than a millimetre.
        """
        return self if expanded_mm < _WHOLE_FROM_MM else self.whole


class Length(NamedTuple):
    """A length as it was read, mm, and something to tell the person who wrote it, if anything."""

    mm: float
    note: str | None = None


def parse_length(text: str) -> Length:
    """The length that a person wrote, 0 to 100 m.

    Raises:
        LengthError: when the text is not a length or could mean two; one sentence saying why.
    """
    try:
        mm, note = _read(_plain(text))
    except LengthError as why:
        raise LengthError(f'"{_shown(text)}" is not a length: {why}') from None
    return Length(float(mm), note)


def format_length(mm: float, units: Units = Units.MM, *, signed: bool = False) -> str:
    """A length or a difference of lengths, rounded to the step of ``units``.

    Halves are rounded away from zero, so that a difference and its opposite print alike. Negative
    values carry ``-``; with ``signed`` positive ones carry ``+``. What rounds to zero has no sign.

    Raises:
        LengthError: when ``mm`` is not finite.
    """
    if not math.isfinite(mm):
        raise LengthError(f"{mm} mm cannot be printed: a length is a finite number")
    step = _STEP_MM[units]
    # by its decimal digits: 2435.45 is then a half, although the nearest float is a hair below
    exact = Fraction(repr(float(abs(mm))))
    rounded = math.floor(exact / step + Fraction(1, 2)) * step
    positive = "+" if signed else ""
    sign = "" if rounded == 0 else "-" if mm < 0 else positive
    return sign + _written(rounded, units)


def format_known(mm: float, expanded_mm: float, units: Units) -> str:
    """A measured length with its expanded uncertainty, both to what that supports."""
    return f"{format_length(mm, units.known_to(expanded_mm))} ±{format_expanded(expanded_mm)}"


def format_expanded(expanded_mm: float, *, whole: bool = False) -> str:
    """An expanded uncertainty in millimetres; fractions of an inch would round it to none.

    From a millimetre on, or where ``whole``, it is rounded up to whole ones.

    Raises:
        LengthError: when it is not finite.
    """
    if math.isfinite(expanded_mm) and (whole or expanded_mm >= _WHOLE_FROM_MM):
        # the millionth keeps what is whole but for its last bit from being rounded up
        return format_length(math.ceil(expanded_mm - 1e-6))
    return format_length(expanded_mm, Units.TENTH_MM)


_VULGAR_FRACTIONS = {
    # the spaces part 3½ into 3 1/2 and keep 3½4 from becoming 3 1/24
    sign: f" {unicodedata.normalize('NFKC', sign)} ".replace("⁄", "/")
    for sign in "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
}
_PLAIN_SIGNS = str.maketrans(
    _VULGAR_FRACTIONS
    | dict.fromkeys("‘’′ʹʼ´`", "'")
    | dict.fromkeys("“”″ʺ", '"')
    | dict.fromkeys("‐‑‒–—−", "-")
    | dict.fromkeys("⁄∕", "/")
)

_QUANTITY = r"(?:[0-9]+(?: |- ?))?[0-9]+ ?/ ?[0-9]+|[0-9]+(?:[.,][0-9]+)*|\.[0-9]+"
_UNIT = r"[^\W\d_]+\.?|['\"]"
_BETWEEN = ", | - |- ?| ?"
_LENGTH = re.compile(
    rf"({_QUANTITY})(?: ?({_UNIT})(?:(?:{_BETWEEN})({_QUANTITY})(?: ?({_UNIT}))?)?)?"
)
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")


def _plain(text: str) -> str:
    """The text in lower case, with the plainest signs and single spaces."""
    return " ".join(text.translate(_PLAIN_SIGNS).casefold().split()).replace("''", '"')


def _shown(text: str) -> str:
    """The text fit to be quoted in a message: one short line, nothing that upsets a terminal."""
    line = " ".join(text.split())
    line = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in line)
    return line if len(line) <= 40 else line[:39] + "…"


def _read(plain: str) -> tuple[Fraction, str | None]:
    mm, note = _sum_of_parts(*_parts(plain))
    if mm > _LONGEST_MM:
        raise LengthError("it is over 100 m; check the number and its unit")
    return mm, note


def _parts(plain: str) -> tuple[str, str | None, str | None, str | None]:
    """Quantity, its unit, a second quantity, its unit."""
    if not plain:
        raise LengthError(f"it is empty; {_HOW}")
    if plain.startswith("-"):
        raise LengthError("it is negative; give the distance without a sign")
    match = _LENGTH.fullmatch(plain) if len(plain) <= _LONGEST_TEXT else None
    if match is None:
        raise LengthError(_HOW)
    return match[1], match[2], match[3], match[4]


def _sum_of_parts(
    quantity: str, unit: str | None, rest: str | None, rest_unit: str | None
) -> tuple[Fraction, str | None]:
    if unit is None:
        return _bare_mm(quantity)
    if rest is None:
        return _with_unit(quantity, _unit_mm(unit))
    if _unit_mm(unit) != _FOOT or _unit_mm(rest_unit or "in") != _INCH:
        raise LengthError("only feet can be followed by a second number, and only by inches")
    return _feet_and_inches(quantity, rest), None


def _bare_mm(quantity: str) -> tuple[Fraction, str | None]:
    if "/" in quantity:
        raise LengthError(f'a fraction needs its unit; for inches write {quantity}"')
    mm = _number(quantity, _MM)
    if quantity.isdigit() or mm * _METRE > _LONGEST_MM:
        return mm, None
    return mm, f"{quantity} was read as millimetres; for metres write {quantity} m"


def _with_unit(quantity: str, unit_mm: Fraction) -> tuple[Fraction, str | None]:
    value = _number(quantity, unit_mm)
    is_decimal_feet = unit_mm == _FOOT and "/" not in quantity and value.denominator != 1
    return value * unit_mm, _decimal_feet_note(quantity, value) if is_decimal_feet else None


def _decimal_feet_note(quantity: str, feet: Fraction) -> str:
    """What decimal feet are in feet and inches, and how to write what was perhaps meant."""
    in_feet_and_inches = format_length(float(feet * _FOOT), Units.INCH_16)
    note = f'{quantity} ft was read as decimal feet: {in_feet_and_inches} to the nearest 1/16"'
    whole, decimals = math.floor(feet), int(re.split("[.,]", quantity)[1])
    if decimals >= 12:
        return note
    return f"{note}; for {whole} feet {decimals} inches write {whole}' {decimals}\""


def _feet_and_inches(feet: str, inches: str) -> Fraction:
    if not feet.isdigit():
        raise LengthError(f"feet before inches are a whole number, not {feet}")
    inches_value = _number(inches, _INCH)
    if inches_value >= 12:
        raise LengthError(f"inches after feet are below 12, not {inches}")
    return int(feet) * _FOOT + inches_value * _INCH


def _unit_mm(spelling: str) -> Fraction:
    try:
        return UNIT_MM[spelling.removesuffix(".")]
    except KeyError:
        raise LengthError(f"{spelling} is not a unit known here; {_HOW}") from None


def _number(quantity: str, unit_mm: Fraction) -> Fraction:
    return _mixed(quantity) if "/" in quantity else _decimal(quantity, unit_mm)


def _mixed(quantity: str) -> Fraction:
    """A fraction below one, alone or after a whole number: ``1/2``, ``3 1/2``, ``3-1/2``."""
    *whole, numerator, denominator = (int(digits) for digits in re.findall("[0-9]+", quantity))
    if denominator == 0:
        raise LengthError("a fraction cannot have 0 below its line")
    if numerator >= denominator:
        raise LengthError(
            f"{numerator}/{denominator} is not below 1; "
            "write the whole number, a space and the rest, such as 3 1/2"
        )
    return sum(whole) + Fraction(numerator, denominator)


def _decimal(quantity: str, unit_mm: Fraction) -> Fraction:
    if quantity.count(".") + quantity.count(",") > 1:
        raise LengthError("thousands are not separated; write 2435.5 mm")
    if unit_mm != _METRE and _THOUSANDS.fullmatch(quantity):
        raise LengthError(
            "the comma could mark thousands or decimals; "
            f"write {quantity.replace(',', '')} or {quantity.replace(',', '.')} with the unit"
        )
    return Fraction(quantity.replace(",", "."))


_STEP_MM = {
    Units.MM: _MM,
    Units.TENTH_MM: _MM / 10,
    Units.INCH_16: _INCH / 16,
    Units.INCH_32: _INCH / 32,
}


def _written(mm: Fraction, units: Units) -> str:
    """A length that is a whole number of steps."""
    if units is Units.MM:
        return f"{mm} mm"
    if units is Units.TENTH_MM:
        return f"{float(mm):.1f} mm"
    return _feet_inches_fraction(mm / _INCH)


def _feet_inches_fraction(inches: Fraction) -> str:
    feet, below_a_foot = divmod(inches, 12)
    whole, part = divmod(below_a_foot, 1)
    words = [f"{feet}'"] if feet else []
    # 8' 1/2" seen from across a room could be 8 1/2"; 8' 0 1/2" could not
    if whole or feet or not part:
        words.append(str(whole))
    if part:
        words.append(str(part))
    return " ".join(words) + '"'
