"""Reading and printing lengths as people write them, metric or feet and inches.

What is read, after a ``+`` or nothing:

* one number with its unit: ``2.435 m``, ``2 435 mm``, ``99 1/2 in``, ``8.25 ft``, ``,5 m``;
* whole feet and inches: ``8' 3 1/2"``, ``8ft 3-1/2in``, ``8′ 3½″``, ``8'3``, ``8-3 1/2"``;
* whole metres and dm, cm or mm: ``2 m 43 cm``; without a unit two digits are cm (``2m43``) and
  three are mm (``2m435``);
* a bare number, which is in millimetres.

Full-width digits, letters and signs are read as the usual ones. The rules that save a person from a
wrong length:

* What could mean two lengths is asked back with both.
* Thousands are separated by a space, in groups of exactly three digits. One dot or one comma is a
  decimal mark (``2,435 m``, ``243,5 cm``, ``2435,4``), except where it could mark thousands: one to
  three digits, the mark, three digits. There a comma is asked back, but not with m or dm, because
  thousands of them are not lengths here. A dot is asked back with cm. With mm it marks thousands
  and is answered with a note: nobody measures a room in thousandths of a millimetre, and who wrote
  mm for m meant the same length. With the other units it is decimal, because that many of them are
  no room, and thousandths of an inch are common.
* Apostrophes mark feet, never thousands: ``1'005`` is asked back.
* A second number is below one of the first unit, and inches have no 0 in front.
* A fraction is below one: ``8'11/2"`` could be 1 1/2 or 5 1/2 inches and is refused.
* Decimal feet are read as such, and a bare number that could be metres as millimetres; both are
  answered with a note.
* Zero is a length (an offset from a wall may be 0); nothing negative is, nor anything over 100 m.

Feet are international feet, 304.8 mm exactly, never survey feet. All arithmetic is exact, and
nothing here looks at the locale.
"""

import enum
import math
import re
import unicodedata
from collections.abc import Callable, Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Final, NamedTuple, Self

from witnessmark.errors import LengthError

_MM, _CM, _DM, _METRE = Fraction(1), Fraction(10), Fraction(100), Fraction(1000)
_INCH = Fraction(254, 10)
_FOOT, _YARD = 12 * _INCH, 36 * _INCH

