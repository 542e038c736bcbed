"""Which digits at the end of a line check it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

import msgspec

from witnessmark.meters.checksum import Checksum
from witnessmark.meters.profile import TextChecksum
from witnessmark.meters.profile_values import Offset

_MOST_LEFT_OUT = 2
_MOST_BUT = 1
_DIGITS = {
    1: re.compile(rb".*[0-9A-Fa-f]{2}", re.DOTALL),
    2: re.compile(rb".*[0-9A-Fa-f]{4}", re.DOTALL),
}


class CheckedLines(msgspec.Struct, frozen=True):
    """The lines that end with their checksum, by known distance, without its digits."""

    checksum: TextChecksum
    groups: tuple[tuple[bytes, ...], ...]
    may_be_chance: bool
    """So few lines of so short a checksum were seen that it may fit by chance."""


def checked_lines(groups: Sequence[Sequence[bytes]]) -> CheckedLines | None:
    """Return what lines have in common that at each distance end with a checksum; None: nothing.

    Longer checksums are tried first, since the end of one may look like a shorter one.
    """
    plain = [[line.rstrip() for line in group] for group in groups]
    for checksum in _CHECKSUMS:
        kind, size = _DIGITS[checksum.kind.size], checksum.digits
        fitting = [
            [line for line in group if kind.fullmatch(line) and checksum.fits(line)]
            for group in plain
        ]
        if not all(fitting):
            continue
        every = {line for group in fitting for line in group}
        if len({line[-size:] for line in every}) < 2:
            continue
        return CheckedLines(
            checksum,
            tuple(tuple(line[:-size] for line in group) for group in fitting),
            may_be_chance=size == 2 and len(every) <= 2,
        )
    return None


_CHECKSUMS = [
    TextChecksum(kind=kind, leaves_out=Offset(left_out), but=Offset(but), low_first=low_first)
    for kind in sorted(Checksum, key=lambda one: -one.size)
    for left_out, but, low_first in itertools.product(
        range(_MOST_LEFT_OUT + 1), range(_MOST_BUT + 1), (False, True)
    )
    if kind.size > 1 or not low_first
]
