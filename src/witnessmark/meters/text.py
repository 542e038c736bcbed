"""One text line of a meter: a distance, the meter's own error, or noise.

A line holds one number and perhaps its unit, or feet and inches. What could be the end of a longer
number, cut by a bad line, is refused: a wrong distance is worse than none.
"""

from __future__ import annotations

import re
from datetime import datetime
from fractions import Fraction

from msgspec import UNSET

from witnessmark.errors import BadInput, LengthError
from witnessmark.file_errors import printable
from witnessmark.lengths import UNIT_MM, Length, parse_length, with_plain_signs
from witnessmark.meters.address import Address
from witnessmark.meters.framing import MOST_BYTES, Line, Rubbish
from witnessmark.meters.number import scaled_mm
from witnessmark.meters.pattern import (
    BoundedPattern,
    PatternTooCostly,
    StepAllowance,
    TooMuchAtOnce,
)
from witnessmark.meters.port import Fault, MeterSaysNo, Noise, UnitMissing
from witnessmark.meters.profile import Text
from witnessmark.meters.profile_values import Pattern
from witnessmark.meters.written import inches_written, number_written
from witnessmark.model import Reading


class PatternReader:
    """Reads lines by the pattern of ``text``, which has to match from the first sign to the last.

    Where a line does not match, it may still be one of the profile's faults, or an error line such
    as any meter may send.
    """

    def __init__(self, text: Text, pattern: Pattern) -> None:
        self._text = text
        self._pattern = BoundedPattern(pattern)
        self._allowance = StepAllowance()

    def distance_mm(self, data: bytes, at: datetime) -> float:
        """Return the distance that a line holds, mm, which came at this time.

        Raises:
            MeterSaysNo: when the line is the meter's own error.
            LengthError: when it is neither, saying why.
        """
        if len(data) > MOST_BYTES:
            raise LengthError(f"the line is over {MOST_BYTES} bytes long")
        line = decoded(data)
        found = self._found(line, at)
        if found is None:
            words = self._text.faults.get(line.strip()) or error_words(line)
            if words:
                raise MeterSaysNo(words)
            raise LengthError("the line does not match the profile's pattern")
        checksum = self._text.checksum
        if checksum and not checksum.fits(data.rstrip()):
            raise LengthError("the line's checksum does not fit: something in it was damaged")
        self._check_status(found.get("status"))
        return self._value_mm(found["value"], found.get("unit") or self._text.unit)

    def _found(self, line: str, at: datetime) -> dict[str, str | None] | None:
        try:
            return self._pattern.fullmatch(line, at, self._allowance)
        except TooMuchAtOnce:
            raise LengthError(
                "too much comes at once for the profile's pattern; write a narrower one"
            ) from None
        except PatternTooCostly:
            raise LengthError(
                "the profile's pattern can read this line in too many ways; write a narrower one"
            ) from None

    def _check_status(self, status: str | None) -> None:
        if self._text.ok and status not in self._text.ok:
            known = self._text.faults.get(status or "")
            raise MeterSaysNo(known or f'the meter\'s status is "{status}", not "ok"')

    def _value_mm(self, value: str | None, unit: str | None) -> float:
        value = (value or "").strip().removeprefix("+").lstrip()
        unit = (unit or "").strip().lower()
        text = self._text
        number = number_written(value, thousands=text.thousands, hexadecimal=text.hexadecimal)
        inches = None if text.hexadecimal else inches_written(value)
        if number is not None:
            if unit not in UNIT_MM:
                raise LengthError(f'"{unit}" is not a unit of length known here')
            mm = scaled_mm(number, text.scale, unit)
        elif inches is not None and float(text.scale) == 1:
            mm = inches * UNIT_MM["in"]
        else:
            # never as a person may write it: ``.512`` may be the rest of 12.512
            raise LengthError(f'"{printable(value)}" is not a number as the profile has it')
        return self._text.believed_mm(mm)


def decoded(data: bytes) -> str:
    """Return the text that bytes are: UTF-8, else Latin-1, which has a sign for every byte."""
    try:
        return data.decode()
    except UnicodeDecodeError:
        return data.decode("latin-1")


LEAST_BARE_MM = 50.0
"""Shortest distance that a meter measures, mm: a bare number below it is in another unit."""

