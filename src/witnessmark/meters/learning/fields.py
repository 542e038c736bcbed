"""A line of text as fields with separators between, and the pattern of lines that are alike."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

import msgspec

from witnessmark.lengths import UNIT_MM
from witnessmark.meters.learning.styles import Style


class Tokens(msgspec.Struct, frozen=True):
    """The fields of a line, where they begin, what is before each and behind the last."""

    fields: tuple[str, ...]
    starts: tuple[int, ...]
    separators: tuple[str, ...]
    build: tuple[str, ...]
    """What lines that are alike have in common: separators, and the first field's letters."""


class TextField(msgspec.Struct, frozen=True):
    """One number in lines that are alike."""

    style: Style
    index: int
    before: str
    behind: str
    values: tuple[tuple[str, ...], ...]
    """How the number is written, by known distance."""
    spans: tuple[tuple[int, int], ...]
    """From where to where it stands, by line."""
    numbers: tuple[tuple[Fraction, ...], ...]
    unit: str | None
    """The unit that stands behind the number, if one does."""

    @property
    def every_value(self) -> list[str]:
        """The number as it is written in each line."""
        return [value for group in self.values for value in group]


def tokens_of(line: str, style: Style) -> Tokens:
    """Cut a line into fields, with numbers written in one style."""
    skipped = len(line) - len(line.lstrip())
    text = line.strip()
    fields, starts, separators, behind = [], [], [], 0
    for match in style.field.finditer(text):
        separators.append(_squeezed(text[behind : match.start()]))
        fields.append(match[0])
        starts.append(skipped + match.start())
        behind = match.end()
    separators.append(_squeezed(text[behind:]))
    # the letters of a number by sixteens are digits
    letters = "" if style.hexadecimal else "[A-Za-z]*"
    first = re.match(letters, fields[0] if fields else "")
    build = (*separators, first[0] if first else "")
    return Tokens(tuple(fields), tuple(starts), tuple(separators), build)


def number_fields(alike: Sequence[Sequence[Tokens]], style: Style) -> Iterator[TextField]:
    """Yield the fields that are a number in all these lines."""
    for index in range(len(alike[0][0].fields)):
        groups = [
            [(one, style.number.fullmatch(one.fields[index])) for one in group] for group in alike
        ]
        matches = [[(one, match) for one, match in group if match] for group in groups]
        if [len(group) for group in matches] != [len(group) for group in alike]:
            continue
        every = [match for group in matches for _, match in group]
        if len({(match["before"], match["behind"]) for match in every}) > 1:
            continue
        if any(_is_part(one, index) for group in alike for one in group):
            continue
        numbers = [[style.read(match["value"]) for _, match in group] for group in matches]
        known = tuple(tuple(one for one in group if one is not None) for group in numbers)
        if [len(group) for group in known] != [len(group) for group in alike]:
            continue
        yield TextField(
            style=style,
            index=index,
            before=every[0]["before"],
            behind=every[0]["behind"],
            values=tuple(tuple(match["value"] for _, match in group) for group in matches),
            spans=tuple(
                (one.starts[index] + match.start("value"), one.starts[index] + match.end("value"))
                for group in matches
                for one, match in group
            ),
            numbers=known,
            unit="in" if style.feet else _unit_behind(every[0]["behind"], alike[0][0], index),
        )


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
            values = {one.fields[index] for one in alike}
            is_cut = _is_cut(alike[0], index, chosen.style.mark)
            parts.append(_other_pattern(values, chosen.style.mark, is_cut=is_cut))
    return rf"\s*{''.join(parts)}\s*"


def _is_part(tokens: Tokens, index: int) -> bool:
    """Return whether a field is a part of a number with another mark, as one line alone shows."""
    return _lacks_its_beginning(tokens, index) or _lacks_its_end(tokens, index)


def _lacks_its_end(tokens: Tokens, index: int) -> bool:
    """Return whether decimals and their unit stand right behind a field: ``000330`` of 330,5cm."""
    if tokens.separators[index + 1] not in {".", ","} or index + 1 == len(tokens.fields):
        return False
    is_close = tokens.starts[index + 1] == tokens.starts[index] + len(tokens.fields[index]) + 1
    decimals = re.fullmatch("[0-9]+([A-Za-z]+)", tokens.fields[index + 1])
    return is_close and decimals is not None and decimals[1].lower() in UNIT_MM


def _lacks_its_beginning(tokens: Tokens, index: int) -> bool:
    """Return whether a field is the decimals of a number without a digit before its mark."""
    return re.fullmatch(r"\s*[.,]", tokens.separators[index]) is not None and (
        index == 0 or tokens.separators[index] != tokens.separators[index].strip()
    )


def _is_cut(tokens: Tokens, index: int, mark: str) -> bool:
    """Return whether a field is the whole or the decimals of a number with another mark."""
    other = {"." if mark == "," else ","}
    is_before = {tokens.separators[index + 1]} == other and index + 1 < len(tokens.fields)
    is_behind = {tokens.separators[index]} == other and index > 0
    return is_before or is_behind


def _unit_behind(behind: str, tokens: Tokens, index: int) -> str | None:
    """Return the unit right behind the number, or behind a space or as a sign after it."""
    separator = tokens.separators[index + 1]
    following = tokens.fields[index + 1] if index + 1 < len(tokens.fields) else ""
    sign = separator.strip()[:1]
    candidates = (behind, sign) if behind or sign else (following,)
    return next((one.lower() for one in candidates if one.lower() in UNIT_MM), None)


def _squeezed(separator: str) -> str:
    """Return a separator without spaces beside other signs: a meter may pad numbers with them."""
    return re.sub(r"\s+", "", separator) or (" " if separator else "")


def _separator_pattern(separator: str, *, inner: bool) -> str:
    if not separator:
        return ""
    if separator == " ":
        return r"\s+"
    spaced = r"\s*".join(re.escape(sign) for sign in separator)
    return rf"\s*{spaced}\s*" if inner else rf"{spaced}\s*"


def _value_pattern(field: TextField) -> str:
    value = field.style.value_pattern(field.every_value)
    return f"{re.escape(field.before)}\\+?(?P<value>{value}){re.escape(field.behind)}"


def _other_pattern(values: set[str], mark: str, *, is_cut: bool) -> str:
    """Return what a field that is not the value may be.

    One that never changed stays, unless it is a number of two digits or more, perhaps behind
    letters, or digits of a number with decimals: that may be a charge, a count or a tilt.
    """
    if len(values) == 1:
        (value,) = values
        number = re.fullmatch(rf"([A-Za-z]*)[+-]?[1-9][0-9]+(?:{re.escape(mark)}[0-9]+)?", value)
        measured = re.fullmatch(rf"([A-Za-z]*)[+-]?[0-9]+{re.escape(mark)}[0-9]+", value)
        part = re.fullmatch(r"([A-Za-z]*)[+-]?[0-9]+", value) if is_cut else None
        may_change = number or measured or part
        if not may_change:
            return re.escape(value)
        return rf"{may_change[1]}[+-]?[0-9{re.escape(mark)}]+"
    plain = rf"[A-Za-z]*[+-]?[0-9A-Za-z{re.escape(mark)}]+"
    if all(re.fullmatch(plain, value) for value in values):
        return plain
    signs = "".join(sorted({sign for value in values for sign in value if not sign.isalnum()}))
    return f"[0-9A-Za-z{re.escape(mark + signs)}]+"
