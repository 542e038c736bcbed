"""One name a thing: no two classes are called alike, and no two files of a folder nearly so."""

from __future__ import annotations

import ast
import itertools
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

SRC = Path(__file__).parents[1] / "src"

SAID_WITH_ITS_WIDGET = {"Changed"}
"""Textual's own name for the message of a widget; it is read with that widget's name before it."""


def test_no_class_name_stands_for_two_things() -> None:
    names = Counter(name for path in SRC.rglob("*.py") for name in _types(path))
    assert names["Setup"] == 1
    twice = {name for name, count in names.items() if count > 1}
    assert twice <= SAID_WITH_ITS_WIDGET


def test_no_two_files_of_a_folder_are_easily_taken_for_each_other() -> None:
    alike = [
        (one, other)
        for folder in {path.parent for path in SRC.rglob("*.py")}
        for one, other in itertools.combinations(sorted(_stems(folder)), 2)
        if one[0] == other[0] and _letters_apart(one, other) <= 2
    ]
    assert alike == []


def test_letters_apart_are_those_to_add_to_leave_out_or_to_replace() -> None:
    assert _letters_apart("room", "rooms") == 1
    assert _letters_apart("room", "rows") == 2
    assert _letters_apart("kitten", "sitting") == 3  # the usual example of V. I. Levenshtein's


def _types(path: Path) -> Iterator[str]:
    """The classes and named types of a file; an underscore before one makes no other name."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        match node:
            case ast.ClassDef(name=name):
                yield name.lstrip("_")
            case ast.Assign(targets=[ast.Name(id=name)]) if _is_type_name(name):
                yield name.lstrip("_")


def _is_type_name(name: str) -> bool:
    bare = name.lstrip("_")
    return bare[:1].isupper() and len(bare) > 1 and not bare.isupper()


def _stems(folder: Path) -> list[str]:
    return [path.stem for path in folder.glob("*.py") if path.stem != "__init__"]


def _letters_apart(one: str, other: str) -> int:
    before = list(range(len(other) + 1))
    for row, letter in enumerate(one, 1):
        now = [row]
        for column, another in enumerate(other, 1):
            replaced = before[column - 1] + (letter != another)
            now.append(min(now[-1] + 1, before[column] + 1, replaced))
        before = now
    return before[-1]
