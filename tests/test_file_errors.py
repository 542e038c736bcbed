"""What msgspec says of wrong data, in its own words, and what is made of that."""

from __future__ import annotations

import enum
import re
import tomllib
from importlib.metadata import version
from pathlib import Path

import msgspec
import pytest

from witnessmark.file_errors import _MISSING, _NO_CHOICE, _PLAIN, _UNKNOWN, complaint

PYPROJECT = Path(__file__).parents[1] / "pyproject.toml"


class Colour(enum.Enum):
    RED = "red"
    BLUE = "blue"


class Inner(msgspec.Struct, forbid_unknown_fields=True):
    size: int = 0


class Outer(msgspec.Struct, forbid_unknown_fields=True):
    name: str
    colour: Colour = Colour.RED
    on: bool = False
    pair: tuple[int, int] = (0, 0)
    inner: Inner | None = None
    parts: list[Inner] = []
    by_name: dict[str, Inner] = {}


CASES = [
    ({}, "name is missing; give it as a text"),
    ({"name": "a", "size": 1}, "size: no such key here; the keys are name, colour, on, pair,"),
    ({"name": "a", "inner": {"x": 1}}, "inner.x: no such key here; the keys are size"),
    ({"name": "a", "parts": [{}, {"x": 1}]}, "parts 2.x: no such key here; the keys are size"),
    ({"name": "a", "parts": [{}, 3]}, "parts 2: must be a table, not a number"),
    ({"name": "a", "parts": {}}, "parts: must be a list of tables, not a table"),
    ({"name": "a", "by_name": {"b": []}}, "by_name (one of them): must be a table, not a list"),
    (
        {"name": "a", "by_name": {"b": {"x": 1}}},
        "by_name (one of them).x: no such key here; the keys are size",
    ),
    ({"name": "a", "colour": "green"}, 'colour: "green" is not one of red, blue'),
    ({"name": "a", "colour": 3}, "colour: must be one of red, blue, not a number"),
    ({"name": "a", "pair": [1]}, "pair: must be a list of 2 values, not 1"),
    ({"name": 1}, "name: must be a text, not a number"),
    ({"name": 1.5}, "name: must be a text, not a number"),
    ({"name": True}, "name: must be a text, not true or false"),
    ({"name": None}, "name: must be a text, not nothing"),
    ({"name": "a", "on": "yes"}, "on: must be true or false, not a text"),
]


def said(data: object) -> msgspec.ValidationError:
    with pytest.raises(msgspec.ValidationError) as caught:
        msgspec.convert(data, Outer)
    return caught.value


@pytest.mark.parametrize(("data", "words"), CASES)
def test_what_the_library_says_is_understood(data: object, words: str) -> None:
    assert complaint(said(data), Outer).startswith(words)


def test_every_message_that_is_parsed_comes_from_the_library() -> None:
    told = [str(said(data)) for data, _ in CASES]
    for pattern in (_UNKNOWN, _MISSING, _NO_CHOICE):
        assert any(pattern.fullmatch(re.sub(r" - at `.*", "", line)) for line in told)
    for name in _PLAIN:
        assert any(f"got {name}" in line for line in told), name


def test_only_the_release_that_these_messages_were_seen_from_is_let_in() -> None:
    wanted = tomllib.loads(PYPROJECT.read_text("utf-8"))["project"]["dependencies"]
    (pin,) = [one for one in wanted if one.startswith("msgspec")]
    major, minor = map(int, version("msgspec").split(".")[:2])
    assert pin == f"msgspec>={major}.{minor},<{major}.{minor + 1}"
