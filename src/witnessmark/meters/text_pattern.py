"""A line of text read by a profile's pattern."""

from __future__ import annotations

import re
from fractions import Fraction

from witnessmark.errors import LengthError
from witnessmark.lengths import UNIT_MM, parse_length
from witnessmark.meters.number import checked_mm, scaled_mm
from witnessmark.meters.profile import Text
from witnessmark.meters.profile_values import Pattern
from witnessmark.meters.text import error_words

_DECIMAL = re.compile("[0-9]{1,12}(?:[.,][0-9]{1,12})?")


class MeterSaysNo(Exception):
    """The line says that the meter could not measure; the text says it in words."""


class PatternReader:
    """Reads lines by the pattern of ``text``, which has to match from the first sign to the last.

    Where a line does not match, it may still be one of the profile's faults, or an error line such
    as any meter may send.
    """

    def __init__(self, text: Text, pattern: Pattern) -> None:
        self._text = text
        self._pattern = re.compile(pattern, re.ASCII)

    def distance_mm(self, data: bytes) -> float:
        """The distance that a line holds, mm.

        Raises:
            MeterSaysNo: when the line is the meter's own error.
            LengthError: when it is neither, saying why.
        """
        line = decoded(data)
        match = self._pattern.fullmatch(line)
        if match is None:
            words = self._text.faults.get(line.strip()) or error_words(line)
            if words:
                raise MeterSaysNo(words)
            raise LengthError("the line does not match the profile's pattern")
        found = match.groupdict()
        self._check_status(found.get("status"))
        return self._value_mm(found["value"], found.get("unit") or self._text.unit)

    def _check_status(self, status: str | None) -> None:
        if self._text.ok and status not in self._text.ok:
            known = self._text.faults.get(status or "")
            raise MeterSaysNo(known or f'the meter\'s status is "{status}", not "ok"')

    def _value_mm(self, value: str | None, unit: str | None) -> float:
        value = (value or "").strip().removeprefix("+").lstrip()
        unit = (unit or "").strip().lower()
        if _DECIMAL.fullmatch(value):
            if unit not in UNIT_MM:
                raise LengthError(f'"{unit}" is not a unit of length known here')
            mm = scaled_mm(Fraction(value.replace(",", ".")), self._text.scale, unit)
        else:
            mm = Fraction(parse_length(f"{value} {unit}").mm)
        return checked_mm(mm, self._text.longest)


def decoded(data: bytes) -> str:
    """The text that bytes are: UTF-8, else Latin-1, which has a sign for every byte."""
    try:
        return data.decode()
    except UnicodeDecodeError:
        return data.decode("latin-1")
