"""Bytes as a number, and a number as a distance: what every binary meter's profile shares."""

from __future__ import annotations

import enum
import math
import struct
from fractions import Fraction
from typing import Final

import msgspec

from witnessmark.errors import LengthError
from witnessmark.lengths import UNIT_MM
from witnessmark.meters.port import MeterSaysNo
from witnessmark.meters.profile_values import FaultValue, Longest, Scale, ShortestDistance, Unit
from witnessmark.model.limits import DISTANCE

LONGEST_MM: Final = DISTANCE.most
"""No distance in a room is longer."""


class NumberType(enum.StrEnum):
    """How bytes are a number."""

    UINT16 = "uint16"
    UINT24 = "uint24"
    UINT32 = "uint32"
    INT16 = "int16"
    INT24 = "int24"
    INT32 = "int32"
    FLOAT32 = "float32"
    FLOAT64 = "float64"
    BCD16 = "bcd16"
    BCD24 = "bcd24"
    BCD32 = "bcd32"

    @property
    def size(self) -> int:
        """The number of bytes."""
        return int(self.lstrip("uintfloabcd")) // 8

    @property
    def is_decimal(self) -> bool:
        """Whether each half of a byte is a decimal digit."""
        return self.startswith("bcd")

    @property
    def is_float(self) -> bool:
        """Whether it is a binary fraction of IEEE 754."""
        return self.startswith("float")

    @property
    def is_signed(self) -> bool:
        """Whether it is a whole number that may be negative, in two's complement."""
        return self.startswith("int")


class Order(enum.StrEnum):
    """Which end of a number comes first."""

    BIG = "big"
    LITTLE = "little"


def number_in(data: bytes, kind: NumberType, order: Order) -> Fraction:
    """Return the number that these bytes are, exactly.

    The halves of a byte are decimal digits, or its bits a binary number or fraction.

    The ends of a range of whole numbers stand for *no value* and *out of range* in so many
    protocols that they are never taken for a measured one.

    Raises:
        LengthError: when it is not finite, not of decimal digits where it should be, or lies at an
            end of the range of its kind.
        ValueError: when there are more or fewer bytes than the kind has.
    """
    if len(data) != kind.size:
        raise ValueError(f"{kind} has {kind.size} bytes, not {len(data)}")
    if kind.is_float:
        code = ("<" if order is Order.LITTLE else ">") + ("f" if kind.size == 4 else "d")
        (number,) = struct.unpack(code, data)
        if not math.isfinite(number):
            raise LengthError(f"the number is {number}")
        return Fraction(number)
    whole = (
        _decimal_digits(data, order)
        if kind.is_decimal
        else int.from_bytes(data, order.value, signed=kind.is_signed)
    )
    if whole in _ends(kind):
        raise LengthError(f"the number is at the end of the range of {kind}, which means no value")
    return Fraction(whole)


def _decimal_digits(data: bytes, order: Order) -> int:
    digits = (data if order is Order.BIG else data[::-1]).hex()
    if not digits.isdigit():
        raise LengthError(f"{digits} are no decimal digits")
    return int(digits)


def _ends(kind: NumberType) -> tuple[int, ...]:
    if kind.is_decimal:
        return (10 ** (2 * kind.size) - 1,)
    bits = 8 * kind.size
    return (-(1 << bits - 1), (1 << bits - 1) - 1) if kind.is_signed else ((1 << bits) - 1,)


def checked_mm(mm: Fraction, longest_mm: float = LONGEST_MM) -> float:
    """Return the distance, if it can be one.

    Raises:
        LengthError: when it is zero, negative or over ``longest_mm``.
    """
    if mm <= 0:
        raise LengthError(f"{_shown(mm)} mm is not a distance: it is not above zero")
    if mm > Fraction(longest_mm):
        limit = f"{longest_mm / 1000:g} m"
        if longest_mm < LONGEST_MM:
            raise LengthError(
                f"{_shown(mm)} mm is over {limit}, the longest that this profile takes"
            )
        raise LengthError(f"{_shown(mm)} mm is too long for a room: it is over {limit}")
    return float(mm)


def _shown(mm: Fraction) -> str:
    try:
        return f"{float(mm):.6g}"
    except OverflowError:
        return "an endless number of"


def scaled_mm(number: Fraction, scale: float, unit: str) -> Fraction:
    """Return ``number`` * ``scale`` in ``unit`` as mm, by the decimal digits of ``scale``."""
    return number * Fraction(repr(float(scale))) * UNIT_MM[unit]


SAME_MM: Final = 0.05
"""Half of the finest step that a meter shows, mm: what differs by less is the same number."""


class DistanceLimits(
    msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True, omit_defaults=True
):
    """Which distances of a meter are believed: from ``shortest`` to ``longest``.

    Many meters put an error number where the distance stands; ``fault_values`` are these, as the
    lengths that they would be.
    """

    shortest: ShortestDistance = ShortestDistance(0)
    longest: Longest = Longest(LONGEST_MM)
    fault_values: tuple[FaultValue, ...] = ()

    def believed_mm(self, mm: Fraction) -> float:
        """Return the distance, if it can be one of this meter.

        Raises:
            MeterSaysNo: when it is a number by which the meter says that it could not measure.
            LengthError: when it is none that the meter measures.
        """
        if any(abs(mm - Fraction(value)) <= SAME_MM for value in self.fault_values):
            raise MeterSaysNo(f"{_shown(mm)} mm, which this meter sends when it cannot measure")
        if 0 < mm < Fraction(self.shortest):
            raise LengthError(
                f"{_shown(mm)} mm is not a distance: it is under {self.shortest:g} mm, the "
                "shortest that this meter measures"
            )
        return checked_mm(mm, self.longest)


class ScaledNumber(DistanceLimits, frozen=True, kw_only=True):
    """A number that is a distance: ``number * scale`` in ``unit``."""

    type: NumberType
    unit: Unit
    scale: Scale = Scale(1)

    def distance_mm(self, data: bytes, order: Order) -> float:
        """Return the distance that these bytes hold, mm.

        Raises:
            MeterSaysNo: when they hold a number by which the meter says that it could not measure.
            LengthError: when they hold none, saying why.
        """
        number = number_in(data, self.type, order)
        return self.believed_mm(scaled_mm(number, self.scale, self.unit))
