"""What a Bluetooth characteristic says of its own values: the Characteristic Presentation Format.

The descriptor 0x2904 has seven bytes, little-endian: format, exponent (signed), unit, name space
and description (Bluetooth Core Specification, volume 3, part G, 3.3.3.5; the codes are those of the
Bluetooth SIG's Assigned Numbers). The exponent is a power of ten and applies to whole numbers
alone. There is no millimetre among the units: meters say metre with the exponent -3.

Nothing here guesses. A value of another size than its format, a unit that is no length, a number
that is negative, zero, not finite or over 100 m is no distance.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Mapping
from datetime import datetime
from fractions import Fraction
from types import MappingProxyType
from typing import Final, Self

import msgspec

from witnessmark.errors import BadInput, LengthError
from witnessmark.lengths import UNIT_MM
from witnessmark.meters.number import checked_mm
from witnessmark.meters.port import Fault, Noise
from witnessmark.meters.text import error_words, line_distance_mm
from witnessmark.model import Reading

LENGTH_UNITS: Final[Mapping[int, str]] = MappingProxyType(
    {0x2701: "m", 0x27A0: "yd", 0x27A2: "in", 0x27A3: "ft"}
)
"""The units in which a distance may come, spelled as in ``witnessmark.lengths``."""

UNITLESS: Final = 0x2700
UTF8: Final = 0x19

_LAYOUT = struct.Struct("<BbHBH")
_SIG_NAMES = 1
_PLACES = (
    "front",
    "back",
    "top",
    "bottom",
    "upper",
    "lower",
    "main",
    "backup",
    "auxiliary",
    "supplementary",
    "flash",
    "inside",
    "outside",
    "left",
    "right",
    "internal",
    "external",
)
"""Descriptions from 0x0100 up in the name space of the Bluetooth SIG."""


class NoValue(LengthError):
    """The meter says, in the way of its format, that it has no distance to give."""


class PresentationFormat(msgspec.Struct, frozen=True):
    """The five fields of the descriptor, as they stand in it."""

    format: int
    exponent: int
    unit: int
    namespace: int = 0
    description: int = 0

    @classmethod
    def parse(cls, data: bytes) -> Self:
        """Read the descriptor's bytes.

        Raises:
            BadInput: when there are not seven of them.
        """
        if len(data) != _LAYOUT.size:
            raise BadInput(
                f"a presentation format has {_LAYOUT.size} bytes, not {len(data)} ({data.hex()})"
            )
        return cls(*_LAYOUT.unpack(data))

    @property
    def is_text(self) -> bool:
        """Whether the values are UTF-8 text."""
        return self.format == UTF8

    @property
    def is_length(self) -> bool:
        """Whether the values are distances by their unit, in a format that can be read."""
        return self.unit in LENGTH_UNITS and (self.is_text or self.format in _NUMBERS)

    @property
    def described(self) -> str | None:
        """What the value is called in the SIG's own name space, such as ``left``; None: nothing."""
        if self.namespace != _SIG_NAMES:
            return None
        if 0x100 <= self.description < 0x100 + len(_PLACES):
            return _PLACES[self.description - 0x100]
        return f"number {self.description}" if 1 <= self.description <= 255 else None

    def distance_mm(self, value: bytes, text_unit: str | None = None) -> float:
        """Return the distance that a value of the characteristic holds, mm.

        ``text_unit`` is that of bare numbers in text whose format names no unit.

        Raises:
            NoValue: when the value says that there is none.
            LengthError: when it is no distance, saying why.
        """
        if self.is_text and (self.is_length or self.unit == UNITLESS):
            return _text_mm(value, LENGTH_UNITS.get(self.unit, text_unit))
        if self.unit not in LENGTH_UNITS:
            raise LengthError(f"unit 0x{self.unit:04X} is not metre, foot, inch or yard")
        if self.format not in _NUMBERS:
            raise LengthError(f"format 0x{self.format:02X} is neither a number nor UTF-8 text")
        return checked_mm(self._number(value) * UNIT_MM[LENGTH_UNITS[self.unit]])

    def _number(self, value: bytes) -> Fraction:
        size, decode = _NUMBERS[self.format]
        if len(value) != size:
            raise LengthError(
                f"a value of {len(value)} bytes, where format 0x{self.format:02X} has {size}"
            )
        number = decode(value)
        return number * Fraction(10) ** self.exponent if self.format in _INTEGERS else number


def report_value(
    form: PresentationFormat,
    value: bytes,
    *,
    at: datetime,
    meter: str,
    text_unit: str | None = None,
) -> Reading | Fault | Noise:
    """Return what a value of a characteristic says that describes itself so. Never raises."""
    try:
        return Reading(form.distance_mm(value, text_unit), at, meter, value)
    except NoValue as error:
        return Fault(str(error), at, meter, value)
    except LengthError as error:
        return Noise.because(error, at, meter, value)


def _text_mm(value: bytes, unit: str | None) -> float:
    try:
        text = value.decode().rstrip("\0\r\n")
    except UnicodeDecodeError:
        raise LengthError("these bytes are not UTF-8 text") from None
    if not text.isprintable():
        raise LengthError("these bytes are not printable text")
    if words := error_words(text):
        raise NoValue(words)
    return line_distance_mm(text, unit)


def _integer(size: int, *, signed: bool) -> Callable[[bytes], Fraction]:
    """Return a decoder of whole numbers; the largest of two bytes or more stands for no value."""
    largest = 2 ** (8 * size - signed) - 1

    def decode(value: bytes) -> Fraction:
        number = int.from_bytes(value, "little", signed=signed)
        if number == largest and size > 1:
            raise NoValue("no value (the largest number of its format)")
        return Fraction(number)

    return decode


def _ieee_754(code: str) -> Callable[[bytes], Fraction]:
    def decode(value: bytes) -> Fraction:
        (number,) = struct.unpack(code, value)
        if not math.isfinite(number):
            raise NoValue(f"no value ({number})")
        return Fraction(number)

    return decode


def _ieee_11073(mantissa_bits: int) -> Callable[[bytes], Fraction]:
    """Return a decoder of mantissa * 10**exponent, two's complement, exponent in the higher bits.

    The five mantissas about the most negative one stand for not a number, not at this resolution,
    a reserved value and the two infinities (IEEE 11073-20601).
    """
    half = 1 << (mantissa_bits - 1)

    def decode(value: bytes) -> Fraction:
        bits = int.from_bytes(value, "little", signed=True)
        exponent, mantissa = bits >> mantissa_bits, bits & (2 * half - 1)
        if half - 2 <= mantissa <= half + 2:
            raise NoValue("no value (a special number)")
        return Fraction(mantissa - 2 * half * (mantissa > half)) * Fraction(10) ** exponent

    return decode


_SIZES = {0x04: 1, 0x06: 2, 0x07: 3, 0x08: 4, 0x09: 6, 0x0A: 8, 0x0B: 16}
_SIGNED = 0x08
"""Added to the code of an unsigned format for the signed one of its size."""

_INTEGERS: Final = {
    code + signed * _SIGNED: (size, _integer(size, signed=signed))
    for code, size in _SIZES.items()
    for signed in (False, True)
}
_NUMBERS: Final[Mapping[int, tuple[int, Callable[[bytes], Fraction]]]] = MappingProxyType(
    {
        **_INTEGERS,
        0x14: (4, _ieee_754("<f")),
        0x15: (8, _ieee_754("<d")),
        0x16: (2, _ieee_11073(12)),
        0x17: (4, _ieee_11073(24)),
    }
)
"""By format code: the size in bytes, and how the number is read."""
