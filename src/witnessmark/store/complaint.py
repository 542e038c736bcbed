"""What is wrong with a file, in one sentence that names the key, from msgspec's own words."""

from __future__ import annotations

import enum
import re
from collections.abc import Sequence

import msgspec
from msgspec import inspect

_STEP = re.compile(r"\.(?P<key>[^.\[]+)|\[(?P<place>\d+|\.\.\.)\]")
_WHERE = re.compile(r"(?P<what>.*?)(?: - at `\$?(?P<path>[^`]*)`)?", re.DOTALL)
_UNKNOWN = re.compile(r"Object contains unknown field `(?P<key>.*)`", re.DOTALL)
_MISSING = re.compile(r"Object missing required field `(?P<key>.*)`", re.DOTALL)
_NO_CHOICE = re.compile(r"Invalid enum value '?(?P<value>.*?)'?", re.DOTALL)


def complaint(error: msgspec.ValidationError, record: type[msgspec.Struct]) -> str:
    """Say in one sentence which key of a file is wrong and what would be right.

    Args:
        error: what msgspec said on converting the file to ``record``.
        record: the struct of the whole file, from which the known keys are told.
    """
    match = _WHERE.fullmatch(str(error))
    what, path = (match["what"], match["path"] or "") if match else (str(error), "")
    steps = [step["key"] or int(step["place"]) for step in _STEP.finditer(path)]
    found = _type_at(inspect.type_info(record), steps)
    if unknown := _UNKNOWN.fullmatch(what):
        known = ", ".join(field.encode_name for field in _fields(found))
        return f"{_name([*steps, unknown['key']])}: no such key here; known are {known}"
    if missing := _MISSING.fullmatch(what):
        return f"{_name([*steps, missing['key']])} is missing{_choices(found, missing['key'])}"
    if chosen := _NO_CHOICE.fullmatch(what):
        options = _options(found)
        return f'{_name(steps)}: "{chosen["value"]}" is not one of {options}'
    return f"{_name(steps)}: {what[:1].lower()}{what[1:]}"


def _name(steps: Sequence[str | int]) -> str:
    """A path as a person counts: ``shot 3.held``."""
    name = ""
    for step in steps:
        name += f" {step + 1}" if isinstance(step, int) else f".{step}" if name else step
    return name or "the file"


def _type_at(found: inspect.Type, steps: Sequence[str | int]) -> inspect.Type:
    for step in steps:
        found = _bare(found)
        if isinstance(found, inspect.ListType):
            found = found.item_type
        elif isinstance(found, inspect.DictType):
            found = found.value_type
        else:
            fields = {field.encode_name: field.type for field in _fields(found)}
            found = fields.get(str(step), inspect.AnyType())
    return _bare(found)


def _bare(found: inspect.Type) -> inspect.Type:
    """The type itself where it is one or nothing."""
    if isinstance(found, inspect.UnionType):
        return next(kind for kind in found.types if not isinstance(kind, inspect.NoneType))
    return found


def _fields(found: inspect.Type) -> tuple[inspect.Field, ...]:
    return found.fields if isinstance(found, inspect.StructType) else ()


def _choices(found: inspect.Type, key: str) -> str:
    options = _options(_type_at(found, [key]))
    return f"; it is one of {options}" if options else ""


def _options(found: inspect.Type) -> str:
    if isinstance(found, inspect.EnumType) and issubclass(found.cls, enum.Enum):
        return ", ".join(str(option.value) for option in found.cls)
    return ""
