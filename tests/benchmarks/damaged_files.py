"""What the fuzzing of files shares: how a sound file is damaged, and a second reading of lengths.

The second reading knows the rules of ``witnessmark.lengths`` from its page alone and none of its
code. It may take more than the program does, for what is refused needs no second opinion.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from fractions import Fraction
from typing import Final

import msgspec
from fuzz_decoders import spoilt
from numpy.random import Generator

from witnessmark.errors import WitnessmarkError

HOSTILE: Final = (
    *(b"1e400", b"nan", b"inf", b"-inf", b"NaN", b"Infinity", b"-Infinity", b"-0", b"-0.0"),
    *(b"1e-400", b"-1e308", b"1e9", b"0x7FFFFFFF", b"1_000", b"+5", b"1.", b".5", b"00", b"0"),
    *(b"true", b"false", b"null", b"[]", b"{}", b'""', b"''", b'"""', b"'''", b"#", b"\\", b"."),
    *(b"\x00", b"\x1b[2J", b"\r", b"\r\n", b"\n", b"\xff", b"\xef\xbb\xbf", b"\xed\xa0\x80"),
    *(b'"\\ud800"', b'"\\udc00x"', b'"\\u0000"', b'"\\u202e"', b'"\\n"', b'"\\x"'),
    *(b"1979-05-27T07:32:00Z", b"0001-01-01", b"07:32:00", b"9999-12-31T23:59:59.999999-14:00"),
    *(b'"0001-01-01T00:00:00.000000+00:00"', b'"9999-12-31T23:59:59.999999+00:00"'),
    *(b"a.b.c.d.e.f.g.h.i.j", b'"a.b"', b'"` - at `$.x[3]"', b"$", b"`", b"~"),
    *(b'"1e400 m"', b'"nan m"', b'"-1 m"', b'"100 m"', b'"100.001 m"', b'"0 m"', b'"5"', b'"5.4"'),
    *('"½ in"'.encode(), '"５ m"'.encode(), '"8′ 3½″"'.encode(), b'"56.865  mm"', b'"2,435"'),
    *(b'"1 000 mm"', b'"12 m 43"', b'"7/0 in"', b"2", b"100000", b"100001", b"-100000"),
)
"""Texts that replace a sound piece of a file."""
LONG: Final = (
    *(b"9" * 5000, b"0x" + b"F" * 5000, b"0." + b"9" * 5000, b"-" + b"1" * 400, b"1" * 310),
    *(b"[" * 900, b"{" * 900, b'{"a":' * 400, b"[" * 400 + b"]" * 400, b"a." * 900 + b"a"),
    *(b'"' + b"x" * 20_000 + b'"', b'"' + b"7" * 5000 + b' m"', b" " * 5000, b"\n" * 3000),
)
"""The same where it is long; seldom, because it eats up the bytes."""
_PIECE: Final = re.compile(rb'"(?:[^"\\\n]|\\.)*"|[A-Za-z_]+|-?[0-9][0-9.eE+-]*|[\[\]{}=:,.]|\n')


def damaged(data: bytes, other: bytes, rng: Generator) -> bytes:
    """A sound file with something done to it, or nothing in one time of five."""
    for _ in range(int(rng.choice([0, 1, 1, 2, 3]))):
        data = WAYS[int(rng.integers(len(WAYS)))](data or other, other, rng)
    return data


def _piece(data: bytes, rng: Generator) -> tuple[int, int]:
    spans = [piece.span() for piece in _PIECE.finditer(data)]
    return spans[int(rng.integers(len(spans)))] if spans else (0, len(data))


def _hostile(data: bytes, _other: bytes, rng: Generator) -> bytes:
    start, end = _piece(data, rng)
    chosen = LONG if rng.random() < 0.02 else HOSTILE
    return data[:start] + chosen[int(rng.integers(len(chosen)))] + data[end:]


def _swapped(data: bytes, other: bytes, rng: Generator) -> bytes:
    (start, end), (a, b) = _piece(data, rng), _piece(other, rng)
    return data[:start] + other[a:b] + data[end:]


def _digit(data: bytes, _other: bytes, rng: Generator) -> bytes:
    places = [at for at, byte in enumerate(data) if chr(byte) in "0123456789.,-+ '\""]
    if not places:
        return data
    at = places[int(rng.integers(len(places)))]
    return data[:at] + bytes([int(rng.choice(list(b"0123456789.,-+ '\"e")))]) + data[at + 1 :]


def _lines(data: bytes, _other: bytes, rng: Generator) -> bytes:
    """Lines left out, doubled or exchanged."""
    lines = data.splitlines(keepends=True)
    if len(lines) < 2:
        return data + data
    one, two = (int(at) for at in rng.integers(len(lines), size=2))
    way = rng.integers(3)
    if way == 0:
        del lines[one]
    elif way == 1:
        lines.insert(two, lines[one])
    else:
        lines[one], lines[two] = lines[two], lines[one]
    return b"".join(lines)


def _ends(data: bytes, _other: bytes, rng: Generator) -> bytes:
    ways = (data.replace(b"\n", b"\r\n"), data.replace(b"\n", b"\r"), b"\xef\xbb\xbf" + data)
    return ways[int(rng.integers(len(ways)))]


WAYS: Final[tuple[Callable[[bytes, bytes, Generator], bytes], ...]] = (
    *(spoilt, _hostile, _hostile, _hostile, _swapped, _swapped, _digit, _digit, _digit),
    *(_lines, _lines, _ends),
)