_BARE = re.compile(r"[0-9., /-]+")
_HEXADECIMAL = re.compile(r"(?=.*[0-9])(?=.*[a-f])[0-9a-f]{3,}", re.IGNORECASE)
"""A whole number with letters among its digits."""
_ONE_NUMBER = re.compile(r"(?P<number>[0-9.,/ -]*[0-9]) ?(?P<unit>[^0-9]+)")
_DECIMALS = re.compile(r"[0-9]+[.,][0-9]+")
_THREE_DECIMALS = re.compile(r"(?P<number>[1-9][0-9]{0,2}\.[0-9]{3}) ?(?P<unit>[a-z]+)\.?")
_SMALL_UNITS = (UNIT_MM["mm"], UNIT_MM["cm"])
_BY_HAND = re.compile(
    # no digit before the mark; thousands by a space; metres and centimetres; 8-3 1/2"; inches after
    # feet without their mark, which may be cut short
    r"^[.,]|[0-9] [0-9]{3}(?![0-9]| ?/)|m[a-z]*[ .,-]*[0-9]|^[0-9]+ ?- ?[0-9]+(?![0-9]| ?/)"
    r"|(?:'|f[a-z]+)[ .,-]*[0-9][0-9 ./,-]*$"
)
_FULL_WIDTH = re.compile("[\uff01-\uff5e㎜㎝㍷]")
_ERROR = re.compile(r"(?:e[-_ ]?[0-9]{1,5}(?![0-9.,])|err(?:or)?(?![a-z])).*", re.IGNORECASE)


def unit_option(address: Address) -> str | None:
    """Return the unit of bare numbers as chosen by ``?unit=``; None where none is chosen.

    Raises:
        BadInput: when there is no such unit.
    """
    unit = address.options.get("unit")
    if unit is not None and unit not in UNIT_MM:
        raise BadInput(
            f'meter address "{address.text}": no unit "{unit}"; choose mm, cm, m, in, ft or yd'
        )
    return unit


def typed_distance_mm(text: str, unit: str | None = None) -> float:
    """Return the distance that a person typed, mm; see ``typed_distance``."""
    return typed_distance(text, unit).mm


def typed_distance(text: str, unit: str | None = None) -> Length:
    """Return the distance that a person typed; a bare number is in ``unit``, else in millimetres.

    Raises:
        LengthError: when it is not a length, is zero, or is a bare number too small for mm.
    """
    plain = _plain(text)
    is_bare = _BARE.fullmatch(plain) is not None
    # one that is not bare as it was typed, for what is wrong with it quotes that
    length = parse_length(_with_unit(plain, unit) if is_bare else text)
    if length.mm == 0:
        raise LengthError(f'"{_shown(text)}" is not a distance: it is zero')
    if is_bare and unit is None and length.mm < LEAST_BARE_MM:
        raise LengthError(f'"{plain}" is not a distance: no unit given; choose one with ?unit=m')
    return length


def line_distance_mm(text: str, unit: str | None = None) -> float:
    """Return the distance in a meter's line, mm; a bare number is in ``unit``.

    Stricter than what a person may type: a number of metres, feet or yards shows its decimals, and
    every number has a digit before its decimal mark, so that the rest of a cut ``12.514 m`` does
    not pass; inches after feet have their mark, so that the beginning of a cut ``8' 3 1/2"`` does
    not either; thousands are not separated, and metres not followed by centimetres. A dot is a
    decimal mark also before three digits of millimetres or centimetres.

    Raises:
        UnitMissing: when it is a bare number, and would be a distance with some unit.
        LengthError: when the line is not one such distance.
    """
    bare = _plain(text)
    if unit is None and _BARE.fullmatch(bare):
        raise _unit_missing(bare)
    plain = _with_unit(bare, unit)
    shown = _with_unit(_shown(text), unit)
    if _FULL_WIDTH.search(text) or _BY_HAND.search(plain):
        raise LengthError(f'"{shown}" is not a distance: a meter sends one plain number')
    decimal = _THREE_DECIMALS.fullmatch(plain)
    if decimal and UNIT_MM.get(decimal["unit"]) in _SMALL_UNITS:
        return float(Fraction(decimal["number"]) * UNIT_MM[decimal["unit"]])
    mm = typed_distance_mm(text, unit)
    one = _ONE_NUMBER.fullmatch(plain)
    if one and not _DECIMALS.fullmatch(one["number"]) and not _may_lack_decimals(**one.groupdict()):
        raise LengthError(
            f'"{shown}" is not a distance: without decimals it may be the end of a longer number'
        )
    return mm


