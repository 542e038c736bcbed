"""The values that a profile is made of: each knows its limits and how it is written in the file."""

from __future__ import annotations

import json
import re
from typing import ClassVar, Self
from uuid import UUID

from witnessmark.errors import BadInput
from witnessmark.lengths import UNIT_MM, parse_length
from witnessmark.meters.pattern import BoundedPattern, PatternRefused
from witnessmark.model.limits import DISTANCE

_LENGTH_DECIMALS = 10
"""Decimals of a length in millimetres that a profile keeps: none finer can be told apart."""
_SIG_UUID = "0000{}-0000-1000-8000-00805f9b34fb"


class Value:
    """A kind of value. ``written`` says to a person what one looks like."""

    __slots__ = ()
    written: ClassVar[str]

    @classmethod
    def read(cls, value: object) -> Self:
        """Return the value as it stands in the file.

        Raises:
            BadInput: when it is not of this kind, or outside its limits.
        """
        try:
            return cls.from_plain(value)
        except PatternRefused as refused:
            raise BadInput(f"{_shown(value)} is not {cls.written}: {refused}") from None
        except (ValueError, TypeError, ArithmeticError):
            raise BadInput(f"{_shown(value)} is not {cls.written}") from None

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Return the value; raise ValueError, TypeError or ArithmeticError."""
        raise TypeError(cls.written)


def read_value(kind: type[object], value: object) -> Value:
    """Return a value as msgspec is to have it on reading.

    Raises:
        BadInput: when it is not of this kind.
    """
    if not issubclass(kind, Value):
        raise BadInput(f"{kind.__name__} is no kind of value of a profile")
    return kind.read(value)


def plain_value(value: object) -> str | int | float | dict[str, str]:
    """Return what stands for the value in the file, as msgspec is to write it."""
    match value:
        case Octets():
            return value.hex(" ")
        case LengthValue():
            return f"{value.digits} mm"
        case str():
            return str(value)
        case int():
            return int(value)
        case float():
            return int(value) if value.is_integer() else float(value)
        case dict():
            return dict(value)
    raise TypeError(f"{type(value).__name__} is no value of a profile")


def _shown(value: object) -> str:
    try:
        text = json.dumps(value, ensure_ascii=False, default=str)
    except (ValueError, RecursionError):
        return "This value"  # a number of thousands of digits, lists within lists
    return text if len(text) <= 40 else text[:39] + "…"


def _text(value: object) -> str:
    if isinstance(value, str):
        return value
    raise TypeError("no text")


def _only_if(fits: object) -> None:
    if not fits:
        raise ValueError("outside the limits")


class Octets(Value, bytes):
    """Bytes, up to 64 of them."""

    written = 'bytes in hexadecimal such as "59 59"'

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Read pairs of hexadecimal digits; spaces are free."""
        found = cls(bytes.fromhex(_text(value)))
        _only_if(len(found) <= 64)
        return found


class Whole(Value, int):
    """A whole number with limits."""

    least: ClassVar[int]
    most: ClassVar[int]

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Take a whole number, never a truth value."""
        if not isinstance(value, int) or isinstance(value, bool):
            raise TypeError("no whole number")
        _only_if(cls.least <= value <= cls.most)
        return cls(value)


class Baud(Whole):
    """The speed of a serial line."""

    least, most = 50, 4_000_000
    written = "a speed from 50 to 4000000 such as 9600 or 115200"


class FrameLength(Whole):
    """How many bytes a frame has."""

    least, most = 2, 200
    written = "a number of bytes from 2 to 200"


class Offset(Whole):
    """Where in a frame something stands: the first byte is 0."""

    least, most = 0, 199
    written = "a place in the frame from 0 (its first byte) to 199"


class DeviceNumber(Whole):
    """The number of a Modbus device on its line."""

    least, most = 1, 247
    written = "a device number from 1 to 247"


class ReadFunction(Whole):
    """The Modbus function that reads the registers."""

    least, most = 3, 4
    written = "3 (holding registers) or 4 (input registers)"


class Register(Whole):
    """A Modbus register, counted from 0 as on the wire, or what stands in one."""

    least, most = 0, 65535
    written = "a number from 0 to 65535"


class Number(Value, float):
    """A number with limits."""

    least: ClassVar[float]
    most: ClassVar[float]

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Take a number, never a truth value."""
        if not isinstance(value, int | float) or isinstance(value, bool):
            raise TypeError("no number")
        _only_if(cls.least <= value <= cls.most)
        return cls(value)


class Scale(Number):
    """What the number is multiplied by to be in its unit."""

    least, most = 1e-6, 1e3
    written = "a factor from 0.000001 to 1000 such as 0.1"


class Seconds(Number):
    """The interval at which something is repeated, seconds."""

    least, most = 0.05, 3600.0
    written = "seconds from 0.05 to 3600"


