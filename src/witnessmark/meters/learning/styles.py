"""Ways of writing a number in a line: how it is found there, and the pattern of its like."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Final

import msgspec

from witnessmark.meters.written import FEET, inches_written, number_written


class Style(msgspec.Struct, frozen=True):
    """One way of writing numbers.

    ``field`` finds the fields of a line. ``number`` matches a field that is a number, with the
    groups ``before``, ``value`` and ``behind``. ``is_tried`` says whether a line has what only this
    style explains.
    """

    name: str
    field: re.Pattern[str]
    number: re.Pattern[str]
    is_tried: re.Pattern[str]
    mark: str = "."
    thousands: str = ""
    hexadecimal: bool = False
    feet: bool = False

    def read(self, value: str) -> Fraction | None:
        """Return the number that a value is; of feet and inches, the inches."""
        if self.feet:
            return inches_written(value)
        return number_written(value, thousands=self.thousands, hexadecimal=self.hexadecimal)

    def is_needed(self, values: Sequence[str]) -> bool:
        """Return whether one of these values is written as only this style has it."""
        if self.thousands:
            shown = {self.thousands, self.mark} if self.thousands == "." else {self.thousands}
            return any(shown <= set(one) for one in values)
        return self.name != _MIXED.name or any("/" in one for one in values)

    def step(self, values: Sequence[str]) -> Fraction:
        """Return what one in the last place of these values is worth, at most."""
        return max(map(self._step, values)) if self._varies else min(map(self._step, values))

    def value_pattern(self, values: Sequence[str]) -> str:
        """Return the regular expression of values such as these."""
        if self.feet:
            return FEET
        if self.hexadecimal:
            return _counted("[0-9A-Fa-f]", [len(one) for one in values])
        if any("/" in one for one in values):
            mixed = r"[0-9]{1,2}/[0-9]{1,3}"
            return rf"(?:[0-9]+(?:[ -]+{mixed})?|{mixed})"
        return self._decimal_pattern(values)

    def has_decimals(self, values: Sequence[str]) -> bool:
        """Return whether one of them is written as more than a whole number."""
        return any(not re.fullmatch("[0-9]+", one.replace(self.thousands, "")) for one in values)

    @property
    def _varies(self) -> bool:
        """Whether the last place is worth more where the number is longer."""
        return not (self.feet or self.hexadecimal)

    def _step(self, value: str) -> Fraction:
        if self.hexadecimal:
            return Fraction(1)
        fraction = re.search("/([0-9]+)", value)
        if fraction:
            return Fraction(1, int(fraction[1]))
        digits, _, power = value.lower().partition("e")
        part = re.search(f"{re.escape(self.mark)}([0-9]+)", digits)
        return Fraction(10) ** (int(power or 0) - (len(part[1]) if part else 0))

    def _decimal_pattern(self, values: Sequence[str]) -> str:
        mark = re.escape(self.mark)
        wholes = [re.split(f"{mark}|[eE]", one)[0] for one in values]
        parts = [re.search(f"{mark}([0-9]+)", one) for one in values]
        counts = [len(part[1]) if part else 0 for part in parts]
        part = ""
        if max(counts):
            part = mark + _counted("[0-9]", [count for count in counts if count])
            part = part if min(counts) else f"(?:{part})?"
        power = "[eE][+-]?[0-9]{1,2}" if any(re.search("[eE]", one) for one in values) else ""
        return f"{self._whole_pattern(wholes)}{part}{power}"

    def _whole_pattern(self, wholes: Sequence[str]) -> str:
        if self.thousands:
            return rf"(?:[1-9][0-9]{{0,2}}(?:{re.escape(self.thousands)}[0-9]{{3}})+|[0-9]{{1,3}})"
        widths = {len(whole) for whole in wholes}
        filled = any(whole.startswith("0") and len(whole) > 1 for whole in wholes)
        return f"[0-9]{{{min(widths)}}}" if filled and len(widths) == 1 else "[0-9]+"


def _counted(sign: str, counts: Sequence[int]) -> str:
    fewest, most = min(counts), max(counts)
    return f"{sign}{{{fewest}}}" if fewest == most else f"{sign}{{{fewest},{most}}}"


_ANY: Final = "[A-Za-z]*[+-]?[0-9A-Za-z]+(?:(?<=[0-9]){mark}[0-9][0-9A-Za-z]*)*|[+-]"
"""A field of any style."""
_ANY_BY_DOT: Final = _ANY.format(mark=re.escape("."))
_WITH_POWER: Final = r"[A-Za-z]*[+-]?[0-9]+(?:{mark}[0-9]+)?[eE][+-][0-9]{{1,2}}[A-Za-z]*"
_DECIMAL: Final = (
    r"(?P<before>[^0-9+\-]*(?<!{mark}))\+?"
    r"(?P<value>[0-9]{{1,9}}(?:{mark}[0-9]{{1,9}})?(?:[eE][+-]?[0-9]{{1,2}})?)"
    r"(?P<behind>[^0-9]*)"
)
_GROUPS: Final = r"[1-9][0-9]{{0,2}}(?:{group}[0-9]{{3}})+(?![0-9])"


def _decimal(mark: str) -> Style:
    sign = re.escape(mark)
    return Style(
        name=f"decimal {mark}",
        field=_compiled(_WITH_POWER, _ANY, mark=sign),
        number=_compiled(_DECIMAL, mark=sign),
        is_tried=re.compile("[0-9]" if mark == "." else f"[0-9]{sign}[0-9]"),
        mark=mark,
    )


def _grouped(group: str, mark: str) -> Style:
    sign, between = re.escape(mark), re.escape(group)
    # a dot alone between three digits is a decimal mark to all meters but those that show both
    lone = f"{_GROUPS}{sign}[0-9]" if group == "." else _GROUPS
    whole = r"[A-Za-z]*[+-]?(?<![0-9])" + _GROUPS + "(?:{mark}[0-9]+)?[A-Za-z]*"
    number = (
        r"(?P<before>[^0-9+\-]*)\+?"
        r"(?P<value>(?:[1-9][0-9]{{0,2}}(?:{group}[0-9]{{3}})+|[0-9]{{1,3}})(?:{mark}[0-9]{{1,6}})?)"
        r"(?P<behind>[^0-9]*)"
    )
    return Style(
        name=f"thousands by {group}",
        field=_compiled(whole, _ANY, mark=sign, group=between),
        number=_compiled(number, mark=sign, group=between),
        is_tried=_compiled(lone, mark=sign, group=between),
        mark=mark,
        thousands=group,
    )


def _compiled(*ways: str, mark: str, group: str = "") -> re.Pattern[str]:
    return re.compile("|".join(way.format(mark=mark, group=group) for way in ways))


_FRACTION: Final = r"[0-9]{1,2}/[0-9]{1,3}"
_SIXTEENS: Final = Style(
    name="hexadecimal",
    field=re.compile(_ANY_BY_DOT),
    number=re.compile(
        r"(?P<before>(?:0[xX]|[A-Za-z]*[G-Zg-z])?)(?P<value>[0-9A-Fa-f]{3,8})(?P<behind>[hH]?)"
    ),
    is_tried=re.compile("(?<![G-Zg-z])[0-9A-Fa-f]{3}"),
    hexadecimal=True,
)
_MIXED: Final = Style(
    name="fractions",
    field=re.compile(rf"[A-Za-z]*(?:[0-9]+[ -]+)?{_FRACTION}[A-Za-z]*|{_ANY_BY_DOT}"),
    number=re.compile(
        rf"(?P<before>[^0-9+-]*)(?P<value>(?:[0-9]+[ -]+)?{_FRACTION}|[0-9]+)(?P<behind>[^0-9]*)"
    ),
    is_tried=re.compile(f"[0-9]{_FRACTION}| {_FRACTION}|^{_FRACTION}"),
)
_FEET_AND_INCHES: Final = Style(
    name="feet and inches",
    field=re.compile(f"[A-Za-z]*{FEET}|{_ANY_BY_DOT}"),
    number=re.compile(f"(?P<before>[A-Za-z]*)(?P<value>{FEET})(?P<behind>)"),
    is_tried=re.compile(FEET),
    feet=True,
)

STYLES: Final = (
    _decimal("."),
    _decimal(","),
    _grouped(",", "."),
    _grouped(".", ","),
    _grouped("'", "."),
    _grouped(" ", "."),
    _grouped(" ", ","),
    _MIXED,
    _FEET_AND_INCHES,
    _SIXTEENS,
)
"""All that are tried."""


def styles_for(lines: Sequence[str]) -> list[Style]:
    """Return the styles that explain something in these lines."""
    return [style for style in STYLES if any(style.is_tried.search(line) for line in lines)]