def _unit_missing(bare: str) -> LengthError:
    """Return why a number without a unit is no distance: its unit is missing, or it never is."""
    why: LengthError = UnitMissing(bare)
    for unit in ("in", "mm"):  # whatever is a distance in some unit is one in these
        try:
            line_distance_mm(bare, unit)
        except LengthError as error:
            why = error
        else:
            return UnitMissing(bare)
    return why


def error_words(text: str) -> str | None:
    """Return the words of a line that says that the meter could not measure; None for others."""
    plain = text.strip()
    return plain if _ERROR.fullmatch(plain) else None


def report_line(
    piece: Line | Rubbish, *, at: datetime, meter: str, unit: str | None = None
) -> Reading | Fault | Noise:
    """Return what a piece of a meter's text says, never raising; ``unit`` is that of bare numbers.

    A bare number without a chosen unit is noise that has the number beside its bytes. A line after
    one that broke off is noise where the two make sense together, because then it may be the rest
    of it.
    """
    if isinstance(piece, Rubbish):
        return Noise(piece.why, at, meter, piece.data)
    report = _report(piece.data, at, meter, unit)
    if piece.after and _makes_sense(_report(piece.after + piece.data, at, meter, unit)):
        return Noise("may be the rest of a broken line", at, meter, piece.data)
    return report


class LineReader:
    """Reads the lines of one meter that no profile describes, over one link.

    Once a number came with letters among its digits, its other numbers are hexadecimal too: then
    none is a distance.
    """

    def __init__(self, meter: str, unit: str | None) -> None:
        """``unit`` is that of bare numbers; None: nobody has chosen one."""
        self._meter = meter
        self._unit = unit
        self._is_hexadecimal = False

    def report(self, piece: Line | Rubbish, at: datetime) -> Reading | Fault | Noise:
        """Return what a piece of the meter's text says, never raising."""
        report = report_line(piece, at=at, meter=self._meter, unit=self._unit)
        line = decoded(piece.data).strip()
        if isinstance(report, Noise) and _HEXADECIMAL.fullmatch(line):
            self._is_hexadecimal = True
        if self._is_hexadecimal and (_HEXADECIMAL.fullmatch(line) or _BARE.fullmatch(line)):
            return Noise(_IN_HEXADECIMAL, at, self._meter, piece.data)
        return report


_IN_HEXADECIMAL = "this meter sends hexadecimal numbers; teach it with distances that you know"


def _plain(text: str) -> str:
    """Return a text with the signs by which the rules here, and those of lengths, know it."""
    return with_plain_signs(text).removeprefix("+").lstrip()


def _shown(text: str) -> str:
    return text.strip().removeprefix("+").lstrip()


def _with_unit(plain: str, unit: str | None) -> str:
    return f"{plain} {unit}" if unit and _BARE.fullmatch(plain) else plain


def _may_lack_decimals(number: str, unit: str) -> bool:
    """Return whether it may lack decimals: whole numbers of small units, fractions of inches."""
    unit_mm = parse_length(f"1 {unit}").mm
    inch_mm = float(UNIT_MM["in"])
    return unit_mm == inch_mm or (unit_mm < inch_mm and "/" not in number)


def _makes_sense(report: Reading | Fault | Noise) -> bool:
    """Return whether a line is a distance, or would be one with a unit, or is an error."""
    return not isinstance(report, Noise) or report.bare is not UNSET


def _report(data: bytes, at: datetime, meter: str, unit: str | None) -> Reading | Fault | Noise:
    try:
        text = _printable(data)
        if words := error_words(text):
            return Fault(words, at, meter, data)
        return Reading(line_distance_mm(text, unit), at, meter, data)
    except LengthError as error:
        return Noise.because(error, at, meter, data)


def _printable(data: bytes) -> str:
    try:
        text = data.decode().replace("\t", " ")
    except UnicodeDecodeError:
        text = "\0"
    if not text.isprintable():
        raise LengthError("these bytes are not text; is the port's speed (?baud=) right?")
    return text