_SPELLINGS = {
    _MM: ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    _CM: ("cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    _DM: ("dm", "decimetre", "decimetres", "decimeter", "decimeters"),
    _METRE: ("m", "metre", "metres", "meter", "meters"),
    _INCH: ("in", '"', "ins", "inch", "inches"),
    _FOOT: ("ft", "'", "foot", "feet"),
    _YARD: ("yd", "yard", "yards"),
}

UNIT_MM: Final[Mapping[str, Fraction]] = MappingProxyType(
    {spelling: size for size, spellings in _SPELLINGS.items() for spelling in spellings}
)
"""What one of each unit is in millimetres, exactly, by its lower-case spelling."""

LONGEST_MM: Final = 100 * _METRE
"""Longest distance in a room, mm; what reads as longer is a slip."""
_LONGEST_TEXT = 80
_HOW = "write it as 2435 mm, 243.5 cm, 2.435 m or 8' 3 1/2\""

NOT_PRINTED_MM: Final = 0.05
"""Length below which no unit prints a difference, mm."""
_WHOLE_FROM_MM = 0.95
"""Expanded uncertainty, mm, from which lengths are printed in whole millimetres, to which it
rounds."""

_DECIMAL_BELOW = 0.99
"""Inches up to which two decimals are two digits."""


class Units(enum.StrEnum):
    """What lengths are printed in, and to which step."""

    MM = "mm"
    TENTH_MM = "0.1 mm"
    INCH_16 = "1/16 in"
    INCH_32 = "1/32 in"

    @property
    def is_metric(self) -> bool:
        """Whether lengths are printed in millimetres, rather than in feet and inches."""
        return self in (Units.MM, Units.TENTH_MM)

    @property
    def finer(self) -> Self:
        """The same units in a finer step, for measured lengths and a meter's own figures."""
        return _FINER.get(self, self)

    @property
    def whole(self) -> Self:
        """Units for a tape and for targets: millimetres without their tenths."""
        return Units.MM if self is Units.TENTH_MM else self

    def known_to(self, expanded_mm: float) -> Self:
        """Return units that print no more of a length than its expanded uncertainty supports.

        Tenths of a millimetre only where it is known to less than a millimetre.
        """
        return self if expanded_mm < _WHOLE_FROM_MM else self.whole


_FINER: Final = {Units.MM: Units.TENTH_MM, Units.INCH_16: Units.INCH_32}


class Length(NamedTuple):
    """A length as it was read, mm, and something to tell the person who wrote it, if anything."""

    mm: float
    note: str | None = None


class _Unclear(LengthError):
    """A text that could mean two lengths; the message names both, and what to write."""


def parse_length(text: str, *, signed: bool = False) -> Length:
    """Return the length that a person wrote, 0 to 100 m; with ``signed`` also one below zero.

    Raises:
        LengthError: when the text is not a length or could mean two; one sentence saying why.
    """
    plain = with_plain_signs(text)
    is_negative = signed and plain.startswith("-")
    try:
        mm, note = _read(plain[1:].lstrip() if is_negative else plain)
    except _Unclear as readings:
        raise LengthError(f'"{_shown(text)}" could be {readings}') from None
    except LengthError as why:
        raise LengthError(f'"{_shown(text)}" is not a length: {why}') from None
    return Length(float(-mm if is_negative else mm), note)


def format_length(mm: float, units: Units = Units.MM, *, signed: bool = False) -> str:
    """Return a length or a difference of lengths, rounded to the step of ``units``.

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


def format_small(mm: float, units: Units, *, signed: bool = False, fine: bool = False) -> str:
    """Return a figure that is small beside the steps of ``units``, as a difference or a limit.

    It is in tenths of a millimetre, or hundredths of an inch; ``fine`` makes it a tenth of those.
    From an inch on it is feet and inches as any length.
    """
    if not units.is_metric and abs(mm) > _DECIMAL_BELOW * _INCH:
        return format_length(mm, units, signed=signed)
    decimals = 1 + fine + (not units.is_metric)
    return _with_decimals(mm, units, decimals, round, signed=signed)


def format_limit(mm: float, units: Units) -> str:
    """Return a limit as it was set: millimetres with the decimals they have, or inches."""
    return f"{mm:g} mm" if units.is_metric else format_small(mm, units)


def format_off(mm: float, units: Units) -> str:
    """Return by how much a reading is wrong, unsigned: in whole millimetres, or inches."""
    return f"{abs(mm):.0f} mm" if units.is_metric else format_small(abs(mm), units)


def format_at_most(mm: float, units: Units) -> str:
    """Return a limit, 0 or more, rounded down: nobody is told that more will do than does."""
    if units.is_metric:
        return _with_decimals(mm, units, 1, math.floor)
    return _with_decimals(mm, units, _inch_decimals(mm), math.floor)


def format_bare(mm: float, units: Units) -> str:
    """Return a length without its unit where that is the millimetre, for lists and brackets."""
    return format_length(mm, units).removesuffix(" mm")


def format_known(mm: float, expanded_mm: float, units: Units) -> str:
    """Return a measured length with its expanded uncertainty, both to what that supports."""
    length = format_length(mm, units.known_to(expanded_mm))
    return f"{length} ±{format_expanded(expanded_mm, units)}"


def format_expanded(expanded_mm: float, units: Units, *, whole: bool | None = None) -> str:
    """Return an expanded uncertainty, 0 or more: millimetres, or decimal inches.

    From a millimetre on, or where ``whole``, it is rounded up to whole ones; with ``whole`` False
    tenths are kept, for a place beside other tenths. Fractions of an inch would round it to none,
    so inches are decimal and always rounded up, to two significant digits at most (JCGM 100:2008,
    7.2.6).

    Raises:
        LengthError: when it is not finite.
    """
    if not math.isfinite(expanded_mm):
        raise LengthError(f"{expanded_mm} mm cannot be printed: a length is a finite number")
    if not units.is_metric:
        return _with_decimals(expanded_mm, units, _inch_decimals(expanded_mm), _up)
    if whole is None:
        whole = expanded_mm >= _WHOLE_FROM_MM
    return _with_decimals(expanded_mm, units, 0, _up) if whole else format_small(expanded_mm, units)


def _inch_decimals(mm: float) -> int:
    """How many decimals of inches are as much as whole or tenths of millimetres tell."""
    inches = mm / float(_INCH)
    if mm < _WHOLE_FROM_MM:
        return 3
    return 2 if inches <= _DECIMAL_BELOW else 1 if inches <= 9.9 else 0


def _up(steps: Fraction) -> int:
    """The next whole number; a millionth keeps what is whole but for its last bit as it is."""
    return math.ceil(steps - Fraction(1, 10**6))


def _with_decimals(
    mm: float,
    units: Units,
    decimals: int,
    rounded: Callable[[Fraction], int],
    *,
    signed: bool = False,
) -> str:
    """A length in millimetres or inches with so many decimals."""
    unit, name = (_MM, "mm") if units.is_metric else (_INCH, "in")
    steps = rounded(Fraction(repr(float(abs(mm)))) / unit * 10**decimals)
    positive = "+" if signed else ""
    sign = "" if steps == 0 else "-" if mm < 0 else positive
    return f"{sign}{steps / 10**decimals:.{decimals}f} {name}"


_VULGAR_FRACTIONS = {
    # the spaces part 3½ into 3 1/2 and keep 3½4 from becoming 3 1/24
    sign: f" {unicodedata.normalize('NFKC', sign)} ".replace("⁄", "/")
    for sign in "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"
}
_FULL_WIDTH_SIGNS = {
    # only these: in full, NFKC would read 2435² as 24352
    sign: unicodedata.normalize("NFKC", sign)
    for sign in (*map(chr, range(0xFF01, 0xFF5F)), *"㎜㎝㍷")
}
_PLAIN_SIGNS = str.maketrans(
    _VULGAR_FRACTIONS
    | _FULL_WIDTH_SIGNS
    | dict.fromkeys("‘’′ʹʼ´`", "'")
    | dict.fromkeys("“”″ʺ", '"')
    | dict.fromkeys("‐‑‒–—−", "-")
    | dict.fromkeys("⁄∕", "/")
)

_GROUPED = r"[1-9][0-9]{0,2}(?: [0-9]{3})+(?:[.,][0-9]+)?"
_MIXED = r"(?:[0-9]+(?: |- ?))?[0-9]+ ?/ ?[0-9]+"
_PART = rf"{_MIXED}|{_GROUPED}|[0-9]+(?:[.,][0-9]+)*|\.[0-9]+|[0-9]+\."
# not after a unit: 8 ft,3 in would be 8 ft 0.3 in
_QUANTITY = rf"{_PART}|,[0-9]+"
_UNIT = r"[^\W\d_]+\.?|['\"]"
_BETWEEN = ", | - |- ?| ?"
# not compiled until a length is read: a start reads none
_LENGTH = rf"({_QUANTITY})(?: ?({_UNIT})(?:(?:{_BETWEEN})({_PART})(?: ?({_UNIT}))?)?)?"
# 8-3 1/2" and 8-3", but not 8-1/2", which is one number
_FEET_BY_HYPHEN = (
    r"([0-9]+) ?- ?([0-9]+(?:(?: |- ?)[0-9]+ ?/ ?[0-9]+|[.,][0-9]+)?) ?(\"|in(?:s|ch|ches)?\.?)"
)
_PERHAPS_THOUSANDS = r"[1-9][0-9]{0,2}([.,])[0-9]{3}"
_APOSTROPHE_THOUSANDS = r"(?P<thousands>[1-9][0-9]{0,2})'(?P<rest>[0-9]{3}) ?(?P<unit>[^\W\d_]*)\.?"


def with_plain_signs(text: str) -> str:
    """Return a text in lower case, with the plainest signs and single spaces."""
    return " ".join(text.translate(_PLAIN_SIGNS).casefold().split()).replace("''", '"')


def _shown(text: str) -> str:
    """The text fit to be quoted in a message: one short line, nothing that upsets a terminal."""
    line = " ".join(text.split())
    line = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in line)
    return line if len(line) <= 40 else line[:39] + "…"


def _read(plain: str) -> tuple[Fraction, str | None]:
    mm, note = _sum_of_parts(*_parts(plain))
    if mm > LONGEST_MM:
        raise LengthError("it is over 100 m; check the number and its unit")
    return mm, note


def _parts(plain: str) -> tuple[str, str | None, str | None, str | None]:
    """Quantity, its unit, a second quantity, its unit."""
    if not plain:
        raise LengthError(f"it is empty; {_HOW}")
    if plain.startswith("-"):
        raise LengthError("it is negative; give the distance without a sign")
    if len(plain) > _LONGEST_TEXT:
        raise LengthError(_HOW)
    unsigned = plain.removeprefix("+").lstrip()
    _check_apostrophe(unsigned)
    if match := re.fullmatch(_FEET_BY_HYPHEN, unsigned):
        return match[1], "'", match[2], match[3]
    match = re.fullmatch(_LENGTH, unsigned)
    if match is None:
        raise LengthError(_HOW)
    return match[1], match[2], match[3], match[4]


def _check_apostrophe(plain: str) -> None:
    """Three digits after an apostrophe are thousands to some, and never inches."""
    match = re.fullmatch(_APOSTROPHE_THOUSANDS, plain)
    if match is None or UNIT_MM.get(match["unit"]) == _INCH:
        return
    together = f"{match['thousands']}{match['rest']} {match['unit'] or 'mm'}"
    inches = int(match["rest"])
    if match["unit"] or inches >= 12:
        raise LengthError(
            f"an apostrophe marks feet, not thousands; write {together} or, for feet and inches, "
            "8' 3 1/2\""
        )
    raise _Unclear(
        f"{together} or {match['thousands']}' {inches}\": the apostrophe could mark thousands or "
        "feet; write one of these"
    )


def _sum_of_parts(
    quantity: str, unit: str | None, rest: str | None, rest_unit: str | None
) -> tuple[Fraction, str | None]:
    if unit is None:
        return _bare_mm(quantity)
    if rest is None:
        return _with_unit(quantity, _unit_mm(unit))
    unit_mm, rest_unit_mm = _unit_mm(unit), _unit_mm(rest_unit) if rest_unit else None
    if unit_mm == _FOOT and rest_unit_mm in (None, _INCH):
        return _feet_and_inches(quantity, rest), None
    if unit_mm == _METRE and rest_unit_mm in (None, _DM, _CM, _MM):
        return _metres_and_part(quantity, rest, rest_unit_mm), None
    raise LengthError("only feet can be followed by inches, and only metres by dm, cm or mm")


def _bare_mm(quantity: str) -> tuple[Fraction, str | None]:
    if "/" in quantity:
        raise LengthError(f'a fraction needs its unit; for inches write {quantity}"')
    mm = _number(quantity)
    if quantity.isdigit() or mm == 0 or mm * _METRE > LONGEST_MM:
        return mm, None
    return mm, perhaps_metres(quantity)


def meant_in_metres(text: str) -> str | None:
    """Return a bare number as a length in metres, where one in millimetres is hardly meant.

    That is a decimal number below a hundred, such as 5.43; None for any other text.
    """
    bare = with_plain_signs(text)
    is_likely = re.fullmatch("[0-9]{1,2}[.,][0-9]+", bare) is not None
    return f"{bare} m" if is_likely and _number(bare) else None


def asked_back(metres: str, text: str) -> str:
    """Return the question whether a bare number, as it was typed, was meant in metres."""
    return f"{metres}? Press Enter, or write {text} mm"


def perhaps_metres(number: str) -> str:
    """Note on a bare number, as it was written, that may have been meant in metres."""
    return f"{number} was read as millimetres; for metres write {number} m"


def _with_unit(quantity: str, unit_mm: Fraction) -> tuple[Fraction, str | None]:
    whole = quantity.replace(".", "")
    is_grouped = "." in quantity and re.fullmatch(_PERHAPS_THOUSANDS, quantity)
    if unit_mm == _MM and is_grouped and int(whole) <= LONGEST_MM:
        note = f"{quantity} mm was read as {whole} mm; for decimals write {quantity}0 mm"
        return Fraction(whole), note
    value = _number(quantity, unit_mm)
    is_decimal_feet = unit_mm == _FOOT and "/" not in quantity and value.denominator != 1
    return value * unit_mm, _decimal_feet_note(quantity, value) if is_decimal_feet else None


def _decimal_feet_note(quantity: str, feet: Fraction) -> str:
    """Return what decimal feet are in feet and inches, and how to write what was perhaps meant."""
    in_feet_and_inches = format_length(float(feet * _FOOT), Units.INCH_16)
    note = f'{quantity} ft was read as decimal feet: {in_feet_and_inches} to the nearest 1/16"'
    whole, decimals = math.floor(feet), int(re.split("[.,]", quantity)[1])
    if decimals >= 12:
        return note
    return f"{note}; for {whole} feet {decimals} inches write {whole}' {decimals}\""


def _feet_and_inches(feet: str, inches: str) -> Fraction:
    if not feet.isdigit():
        raise LengthError(f"feet before inches are a whole number, not {feet}")
    inches_value = _part(inches)
    if inches_value >= 12:
        raise LengthError(f"inches after feet are below 12, not {inches}")
    # of four digits of feet it is said that they are over 100 m
    if re.match("0[0-9]", inches) and len(feet) < 4:
        without = inches.lstrip("0") or "0"
        if without == "0":
            raise LengthError(f"inches have no 0 in front; write {feet}' 0\"")
        if without.isdigit():
            raise _Unclear(
                f"{feet}' {without}\" or {feet}' 0.{inches[1:]}\": inches have no 0 in front; "
                "write one of these"
            )
        raise LengthError(f"inches have no 0 in front; write {feet}' 3 1/2\"")
    return int(feet) * _FOOT + inches_value * _INCH


def _metres_and_part(metres: str, part: str, unit_mm: Fraction | None) -> Fraction:
    """Whole metres and what is added to them; bare, two digits are cm and three are mm."""
    if not metres.isdigit():
        raise LengthError(f"metres before a second number are a whole number, not {metres}")
    if unit_mm is None:
        unit_mm = _bare_part_unit_mm(metres, part)
    part_mm = _part(part) * unit_mm
    if part_mm >= _METRE:
        raise LengthError(f"what follows metres is below 1 m, not {part} {_symbol(unit_mm)}")
    return int(metres) * _METRE + part_mm


def _bare_part_unit_mm(metres: str, part: str) -> Fraction:
    if re.fullmatch(r"[0-9]{2}(?:[.,][0-9]+)?", part):
        return _CM
    if re.fullmatch("[0-9]{3}", part):
        return _MM
    if re.fullmatch("[0-9]", part):
        raise _Unclear(f"{metres}.{part} m or {metres}.0{part} m; write one of these")
    raise LengthError("what follows metres needs its unit, such as 2 m 43 cm")


def _unit_mm(spelling: str) -> Fraction:
    try:
        return UNIT_MM[spelling.removesuffix(".")]
    except KeyError:
        raise LengthError(f"{spelling} is not a unit known here; {_HOW}") from None


def _symbol(unit_mm: Fraction) -> str:
    return _SPELLINGS[unit_mm][0]


def _number(quantity: str, unit_mm: Fraction | None = None) -> Fraction:
    """The number before a unit, or a bare one."""
    mark = re.fullmatch(_PERHAPS_THOUSANDS, quantity)
    if mark and (mark[1] == "," or unit_mm == _CM) and unit_mm not in (_METRE, _DM):
        _ask_which_mark(quantity, unit_mm or _MM, mark[1])
    return _part(quantity)


def _ask_which_mark(quantity: str, unit_mm: Fraction, mark: str) -> None:
    """Refuse a number whose mark may stand for thousands, naming what it may mean.

    Both are written so that they are understood when written back: with mm and cm a further 0 says
    that the dot is a decimal mark.
    """
    unit, zero = _symbol(unit_mm), "0" if unit_mm in (_MM, _CM) else ""
    raise _Unclear(
        f"{quantity.replace(mark, '.')}{zero} {unit} or {quantity.replace(mark, '')} {unit}: "
        f"the {_MARK_NAMES[mark]} could mark thousands or decimals; write one of these"
    )


_MARK_NAMES = {".": "dot", ",": "comma"}


def _part(quantity: str) -> Fraction:
    """A number in which one dot or comma is a decimal mark."""
    return _mixed(quantity) if "/" in quantity else _decimal(quantity)


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


def _decimal(quantity: str) -> Fraction:
    if quantity.count(".") + quantity.count(",") > 1:
        raise LengthError(
            "thousands are not separated by dots or commas, and a number has one decimal mark; "
            "write 2435.5 mm"
        )
    return Fraction(quantity.replace(" ", "").replace(",", "."))


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
