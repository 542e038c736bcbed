"""TOML and JSON of others, refused as mere text where it is nested deeper than any of ours.

Readers of TOML take memory by the square of a key's parts, and whatever walks a table takes a frame
of the stack for each level. One pass over the text, outside its strings and comments, tells both
before anything is built.
"""

from __future__ import annotations

import contextlib
import re
import tomllib
from collections.abc import Iterator
from typing import Any, Final

_DEEPEST: Final = 8
"""Most brackets open at once, and most dots in a key; our formats have six and four."""
_TOKEN: Final = re.compile(
    r"""
      \"\"\"(?:[^"\\]|\\.|"{1,2}(?!"))*+(?:"{3,5}|\Z)   # a text of several lines, its ends in it
    | '''(?:[^']|'{1,2}(?!'))*+(?:'{3,5}|\Z)
    | "(?:[^"\\\n]|\\[^\n])*+"?
    | '[^'\n]*+'?
    | \#[^\n]*+
    | (?P<open>[\[{])
    | (?P<close>[\]}])
    | (?P<dot>\.)
    | (?P<between>[=,\n])
    """,
    re.VERBOSE | re.DOTALL,
)


def check_nesting(text: str) -> None:
    """Refuse a text of TOML or JSON that is nested deeper than our formats are.

    Raises:
        ValueError: naming the line.
    """
    depth = dots = 0
    for token in _TOKEN.finditer(text):
        kind = token.lastgroup
        depth += (kind == "open") - (kind == "close")
        if kind == "dot":
            dots += 1
        elif kind is not None:
            dots = 0
        if depth > _DEEPEST or dots > _DEEPEST:
            line = text.count("\n", 0, token.start()) + 1
            what = "a key has" if dots > _DEEPEST else "brackets have"
            raise ValueError(
                f"it is nested too deeply at line {line}, where {what} over {_DEEPEST} levels"
            )


def read_toml(text: str) -> dict[str, Any]:
    """Return the tables of a text of TOML.

    Raises:
        ValueError: when it is not TOML, is nested deeper than our formats are, or holds a number of
            more digits than Python reads.
    """
    check_nesting(text)
    with digits_told():
        return tomllib.loads(text)


@contextlib.contextmanager
def digits_told() -> Iterator[None]:
    """Tell in words of ours of a number that Python will not read; a syntax error stays.

    Raises:
        ValueError: saying so.
    """
    try:
        yield
    except ValueError as error:
        if type(error) is not ValueError:  # those of syntax are kinds of it
            raise
        raise ValueError("it holds a number of thousands of digits") from None
