"""Texts of strangers that would steer a terminal, put beside every text of a record."""

from __future__ import annotations

import enum
from typing import TypeVar, cast

import msgspec

T = TypeVar("T")

EVIL = "a\x1b[2J\x9b2J\x07\x7f\u202eb"
STEERS = frozenset("\x1b\x9b\x07\x7f\u202e")


def strange(value: T) -> T:
    """Return a record, list or table by name with such a text after every text within it."""
    return cast("T", _strange(value))


def _strange(value: object) -> object:
    if isinstance(value, str):
        return value if isinstance(value, enum.Enum) else value + EVIL
    if isinstance(value, dict):
        return {strange(key): strange(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        parts = map(strange, value)
        return type(value)(*parts) if hasattr(value, "_fields") else type(value)(parts)
    if isinstance(value, msgspec.Struct):
        fields = value.__struct_fields__
        return type(value)(**{name: strange(getattr(value, name)) for name in fields})
    return value
