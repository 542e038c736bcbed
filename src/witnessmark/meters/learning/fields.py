"""A line of text as fields with separators between, and the pattern of lines that are alike."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

import msgspec

from witnessmark.lengths import UNIT_MM

_FIELD = {
    mark: re.compile(rf"[A-Za-z]*[+-]?[0-9A-Za-z{re.escape(mark)}]+|[+-]") for mark in (".", ",")
}
_NUMBER = {
    mark: re.compile(
        rf"(?P<before>[^0-9+-]*)\+?(?P<whole>[0-9]{{1,9}})"
        rf"(?:{re.escape(mark)}(?P<part>[0-9]{{1,6}}))?(?P<behind>[^0-9]*)"
    )
    for mark in (".", ",")
}


class Tokens(msgspec.Struct, frozen=True):
    """The fields of a line, and what stands before each of them and behind the last."""

    fields: tuple[str, ...]
    separators: tuple[str, ...]

    @property
    def build(self) -> tuple[str, ...]:
        """What lines that are alike have in common: separators, and the first field's letters."""
        first = re.match("[A-Za-z]*", self.fields[0] if self.fields else "")
        return (*self.separators, first[0] if first else "")


class TextField(msgspec.Struct, frozen=True):
    """One number in lines that are alike."""

    index: int
    before: str
    behind: str
    mark: str
    decimals: tuple[int, int]
    """The fewest and the most digits behind the mark."""
    width: int | None
    """The number of digits before the mark, where zeros fill it up."""
    numbers: tuple[tuple[Fraction, ...], ...]
    unit: str | None
    """The unit that stands behind the number, if one does."""


def tokens_of(line: str, mark: str) -> Tokens:
    """Cut a line into fields; ``mark`` is the decimal mark."""
    text = line.strip()
    fields, separators, behind = [], [], 0
    for match in _FIELD[mark].finditer(text):
        separators.append(_squeezed(text[behind : match.start()]))
        fields.append(match[0])
        behind = match.end()
    return Tokens(tuple(fields), (*separators, _squeezed(text[behind:])))


def number_fields(alike: Sequence[Sequence[Tokens]], mark: str) -> Iterator[TextField]:
    """Yield the fields that are a number in all these lines."""
    for index in range(len(alike[0][0].fields)):
        groups = [[_NUMBER[mark].fullmatch(one.fields[index]) for one in group] for group in alike]
        matches = [[match for match in group if match] for group in groups]
        if [len(group) for group in matches] != [len(group) for group in alike]:
            continue
        every = [match for group in matches for match in group]
        if len({(match["before"], match["behind"]) for match in every}) > 1:
            continue
        yield _field(index, mark, matches, every, alike[0][0])


def line_pattern(alike: Sequence[Tokens], chosen: TextField) -> str:
    """Return the regular expression of such lines, with the chosen number as its value.

    Fields that are words, or single digits that never changed, have to stay as they are: they may
    be the meter's status. Other numbers may change.
    """
    parts = []
    for index, separator in enumerate(alike[0].separators):
        parts.append(_separator_pattern(separator, inner=0 < index < len(alike[0].fields)))
        if index == chosen.index:
            parts.append(_value_pattern(chosen))
        elif index < len(alike[0].fields):
            parts.append(_other_pattern({one.fields[index] for one in alike}, chosen.mark))
    return rf"\s*{''.join(parts)}\s*"


def _field(
    index: int,
    mark: str,
    matches: Sequence[Sequence[re.Match[str]]],
    every: Sequence[re.Match[str]],
    first: Tokens,
) -> TextField:
    decimals = [len(match["part"] or "") for match in every]
    widths = {len(match["whole"]) for match in every}
    filled = any(match["whole"].startswith("0") and len(match["whole"]) > 1 for match in every)
    return TextField(
        index=index,
        before=every[0]["before"],
        behind=every[0]["behind"],
        mark=mark,
        decimals=(min(decimals), max(decimals)),
        width=min(widths) if filled and len(widths) == 1 else None,
        numbers=tuple(tuple(_number(match) for match in group) for group in matches),
        unit=_unit_behind(every[0]["behind"], first, index),
    )


def _number(match: re.Match[str]) -> Fraction:
    return Fraction(f"{match['whole']}.{match['part'] or 0}")


def _unit_behind(behind: str, tokens: Tokens, index: int) -> str | None:
    """The unit right behind the number, or behind a space or as a sign after it."""
    separator = tokens.separators[index + 1]
    following = tokens.fields[index + 1] if index + 1 < len(tokens.fields) else ""
    sign = separator.strip()[:1]
    candidates = (behind, sign) if behind or sign else (following,)
    return next((one.lower() for one in candidates if one.lower() in UNIT_MM), None)


def _squeezed(separator: str) -> str:
    """Without spaces beside other signs, which a meter may use to fill up numbers."""
    return re.sub(r"\s+", "", separator) or (" " if separator else "")


def _separator_pattern(separator: str, *, inner: bool) -> str:
    if not separator:
        return ""
    if separator == " ":
        return r"\s+"
    spaced = r"\s*".join(re.escape(sign) for sign in separator)
    return rf"\s*{spaced}\s*" if inner else rf"{spaced}\s*"


def _value_pattern(field: TextField) -> str:
    whole = f"[0-9]{{{field.width}}}" if field.width else "[0-9]+"
    digits = rf"\+?(?P<value>{whole}{_part_pattern(field)})"
    return f"{re.escape(field.before)}{digits}{re.escape(field.behind)}"


def _part_pattern(field: TextField) -> str:
    fewest, most = field.decimals
    if most == 0:
        return ""
    part = f"{re.escape(field.mark)}[0-9]{{{max(fewest, 1)},{most}}}"
    return part.replace(f"{{{most},{most}}}", f"{{{most}}}") if fewest else f"(?:{part})?"


def _other_pattern(values: set[str], mark: str) -> str:
    """What a field that is not the value may be.

    One that never changed stays, unless it is a number of two digits or more, perhaps behind
    letters: that may be a charge or a count.
    """
    if len(values) == 1:
        (value,) = values
        number = re.fullmatch(rf"([A-Za-z]*)[+-]?[1-9][0-9]+(?:{re.escape(mark)}[0-9]+)?", value)
        measured = re.fullmatch(rf"([A-Za-z]*)[+-]?[0-9]+{re.escape(mark)}[0-9]+", value)
        may_change = number or measured
        if not may_change:
            return re.escape(value)
        return rf"{may_change[1]}[+-]?[0-9{re.escape(mark)}]+"
    return rf"[A-Za-z]*[+-]?[0-9A-Za-z{re.escape(mark)}]+"
