"""What can be printed of a text, how wide it is, and where a line of it ends."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import groupby

from witnessmark.drawing.strokes import Box
from witnessmark.errors import BadInput
from witnessmark.report.faces import EXTRA, Typeface, face_of, families, has_extra
from witnessmark.report.page import LETTERS_MM, PageText
from witnessmark.sentences import visible

LACKING = "□"
"""What is printed in place of a sign that no face has."""
_PLAIN = {"″": '"', "′": "'", "−": "-", "‐": "-", "‑": "-", "⁄": "/"}
"""Typographic signs, and the typewriter's signs that say exactly the same."""
_MOST_NAMED, _MOST_SHOWN = 3, 12
_EM = 1000.0
_ABOVE, _BELOW = 0.85, 0.25
"""How far letters reach above and below the line that they stand on, as parts of their size."""


def width_mm(text: str, size_mm: float = LETTERS_MM, *, bold: bool = False) -> float:
    """Return the width of a line of letters."""
    parts = runs(text, bold=bold)
    return math.fsum(face.widths.get(sign, _EM) for face, part in parts for sign in part) * (
        size_mm / _EM
    )


def runs(text: str, *, bold: bool = False) -> list[tuple[Typeface, str]]:
    """Cut a text into parts that can be printed, each with its face."""
    line, _ = printable(text)
    order = families(line)
    parts = groupby(line, key=lambda sign: _family(sign, order) or order[0])
    return [(face_of(family, bold=bold), "".join(signs)) for family, signs in parts]


@lru_cache(maxsize=4096)
def printable(text: str) -> tuple[str, frozenset[str]]:
    """Return a text as one line that can be printed, and the signs replaced by a box in it.

    A typographic sign without a face is printed as its plain equivalent, a sign that steers a
    terminal as it is written out there.
    """
    line = visible(" ".join(unicodedata.normalize("NFC", text).split()))
    order = families(line)
    line = "".join(sign if _family(sign, order) else _PLAIN.get(sign, sign) for sign in line)
    lacking = frozenset(sign for sign in line if _is_joined(sign) or _family(sign, order) is None)
    return "".join(LACKING if sign in lacking else sign for sign in line), lacking


def lacking_words(lacking: Iterable[str]) -> str:
    """Return a note of the signs that were replaced, by their names in Unicode."""
    names = [unicodedata.name(sign, f"U+{ord(sign):04X}").lower() for sign in sorted(lacking)]
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return (
        f"{LACKING}: a character that cannot be printed here "
        f"({', '.join(names[:_MOST_NAMED])}{more})"
    )


def refuse_lacking(lacking: Iterable[str]) -> None:
    """Refuse a sheet with signs that the faces of the extra may have, where that is missing.

    Raises:
        BadInput: naming the signs, and the extra.
    """
    signs = [
        f'"{sign}"' if sign.isprintable() else f"U+{ord(sign):04X}" for sign in sorted(lacking)
    ]
    if not signs or has_extra():
        return
    more = f" and {len(signs) - _MOST_SHOWN} more" if len(signs) > _MOST_SHOWN else ""
    raise BadInput(
        f"{' '.join(signs[:_MOST_SHOWN])}{more}: only western European letters are installed; "
        f"for most other writing systems run {EXTRA}"
    )


def wrapped(
    text: str, most_mm: float, size_mm: float = LETTERS_MM, *, bold: bool = False
) -> list[str]:
    """Break a text into lines of at most ``most_mm``; a word that no line holds is broken."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, size_mm, bold=bold) <= most_mm:
            lines[-1] = longer
        else:
            lines += _broken(word, most_mm, size_mm, bold=bold)
    return lines or [""]


def cut(text: str, most_mm: float, size_mm: float = LETTERS_MM, *, bold: bool = False) -> str:
    """Return a text shortened to a width of ``most_mm``."""
    text = " ".join(text.split())
    if width_mm(text, size_mm, bold=bold) <= most_mm:
        return text
    text, _ = printable(text)  # a sign that is written out, as an escape is, can be cut, too
    first = _broken(text, most_mm - width_mm("…", size_mm, bold=bold), size_mm, bold=bold)[0]
    return f"{first.rstrip()}…"


def extent(text: PageText) -> Box:
    """Return the paper that a text takes up."""
    width = width_mm(text.text, text.size_mm, bold=text.bold)
    x, y = text.at
    left = x - text.align.before * width
    return Box(left, y - _ABOVE * text.size_mm, left + width, y + _BELOW * text.size_mm)


def _broken(word: str, most_mm: float, size_mm: float, *, bold: bool) -> list[str]:
    parts = [""]
    for sign in word:
        if parts[-1] and width_mm(parts[-1] + sign, size_mm, bold=bold) > most_mm:
            parts.append("")
        parts[-1] += sign
    return parts


def _family(sign: str, order: Sequence[str]) -> str | None:
    return next((family for family in order if sign in face_of(family).widths), None)


def _is_joined(sign: str) -> bool:
    """Return whether a sign runs from right to left or changes its place or shape."""
    return unicodedata.bidirectional(sign) in ("R", "AL") or unicodedata.category(sign) == "Mc"
