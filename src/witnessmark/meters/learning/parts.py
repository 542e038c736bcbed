"""Numbers that are part of other numbers: which of the two is the distance.

``189`` in ``189,9 cm`` explains a known distance as well as ``189,9`` does, and is up to 10 mm
short. So what leaves digits beside its number has to be shown to be right: by digits beside it that
behave as a field of their own, such as a count.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Sequence
from typing import Final

import msgspec

from witnessmark.meters.learning.fitting import Candidate

Span = tuple[int, int]

_QUIET: Final = 4
"""By how much a count or a charge changes from one shot to the next, at most."""
_CHANCE: Final = 1e-4
"""How often decimals may look like a count by chance, at most."""
_CHANCE_HARMLESS: Final = 1e-2
"""The same where taking them for a count costs no more than a millimetre or so."""
_HARMLESS_MM: Final = 1.5


class LineCandidate(msgspec.Struct, frozen=True):
    """A decoding of lines, with the lines and from where to where its number stands in each."""

    candidate: Candidate
    texts: tuple[str, ...]
    spans: tuple[Span, ...]
    fields: int
    """Into how many fields the lines were cut; 0: they are read as they are."""
    is_grouped: bool = False


def without_parts(found: Sequence[LineCandidate]) -> list[LineCandidate]:
    """Return the candidates without those that are refuted by another.

    A part of a longer number is left out unless the rest of that is shown to be a field of its own;
    then the longer number is. Of two ways that find the same in the same place, the one that cuts
    the line into fewer fields is kept.
    """
    found = _without_doubles(found)
    out: set[int] = set()
    for to, whole in enumerate(found):
        parts = {at: part for at, part in enumerate(found) if _is_part(part, whole)}
        if _are_two(parts.values()) or any(_is_apart(part, whole) for part in parts.values()):
            out.add(to)
        else:
            out |= {at for at, part in parts.items() if not _may_be_apart(part, whole)}
    return [one for at, one in enumerate(found) if at not in out]


def _without_doubles(found: Sequence[LineCandidate]) -> list[LineCandidate]:
    kept: dict[object, LineCandidate] = {}
    for one in sorted(found, key=lambda one: one.fields):
        found_mm = tuple(round(mm, 6) for mm in one.candidate.found_mm)
        key = (one.candidate.channel, one.texts, one.spans, one.is_grouped, found_mm)
        kept.setdefault(key, one)
    return list(kept.values())


def _is_part(part: LineCandidate, whole: LineCandidate) -> bool:
    """Return whether in the same lines one number stands within the other."""
    if part.candidate.channel != whole.candidate.channel or part.texts != whole.texts:
        return False
    within = all(
        begin <= one and other <= end
        for (one, other), (begin, end) in zip(part.spans, whole.spans, strict=True)
    )
    return within and part.spans != whole.spans


def _are_two(parts: Iterable[LineCandidate]) -> bool:
    """Return whether both ends of a number are the distance, so that it is two numbers."""
    pairs = itertools.combinations(parts, 2)
    return any(not one.candidate.place & other.candidate.place for one, other in pairs)


def _is_apart(part: LineCandidate, whole: LineCandidate) -> bool:
    """Return whether the digits beside the part are shown to be a field of their own.

    A fraction is none: 9/16 comes three times in a row more easily than three other digits do.
    """
    is_fraction = any("/" in rest for beside in _beside(part, whole) for rest in beside)
    if whole.is_grouped or is_fraction:
        return False
    harmless = part.candidate.step_mm <= _HARMLESS_MM
    if harmless and _may_be_apart(part, whole):
        return True
    few = _CHANCE_HARMLESS if harmless else _CHANCE
    before, behind = zip(*_beside(part, whole), strict=True)
    return _looks_quiet(before, few) or _looks_quiet(behind, few)


def _may_be_apart(part: LineCandidate, whole: LineCandidate) -> bool:
    """Return whether what is between the part and the rest also parts the whole from its neighbour.

    Nothing can be said then where that would cost much: another known distance may tell.
    """
    if whole.is_grouped:
        return False
    lines = zip(whole.texts, whole.spans, _beside(part, whole), strict=True)
    for text, (begin, end), beside in lines:
        for rest in filter(None, beside):
            sign = rest.strip("0123456789")
            if len(sign) == 1 and sign in {text[max(begin - 1, 0) : begin], text[end : end + 1]}:
                return True
    return False


def _beside(part: LineCandidate, whole: LineCandidate) -> list[tuple[str, str]]:
    """Return what of the whole stands before the part, and behind it, by line."""
    return [
        (text[begin:one], text[other:end])
        for text, (one, other), (begin, end) in zip(
            part.texts, part.spans, whole.spans, strict=True
        )
    ]


def _looks_quiet(rests: Sequence[str], few: float) -> bool:
    """Whether digits stay the same or change by little, as those of a count or a charge do."""
    numbers = [re.sub("[^0-9]", "", rest) for rest in rests]
    if not all(numbers):
        return False
    values = [int(number) for number in numbers]
    steps = [abs(later - one) for one, later in itertools.pairwise(values)]
    width = min(map(len, numbers))
    reach = 1 if not any(steps) else 2 * _QUIET + 1
    return max(steps, default=99) <= _QUIET and (reach / 10**width) ** len(steps) <= few
