"""How deep a text of TOML or JSON is nested, told before a reader has to build it."""

from __future__ import annotations

import tomllib

import pytest

from witnessmark.nesting import check_nesting, read_toml

DEEP = ".".join("a" * 10)


@pytest.mark.parametrize(
    "text",
    [
        f"{DEEP} = 1",
        " . ".join("a" * 10) + " = 1",
        ".".join(['"a"'] * 10) + " = 1",
        ".".join(["'a.b'"] * 10) + " = 1",
        f"[{DEEP}]",
        f"a = {{ {DEEP} = 1 }}",
        f"a = {{ b = 1, {DEEP} = 1 }}",
        'a = { b = """x"""", ' + DEEP + " = 1 }",
        "a = { b = '''x''''', " + DEEP + " = 1 }",
        f'a = "\\\\" # "\n{DEEP} = 1',
        f"a = '\\'\n{DEEP} = 1",
        f'a = """\n"\\"""" # "\n{DEEP} = 1',
        "a = " + "[" * 10 + "]" * 10,
        '{"a": ' * 10 + "1" + "}" * 10,
    ],
    ids=lambda text: text[:30],
)
def test_a_text_that_is_nested_too_deeply_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"nested too deeply at line \d+"):
        check_nesting(text)


@pytest.mark.parametrize(
    "text",
    [
        f'a = "{DEEP}"',
        f"a = '{DEEP}' # {DEEP}",
        f'a = """\n{DEEP}\n""" # [[[[[[[[[[',
        f"a = '''\n{DEEP} [[[[[[[[[['''",
        'a = "\\"[[[[[[[[[[{{{{{{{{{{"',
        "a = [" + "[0.5, 1.5], " * 50 + "]",
        'cabinet.left.points."far . edge".inward = 1.5',
    ],
    ids=lambda text: text[:30],
)
def test_what_is_within_texts_and_comments_is_not_nested(text: str) -> None:
    assert read_toml(text) == tomllib.loads(text)