class Fed(msgspec.Struct):
    """What came of one file or of many: bytes that were fed, and right figures that came.

    ``misled`` are wrong ones that no reader could have known for wrong, as what it was shown first
    had been damaged.
    """

    count: int = 0
    figures: int = 0
    misled: int = 0


Once = Callable[[Generator], Fed]
"""Draws one file, damages it, reads it, and judges what comes out."""


def check_refusal(error: WitnessmarkError, data: bytes) -> None:
    """Make sure that a refusal is one sentence that a person can read."""
    words = str(error)
    inside = re.search(r"Traceback|object at 0x|sys\.set_int|<class|msgspec|Error\b", words)
    assert words, data
    assert words.isprintable(), (words, data)
    assert len(words) <= 1000, (words, data)
    assert inside is None, (words, data)


def is_same(one: float, other: float | None) -> bool:
    """Return whether two readings of a figure agree, but for rounding."""
    return other is not None and abs(one - other) <= 1e-9 * max(1.0, abs(other))


UNIT_MM: Final = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), 1.0),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), 10.0),
    **dict.fromkeys(("dm", "decimetre", "decimetres", "decimeter", "decimeters"), 100.0),
    **dict.fromkeys(("m", "metre", "metres", "meter", "meters"), 1000.0),
    **dict.fromkeys(("in", '"', "ins", "inch", "inches"), 25.4),
    **dict.fromkeys(("ft", "'", "foot", "feet"), 304.8),
    **dict.fromkeys(("yd", "yard", "yards"), 914.4),
}
_NUMBER = r"(?:[0-9]+[ -]+)?[0-9]+ ?/ ?[0-9]+|[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?|[0-9.,]+"
_UNIT = r"[^\W\d_]+\.?|['\"]"
_LENGTH = re.compile(rf"({_NUMBER}) ?({_UNIT})?(?:[ ,-]*({_NUMBER}) ?({_UNIT})?)?")
# 8-3 1/2", but 8-1/2" is one number
_INCHES = r"[0-9]+(?:(?: |- ?)[0-9]+ ?/ ?[0-9]+|[.,][0-9]+)?"
_BY_HYPHEN = re.compile(rf"([0-9]+) ?- ?({_INCHES}) ?(?:\"|in[a-z]*\.?)")


def number(text: str) -> float | None:
    """A whole number, decimals, thousands in groups, or a fraction."""
    if mixed := re.fullmatch(r"(?:([0-9]+)[ -]+)?([0-9]+) ?/ ?([0-9]+)", text):
        whole, over, under = (int(part or 0) for part in mixed.groups())
        return float(whole + Fraction(over, under)) if over < under else None
    digits = text.replace(" ", "").replace(",", ".")
    return float(digits) if re.fullmatch(r"[0-9]+\.?[0-9]*|\.[0-9]+", digits) else None


def length_mm(text: str, unit: str = "mm", *, by_meter: bool = False) -> float | None:
    """What a text is as a length, mm; a bare number is in ``unit``.

    For a meter a dot is always a decimal mark.
    """
    parted = re.sub("[¼-¾⅐-⅞]", lambda sign: f" {unicodedata.normalize('NFKC', sign[0])} ", text)
    plain = unicodedata.normalize("NFKC", parted).casefold()
    for signs, sign in (("‘’′ʹʼ´`", "'"), ("“”″ʺ", '"'), ("‐‑‒–—−", "-"), ("⁄∕", "/")):
        plain = re.sub(f"[{signs}]", sign, plain)
    plain = " ".join(plain.split()).replace("''", '"').removeprefix("+").strip()
    if feet := _BY_HYPHEN.fullmatch(plain):
        return 304.8 * int(feet[1]) + 25.4 * (number(feet[2]) or 0.0)
    match = _LENGTH.fullmatch(plain)
    if match is None:
        return None
    first, said, second, said_second = match.groups()
    size = UNIT_MM.get((said or unit).removesuffix("."))
    value = number(first)
    if size is None or value is None:
        return None
    if second is None:
        is_thousands = said and size == 1 and re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", first)
        return value * (1000 if is_thousands and not by_meter and value <= 100 else size)
    digits = {2: "cm", 3: "mm"}.get(len(re.split("[.,]", second)[0]), "?")
    rest = UNIT_MM.get((said_second or ("in" if size == 304.8 else digits)).removesuffix("."))
    after = number(second)
    return None if rest is None or after is None else value * size + after * rest


def drawn_length(rng: Generator, least: float, most: float) -> object:
    """A length in mm as one person or another writes it in a file."""
    mm = float(rng.uniform(least, most))
    inches, sixteenths = divmod(round(abs(mm) / 25.4 * 16), 16)
    sign = "-" if mm < 0 else ""
    ways: tuple[object, ...] = (
        *(round(mm), round(mm, 1), f"{mm:.0f} mm", f"{mm / 10:.1f} cm", f"{mm / 1000:.3f} m"),
        *(f"{mm / 1000:.4f}m", f"{mm / 25.4:.2f} in", f"{mm / 304.8:.4f} ft", f"{mm:.1f}"),
        f"{sign}{inches // 12}' {inches % 12} {sixteenths}/16\"",
        f"{sign}{inches} {sixteenths}/16 in",
    )
    return ways[int(rng.integers(len(ways)))]
