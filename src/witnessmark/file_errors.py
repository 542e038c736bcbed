"""What is wrong with a file, in one sentence that names the key, from msgspec's own words."""

from __future__ import annotations

import re
from collections.abc import Sequence

import msgspec
from msgspec import inspect

from witnessmark.sentences import visible

_STEP = re.compile(r"\.(?P<key>[^.\[]+)|\[(?P<place>\d+)\]|\[\.\.\.\]")
_WHERE = re.compile(r"(?P<what>.*?)(?: - at `\$?(?P<path>[^`]*)`)?", re.DOTALL)
_SOME = " (one of them)"
"""A step to a value of a table whose keys are free: the library does not say which."""
_UNKNOWN = re.compile(r"Object contains unknown field `(?P<key>.*)`", re.DOTALL)
_MISSING = re.compile(r"Object missing required field `(?P<key>.*)`", re.DOTALL)
_NO_CHOICE = re.compile(r"Invalid enum value '?(?P<value>.*?)'?", re.DOTALL)
_PLAIN = {
    "`object`": "a table",
    "`array`": "a list",
    "`str`": "a text",
    "`int`": "a number",
    "`float`": "a number",
    "`bool`": "true or false",
    "`null`": "nothing",
}
_PLAIN_KINDS = {inspect.StrType: "a text", inspect.BoolType: "true or false"}
_LONGEST = 300


def printable(text: str, longest: int = _LONGEST) -> str:
    """Return a text fit for one line of a terminal, not too long; see ``visible``."""
    line = visible(" ".join(text.split()))
    return line if len(line) <= longest else line[: longest - 1] + "…"


def complaint(error: msgspec.ValidationError, record: type[msgspec.Struct], under: str = "") -> str:
    """Say in one sentence which key of a file is wrong and what would be right.

    Args:
        error: what msgspec said on converting a table of the file to ``record``.
        record: the struct of that table, which says which keys there are.
        under: the key of that table; nothing for the whole file.
    """
    match = _WHERE.fullmatch(str(error))
    what, path = (match["what"], match["path"] or "") if match else (str(error), "")
    steps = [
        step["key"] or (int(step["place"]) if step["place"] else _SOME)
        for step in _STEP.finditer(path)
    ]
    found = _type_at(inspect.type_info(record), steps)
    return printable(_sentence(what, [under, *steps] if under else steps, found))


def _sentence(what: str, steps: list[str | int], found: inspect.Type) -> str:
    if unknown := _UNKNOWN.fullmatch(what):
        known = ", ".join(field.encode_name for field in _fields(_with_parts(found)))
        return f"{_name([*steps, unknown['key']])}: no such key here; the keys are {known}"
    if missing := _MISSING.fullmatch(what):
        right = _right(_type_at(found, [missing["key"]]))
        return f"{_name([*steps, missing['key']])} is missing; give it as {right}"
    if chosen := _NO_CHOICE.fullmatch(what):
        return f'{_name(steps)}: "{chosen["value"][:40]}" is not {_right(found)}'
    if what.startswith("Expected "):
        got = what.rpartition(", got ")[2]
        return f"{_name(steps)}: must be {_right(found)}, not {_PLAIN.get(got, got)}"
    return f"{_name(steps)}: {what}"


def _name(steps: Sequence[str | int]) -> str:
    """A path as a person counts: ``shot 3.held``."""
    name = ""
    for step in steps:
        if isinstance(step, int):
            name += f" {step + 1}"
        else:
            name += f".{step[:40]}" if name and step != _SOME else step[:40]
    return name or "the file"


def _type_at(found: inspect.Type, steps: Sequence[str | int]) -> inspect.Type:
    for step in steps:
        found = _with_parts(found)
        if isinstance(found, inspect.ListType | inspect.VarTupleType):
            found = found.item_type
        elif isinstance(found, inspect.DictType):
            found = found.value_type
        else:
            fields = {field.encode_name: field.type for field in _fields(found)}
            found = fields.get(str(step), inspect.AnyType())
    return found


def _bare(found: inspect.Type) -> inspect.Type:
    """The type itself where it is one or nothing."""
    if isinstance(found, inspect.UnionType):
        return next(kind for kind in found.types if not isinstance(kind, inspect.NoneType))
    return found


def _with_parts(found: inspect.Type) -> inspect.Type:
    """The type that has keys, where it is one of several."""
    if isinstance(found, inspect.UnionType):
        parted = (kind for kind in found.types if isinstance(kind, inspect.StructType))
        return next(parted, _bare(found))
    return found


def _fields(found: inspect.Type) -> tuple[inspect.Field, ...]:
    return found.fields if isinstance(found, inspect.StructType) else ()


def _right(found: inspect.Type) -> str:
    """Return what a value of this kind looks like."""
    found = _bare(found)
    match found:
        case inspect.EnumType():
            return "one of " + ", ".join(str(option.value) for option in found.cls)
        case inspect.CustomType():
            return str(getattr(found.cls, "written", "a value"))
        case inspect.TupleType():
            return f"a list of {len(found.item_types)} values"
        case inspect.ListType(item_type=item) | inspect.VarTupleType(item_type=item):
            tables = isinstance(item, inspect.StructType)
            return "a list of tables" if tables else f"a list, each {_right(item)}"
    return _PLAIN_KINDS.get(type(found), "a table")
