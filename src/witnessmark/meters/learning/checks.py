"""Which bytes of a frame, or digits at the end of a line, check it; and which never change."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence, Set
from itertools import pairwise
from typing import Final

import msgspec

from witnessmark.meters.checksum import Checksum
from witnessmark.meters.number import Order
from witnessmark.meters.profile import FixedBytes, FrameChecksum, FrameStatus, TextChecksum
from witnessmark.meters.profile_values import ByteFaults, Octets, Offset

COULD_NOT_MEASURE: Final = "the meter could not measure"

_MOST_BEHIND = 2
_MOST_LEFT_OUT = 2
_CHARGE = range(10, 101)
"""Values of a constant byte that may be the battery's charge in percent, which will change."""
_CHARGE_DROPS = 3
_SMALL_HIGHER = (0xFE, 0xFF, 0x00, 0x01)
"""The higher bytes of small signed numbers."""
_MINUS_ONE = b"\xff\xff"
_MOST_COUNTED = 4

_MOST_BUT = 1
_DIGITS = {
    1: re.compile(rb".*[0-9A-Fa-f]{2}", re.DOTALL),
    2: re.compile(rb".*[0-9A-Fa-f]{4}", re.DOTALL),
}
_CHECKSUMS = [
    TextChecksum(kind=kind, leaves_out=Offset(left_out), but=Offset(but), low_first=low_first)
    for kind in sorted(Checksum, key=lambda one: -one.size)
    for left_out, but, low_first in itertools.product(
        range(_MOST_LEFT_OUT + 1), range(_MOST_BUT + 1), (False, True)
    )
    if kind.size > 1 or not low_first
]


def checksum_of(frames: Sequence[bytes], taken: Set[int]) -> FrameChecksum | None:
    """Return the checksum that all these frames have, outside of the places ``taken``.

    It ends the frame, or up to two bytes behind it do that never change; it may leave out up to
    two first bytes.
    """
    length = len(frames[0])
    for behind in range(_MOST_BEHIND + 1):
        if behind and not _is_constant(frames, length - behind):
            return None
        for kind in Checksum:
            at = length - behind - kind.size
            if at < 2 or taken & set(range(at, at + kind.size)) or _is_constant(frames, at):
                continue
            for left_out in range(min(_MOST_LEFT_OUT, at - 1) + 1):
                if all(frame[at:].startswith(kind.of(frame[left_out:at])) for frame in frames):
                    return FrameChecksum(
                        kind=kind,
                        covers_from=Offset(left_out),
                        at=Offset(at) if behind else None,
                    )
    return None


def watched(
    frames: Sequence[bytes],
    explained: Set[int],
    number: range,
    order: Order,
    *,
    in_packets: bool,
) -> list[int]:
    """Return the places whose bytes have to stay as they were in all frames.

    Args:
        frames: all of one length.
        explained: the places of the distance and of the checksum.
        number: those of the distance.
        order: that of the distance's bytes.
        in_packets: whether each frame came by itself, so that nothing has to say where it begins.

    A byte that did not change may be the meter's status, its unit, a spare one or part of the
    header, and a frame in which it changes is not to be believed. Four sorts are let go, because
    the meter would soon be refused for nothing: what may be the battery's charge, what may be the
    higher byte of an unexplained number whose lower byte did change, all of a number that once was
    the distance, such as the longest so far, and behind the header what may be -1, as the tilt of a
    level meter is. The first byte of a frame on a serial line is where it begins, and always stays.
    """
    places = range(len(frames[0]))
    explained = explained | _copies(frames, number)
    constant = {at for at in places if _is_constant(frames, at)} - explained
    moving = set(places) - constant - explained
    begins = set() if in_packets else {0}
    header_end = min(moving | explained)
    return [
        at
        for at in sorted(constant)
        if at in begins
        or not (
            frames[0][at] in _CHARGE
            or _may_be_higher(frames, at, moving, order)
            or (at > header_end and _may_be_minus_one(frames[0], at))
        )
    ]