class LengthValue(Number):
    """A length, mm."""

    least, most = 0.0, DISTANCE.most
    written = 'a length up to 100 m such as "50 mm"'

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Read a length with its unit, or millimetres."""
        read = super().from_plain(parse_length(value).mm if isinstance(value, str) else value)
        return cls(abs(round(read, _LENGTH_DECIMALS)))  # of -0.0, too, which TOML knows

    @property
    def digits(self) -> str:
        """Its millimetres, as they are read back the same."""
        digits = f"{float(self):.{_LENGTH_DECIMALS}f}".rstrip("0")
        # a dot before three digits of millimetres would mark thousands
        return f"{digits}0" if digits[-4:-3] == "." else digits.removesuffix(".")


class ShortestDistance(LengthValue):
    """The shortest distance that is believed, mm."""


class Longest(LengthValue):
    """The longest distance that is believed, mm."""

    least = 1.0
    written = 'a length up to 100 m such as "40 m"'


class FaultValue(LengthValue):
    """A number, as the length that it would be, that the meter sends when it could not measure."""


class DisplayStep(LengthValue):
    """The step of the meter's display, mm."""

    least = 0.0001
    written = 'a length such as "0.1 mm"'


class Unit(Value, str):
    """A unit of length by its short name."""

    __slots__ = ()
    written = "one of mm, cm, m, in, ft, yd"

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Look the unit up."""
        _only_if(value in UNIT_MM)
        return cls(value)


class LineFormat(Value, str):
    """Data bits, parity and stop bits of a serial line."""

    __slots__ = ()
    written = 'data bits, parity and stop bits such as "8N1", "8E1" or "7E1"'

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Check the three signs."""
        _only_if(re.fullmatch("[78][NEO][12]", _text(value)))
        return cls(value)


class Uuid(Value, str):
    """A Bluetooth UUID in its long form, lower case."""

    __slots__ = ()
    written = 'a UUID such as "2ac5" or "0000ffe1-0000-1000-8000-00805f9b34fb"'

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Read the long form, or the four digits of an assigned number."""
        short = re.fullmatch("(?:0x)?([0-9a-fA-F]{4})", _text(value))
        written = _SIG_UUID.format(short[1]) if short else _text(value)
        # the library's own reader takes spaces, signs and underscores among the digits
        _only_if(re.fullmatch("[0-9a-fA-F]{8}(?:-?[0-9a-fA-F]{4}){3}-?[0-9a-fA-F]{12}", written))
        return cls(UUID(written))


class Pattern(Value, str):
    """A regular expression with the groups ``value`` and perhaps ``unit`` and ``status``."""

    __slots__ = ()
    written = (
        "a regular expression of up to 2000 signs with a group (?P<value>...), perhaps "
        "(?P<unit>...) and (?P<status>...), and no other named group; without looking ahead or "
        "behind, references to groups, flags and possessive repeats"
    )

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Make it ready to be matched and look at its groups."""
        groups = set(BoundedPattern(_text(value)).groups)
        _only_if({"value"} <= groups <= {"value", "unit", "status"})
        return cls(value)


class LineEnds(Value, str):
    """The signs any of which ends a line; none at all: a pause does."""

    __slots__ = ()
    written = r'up to 4 signs that end a line, such as "\r\n" or ";", or "" for a pause'

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Check that the signs are ASCII, and none that could be part of a number."""
        _only_if(re.fullmatch(r"[\0-\x7f]{0,4}", _text(value)))
        _only_if(not re.search("[0-9.,+-]", _text(value)))
        return cls(value)


class Thousands(Value, str):
    """The sign that a meter sets between groups of three digits; "": none."""

    __slots__ = ()
    written = 'one of the signs "," or "." or "\'" or " "'

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Check that it is one of those in use."""
        _only_if(value in {"", ",", ".", "'", " "})
        return cls(_text(value))


class TextFaults(Value, dict[str, str]):
    """What a meter's statuses or whole lines that are no distance mean, in words."""

    written = 'a table of texts such as { "E1" = "too little light comes back" }'
    code: ClassVar[str] = ".+"

    @classmethod
    def from_plain(cls, value: object) -> Self:
        """Check the codes, and that words stand behind each."""
        found = cls(value if isinstance(value, dict) else {"": ""})
        for code, words in found.items():
            _only_if(re.fullmatch(cls.code, code) and _text(words).strip())
        return found


class ByteFaults(TextFaults):
    """What the values of a status byte that mean no distance mean, in words."""

    written = 'a table of texts by bytes such as { "0a" = "too little light comes back" }'
    code = "[0-9a-f]{2}"


class RegisterFaults(TextFaults):
    """What the values of a status register that mean no distance mean, in words."""

    written = 'a table of texts by numbers such as { "2" = "too little light comes back" }'
    code = "0|[1-9][0-9]{0,4}"
