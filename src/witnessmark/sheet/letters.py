"""The letters that are printed: which face has a sign, how wide a text is, where a line ends.

One family of faces comes with the package ``weblate-fonts``, under the SIL Open Font License 1.1,
which allows letters to be embedded in any document. Its first face has Latin, Greek, Cyrillic and
many more; four have the signs of China, Taiwan, Japan and Korea, which share numbers in Unicode but
not shapes.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterable, Sequence
from functools import lru_cache
from importlib.resources import files
from itertools import groupby
from typing import TYPE_CHECKING

from witnessmark.drawing.strokes import Box
from witnessmark.sheet.page import LETTERS_MM, Align, Text

if TYPE_CHECKING:
    from reportlab.pdfbase.ttfonts import TTFont

_FIRST, _CHINESE, _JAPANESE, _KOREAN = "", ("SC", "TC"), "JP", "KR"
LACKING = "□"
"""What is printed in place of a sign that no face has."""
_MOST_NAMED = 3
_ABOVE, _BELOW = 0.85, 0.25
"""How far letters reach above and below the line that they stand on, as parts of their size."""


def width_mm(text: str, size_mm: float = LETTERS_MM, *, bold: bool = False) -> float:
    """How wide a line of letters is."""
    return math.fsum(face.stringWidth(part, size_mm) for face, part in runs(text, bold=bold))


def runs(text: str, *, bold: bool = False) -> list[tuple[TTFont, str]]:
    """A text as it can be printed in parts, each with its face."""
    line, _ = printable(text)
    order = _faces(line)
    parts = groupby(line, key=lambda sign: _which(sign, order) or _FIRST)
    return [(_face(which, bold), "".join(signs)) for which, signs in parts]


@lru_cache(maxsize=4096)
def printable(text: str) -> tuple[str, frozenset[str]]:
    """A text of one line as it can be printed, and the signs that are replaced in it."""
    line = " ".join(unicodedata.normalize("NFC", text).split())
    order = _faces(line)
    lacking = frozenset(sign for sign in line if _is_joined(sign) or _which(sign, order) is None)
    return "".join(LACKING if sign in lacking else sign for sign in line), lacking


def lacking_words(lacking: Iterable[str]) -> str:
    """A note of the signs that were replaced, by their names in Unicode."""
    names = [unicodedata.name(sign, f"U+{ord(sign):04X}").lower() for sign in sorted(lacking)]
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"{LACKING}: a sign that cannot be printed here ({', '.join(names[:_MOST_NAMED])}{more})"


def wrapped(
    text: str, most_mm: float, size_mm: float = LETTERS_MM, *, bold: bool = False
) -> list[str]:
    """A text in lines of at most so many mm; a word that no line holds is broken."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_mm(longer, size_mm, bold=bold) <= most_mm:
            lines[-1] = longer
        else:
            lines += _broken(word, most_mm, size_mm, bold=bold)
    return lines or [""]


def cut(text: str, most_mm: float, size_mm: float = LETTERS_MM, *, bold: bool = False) -> str:
    """A text shortened to so many mm."""
    text = " ".join(text.split())
    if width_mm(text, size_mm, bold=bold) <= most_mm:
        return text
    first = _broken(text, most_mm - width_mm("…", size_mm, bold=bold), size_mm, bold=bold)[0]
    return f"{first.rstrip()}…"


def extent(text: Text) -> Box:
    """The paper that a text takes up."""
    width = width_mm(text.text, text.size_mm, bold=text.bold)
    x, y = text.at
    left = x - {Align.START: 0.0, Align.MIDDLE: width / 2, Align.END: width}[text.align]
    return Box(left, y - _ABOVE * text.size_mm, left + width, y + _BELOW * text.size_mm)


def _broken(word: str, most_mm: float, size_mm: float, *, bold: bool) -> list[str]:
    parts = [""]
    for sign in word:
        if parts[-1] and width_mm(parts[-1] + sign, size_mm, bold=bold) > most_mm:
            parts.append("")
        parts[-1] += sign
    return parts


def _faces(text: str) -> Sequence[str]:
    """Every face, those first whose shapes the text is likely to want."""
    has_kana = any("\u3040" <= sign <= "\u30ff" for sign in text)
    first = (_JAPANESE, *_CHINESE) if has_kana else (*_CHINESE, _JAPANESE)
    return (_FIRST, *first, _KOREAN)


def _which(sign: str, order: Sequence[str]) -> str | None:
    return next((which for which in order if ord(sign) in _signs(which)), None)


def _is_joined(sign: str) -> bool:
    """Whether it runs from right to left or changes place or shape, as no face does by itself."""
    return unicodedata.bidirectional(sign) in ("R", "AL") or unicodedata.category(sign) == "Mc"


@lru_cache
def _signs(which: str) -> frozenset[int]:
    return frozenset(_face(which, bold=False).face.charToGlyph)


@lru_cache
def _face(which: str, bold: bool) -> TTFont:
    """A face that reportlab knows by its name."""
    from reportlab.pdfbase import pdfmetrics  # noqa: PLC0415
    from reportlab.pdfbase.ttfonts import TTFont  # noqa: PLC0415

    file = f"KurintoSans{which}-{'Bd' if bold else 'Rg'}.ttf"
    folder = files("weblate_fonts") / "static" / "weblate_fonts" / "kurinto" / "ttf"
    face = TTFont(file, str(folder / file))
    pdfmetrics.registerFont(face)
    return face