def status_of(
    frames: Sequence[bytes],
    failed: Sequence[bytes],
    explained: Set[int],
    kept: Sequence[int],
    *,
    needed: bool,
) -> FrameStatus | None:
    """Return the byte that was the same in all good frames, and another in all failed ones.

    One that has to stay the same anyhow goes before one that does not. What moved only as a charge
    or the higher byte of a small number does is taken where a status is ``needed``, because nothing
    else tells the failed frames.
    """
    if not failed:
        return None
    good = frames[0]

    def rank(at: int) -> tuple[bool, bool]:
        return at not in kept, all(_may_have_moved(good[at], frame[at]) for frame in failed)

    telling = [
        at
        for at in range(len(good))
        if at not in explained
        and _is_constant(frames, at)
        and all(frame[at] != good[at] for frame in failed)
    ]
    if not telling or (rank(at := min(telling, key=rank))[1] and not needed):
        return None
    codes = {frame[at : at + 1].hex() for frame in failed}
    return FrameStatus(
        at=Offset(at),
        ok=(Octets(good[at : at + 1]),),
        faults=ByteFaults(dict.fromkeys(sorted(codes), COULD_NOT_MEASURE)),
    )


def header_and_fixed(frame: bytes, places: Sequence[int]) -> tuple[Octets, tuple[FixedBytes, ...]]:
    """Return the run of such places from the frame's beginning, and the other runs."""
    runs: list[list[int]] = []
    for at in places:
        if runs and runs[-1][-1] == at - 1:
            runs[-1].append(at)
        else:
            runs.append([at])
    header = Octets()
    if runs and runs[0][0] == 0:
        header = Octets(frame[: len(runs.pop(0))])
    fixed = (
        FixedBytes(at=Offset(run[0]), bytes=Octets(frame[run[0] : run[-1] + 1])) for run in runs
    )
    return header, tuple(fixed)


def _copies(frames: Sequence[bytes], number: range) -> set[int]:
    """Return the places of numbers that are the number at ``number`` in some frame."""
    size = len(number)
    beginnings = (
        at
        for at in range(len(frames[0]) - size + 1)
        if at not in range(number.start - size + 1, number.stop)
        and any(frame[at : at + size] == frame[number.start : number.stop] for frame in frames)
    )
    return {place for at in beginnings for place in range(at, at + size)}


def _is_constant(frames: Sequence[bytes], at: int) -> bool:
    return len({frame[at] for frame in frames}) == 1


def _counts(frames: Sequence[bytes], at: int) -> bool:
    """Return whether a byte goes up a little from frame to frame."""
    values = [frame[at] for frame in frames]
    return all(0 < (later - one) % 256 <= _MOST_COUNTED for one, later in pairwise(values))


def _may_be_higher(frames: Sequence[bytes], at: int, moving: Set[int], order: Order) -> bool:
    """Return whether a byte that stayed may be the higher one of a number whose lower one moves."""
    lower = at - 1 if order is Order.LITTLE else at + 1
    return lower in moving and (frames[0][at] in _SMALL_HIGHER or _counts(frames, lower))


def _may_be_minus_one(frame: bytes, at: int) -> bool:
    """Return whether a byte is one of two that are -1 as a signed number."""
    return _MINUS_ONE in (frame[max(at - 1, 0) : at + 1], frame[at : at + 2])


def _may_have_moved(one: int, other: int) -> bool:
    drops = one in _CHARGE and 0 < one - other <= _CHARGE_DROPS
    return drops or (one in _SMALL_HIGHER and other in _SMALL_HIGHER)


class CheckedLines(msgspec.Struct, frozen=True):
    """The lines that end with their checksum, by known distance, without its digits."""

    checksum: TextChecksum
    groups: tuple[tuple[bytes, ...], ...]
    may_be_chance: bool
    """Whether so few lines were seen, of so short a checksum, that it may fit by chance."""


def _fitting(groups: Sequence[Sequence[bytes]], checksum: TextChecksum) -> list[list[bytes]] | None:
    """Return the lines that end with a checksum, by known distance; None where there lacks one."""
    ends = _DIGITS[checksum.kind.size]
    fitting = []
    for group in groups:
        found = [line for line in group if ends.fullmatch(line) and checksum.fits(line)]
        if not found:  # most are ruled out by the first distance
            return None
        fitting.append(found)
    return fitting


def checked_lines(groups: Sequence[Sequence[bytes]]) -> CheckedLines | None:
    """Return what lines have in common that at each distance end with a checksum; None: nothing.

    Longer checksums are tried first, since the end of one may look like a shorter one.
    """
    plain = [[line.rstrip() for line in group] for group in groups]
    for checksum in _CHECKSUMS:
        size = checksum.digits
        fitting = _fitting(plain, checksum)
        if fitting is None:
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
