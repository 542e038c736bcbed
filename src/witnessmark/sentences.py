"""How sentences are put together: lists, capitals and full stops, lines of a given width."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from textwrap import wrap
from typing import Any
from unicodedata import category

_STEERING = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
"""Categories of Unicode that are no sign and no space: they steer, or are not there."""

_ESCAPE = re.compile(
    r"\\(?:(?P<sign>u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}|u[0-9a-fA-F]{4})|.)",
    re.DOTALL,
)
"""An escape of JSON, of which two together may write one sign."""
_KEY = re.compile("(room|datum|offsets|keep_clear|mark): ")


def listed(words: Sequence[str]) -> str:
    """Return ``a``, ``a and b``, ``a, b and c``."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def percent(probability: float) -> str:
    """Return a probability that is neither none nor certainty in whole percents, rounded down."""
    return f"{min(max(math.floor(100 * probability), 1), 99)} %"


def sentence(words: object) -> str:
    """Return words that may stand within a sentence as one of their own."""
    text = str(words)
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith(("?", ".")) else ".")


def refusal(error: Exception) -> str:
    """Return what is wrong, without the key under which it would stand in a file."""
    return f"✗ {_KEY.sub('', str(error), count=1)}."


def hanging(words: str, columns: int, *, first: str = "", rest: str = "  ") -> str:
    """Return words in lines of at most ``columns`` that begin with ``first``, then ``rest``."""
    return "\n".join(wrap(words, columns, initial_indent=first, subsequent_indent=rest))


def visible(text: str) -> str:
    """Return a text in which every sign that steers a terminal is written out: ESC as four.

    All text of others goes through here on its way out, or it could paint over what is true.
    """
    if text.isprintable():
        return text
    return "".join(ascii(sign)[1:-1] if category(sign) in _STEERING else sign for sign in text)


def json_visible(text: str) -> str:
    """Return JSON that reads back the same, with every such sign in a text as an escape of JSON."""
    if text.isascii() and "\x7f" not in text:
        return text
    return "".join(json.dumps(sign)[1:-1] if _is_escaped(sign) else sign for sign in text)


def json_as_written(text: str) -> str:
    """Return the JSON of which ``json_visible`` made this text, sign for sign."""
    return _ESCAPE.sub(_as_written, text) if "\\u" in text else text


def _is_escaped(sign: str) -> bool:
    # those below DEL are escapes in any JSON, or stand between its texts
    return sign >= "\x7f" and category(sign) in _STEERING


def _as_written(escape: re.Match[str]) -> str:
    if escape["sign"] is None:
        return escape[0]
    sign: str = json.loads(f'"{escape[0]}"')
    # half of a pair is no sign, and was an escape from the start
    return sign if _is_escaped(sign) and category(sign) != "Cs" else escape[0]


def visible_lines(text: str) -> str:
    """Return a text of several lines in which every other sign that steers is written out."""
    return "\n".join(map(visible, text.split("\n")))


def visible_within(value: Any) -> Any:  # noqa: ANN401 - what JSON holds
    """Return lists and tables by name with every text in them as ``visible_lines`` has it."""
    match value:
        case str():
            return visible_lines(value)
        case list() | tuple():
            return [visible_within(one) for one in value]
        case dict():
            return {visible_lines(key): visible_within(one) for key, one in value.items()}
    return value
