"""Distances as numbers in binary frames: every offset, width, order and unit is tried.

Signed numbers need no trial of their own: a positive one has the same bytes as an unsigned one,
and how far up that is sure is said by the profile's ``longest``.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

import msgspec

from witnessmark.errors import LengthError
from witnessmark.meters.learning.checks import checksum_of, header_and_fixed, status_of, watched
from witnessmark.meters.learning.fitting import (
    COMMON_UNITS,
    FRACTION_UNITS,
    WHOLE_NUMBER_UNITS,
    Candidate,
    FailureFrames,
    Fit,
    Known,
)
from witnessmark.meters.learning.samples import Sample
from witnessmark.meters.learning.shapes import Shape, shapes
from witnessmark.meters.number import LONGEST_MM, NumberType, Order, number_in
from witnessmark.meters.profile import Frame, FrameChecksum, FrameDistance, Profile
from witnessmark.meters.profile_values import FrameLength, Longest, Offset, Scale, Unit

_MOST_BYTES: Final = 4
_FINE_MM: Final = 1.5
"""Step of a number, mm, below which its further digits change no placement."""
_WIDER = {
    (3, False): NumberType.UINT24,
    (4, False): NumberType.UINT32,
    (3, True): NumberType.BCD24,
    (4, True): NumberType.BCD32,
}
USEFUL_MM: Final = 3000.0
"""Range that a number must have, mm: with less it serves in no room, and no meter sends it."""
_ROOMY_MM: Final = 15_000.0
"""Range of a number, mm, that suffices in any room, so that no wider one is asked after."""
_KINDS = (
    NumberType.UINT16,
    NumberType.UINT24,
    NumberType.UINT32,
    NumberType.FLOAT32,
    NumberType.FLOAT64,
    NumberType.BCD16,
    NumberType.BCD24,
    NumberType.BCD32,
)


class NumberField(msgspec.Struct, frozen=True):
    """Where a number stands in the frames of one shape, and how its bytes are one."""

    shape: Shape
    at: int
    kind: NumberType
    order: Order

    def bytes_of(self, frame: bytes) -> bytes:
        """Return the number's bytes in a frame."""
        return frame[self.at : self.at + self.kind.size]

    def is_superfluous(self) -> bool:
        """Return whether a narrower number says the same: the highest byte is always zero."""
        return not self.kind.is_float and self.kind.size > 2 and self._is_zero(self._highest())

    def stands_still(self) -> bool:
        """Return whether the lowest byte is the same at three distances or more: no chance."""
        lowest = self.at + self.kind.size - 1 if self.order is Order.BIG else self.at
        frames = self.shape.all_frames
        unchanged = len({frame[lowest] for frame in frames}) == 1
        return not self.kind.is_float and len(self.shape.frames) > 2 and unchanged

    def zeros_above(self) -> int:
        """Return how many bytes above the number, up to four in all, were always zero."""
        if self.kind.is_float:
            return 0
        room = _MOST_BYTES - self.kind.size
        zeros = (self._is_zero(self._highest(place)) for place in range(1, room + 1))
        return next((place for place, zero in enumerate(zeros) if not zero), room)

    def may_be_wider(self) -> bool:
        """Return whether upper bytes were always zero, so may or may not be the number's."""
        if self.kind.is_float:
            return False
        return self.zeros_above() > 0 or self._is_zero(self._highest())

    def longest_mm(self, step_mm: float) -> float:
        """Return how far up the number is sure, where one unit of it is ``step_mm``.

        Where its upper bytes were zero: up to what it can say without them. Else up to its own end,
        save the last part of it, where small negative numbers would lie.
        """
        if self.kind.is_float:
            return LONGEST_MM
        in_a_byte = 100 if self.kind.is_decimal else 256
        end = in_a_byte**self.kind.size
        if self._is_zero(self._highest()):
            sure = in_a_byte - 1
        elif self.kind.is_decimal:
            sure = end - 2
        else:
            sure = end - 1 if self.zeros_above() else end - end // 64
        return min(LONGEST_MM, sure * step_mm)

    def _highest(self, above: int = 0) -> int:
        """Return where the highest byte stands, or the byte so many above it."""
        if self.order is Order.BIG:
            return self.at - above
        return self.at + self.kind.size - 1 + above

    def _is_zero(self, at: int) -> bool:
        inside = 0 <= at < self.shape.length
        return inside and not any(frame[at] for frame in self.shape.all_frames)


def frame_profile(field: NumberField, fit: Fit, failed: FailureFrames) -> Profile:
    """Return a profile of such frames: what is checked in them, and where the distance is.

    ``failed`` are frames by which the meter said that it could not measure, if there are any.
    """
    shape, frames = field.shape, field.shape.all_frames
    distance = _distance(field, fit)
    checksum = checksum_of(frames, _places(distance))
    explained = _places(distance) | _checksum_places(checksum, shape.length)
    kept = watched(
        frames,
        explained,
        _number_places(distance),
        field.order,
        in_packets=bool(shape.channel),
    )
    alike = [frame for frame in failed if len(frame) == shape.length]
    needed = _any_distance(distance, alike)
    status = status_of(frames, alike, explained, kept, needed=needed)
    kept = [at for at in kept if status is None or at != status.at]
    header, fixed = header_and_fixed(frames[0], kept)
    return Profile(
        frame=Frame(
            length=FrameLength(shape.length),
            header=header,
            distance=distance,
            fixed=fixed,
            status=status,
            checksum=checksum,
        )
    )


def _distance(field: NumberField, fit: Fit) -> FrameDistance:
    """Return the number, with the zeros above it, which have to stay zero by its limit."""
    zeros = field.zeros_above()
    return FrameDistance(
        at=Offset(field.at - zeros if field.order is Order.BIG else field.at),
        order=field.order,
        type=_WIDER[field.kind.size + zeros, field.kind.is_decimal] if zeros else field.kind,
        unit=Unit(fit.unit),
        scale=Scale(fit.scale),
        longest=Longest(field.longest_mm(fit.step_mm)),
    )


def _number_places(distance: FrameDistance) -> range:
    return range(distance.at, distance.at + distance.type.size)


def _places(distance: FrameDistance) -> set[int]:
    return set(_number_places(distance))


def _checksum_places(checksum: FrameChecksum | None, length: int) -> set[int]:
    if checksum is None:
        return set()
    size = checksum.kind.size
    at = length - size if checksum.at is None else checksum.at
    return set(range(at, at + size))


def _any_distance(distance: FrameDistance, frames: Sequence[bytes]) -> bool:
    """Return whether one of these frames would be taken for a distance by its number alone."""
    for frame in frames:
        try:
            distance.in_frame(frame)
        except LengthError:
            continue
        return True
    return False


def frame_candidates(samples: Sequence[Sample], known: Known) -> list[Candidate]:
    """Return the decodings of binary frames that explain every reading."""
    for way in shapes(samples):
        if found := [candidate for shape in way for candidate in _candidates(shape, known)]:
            return _without_shorter(found)
    return []


def _without_shorter(found: Sequence[Candidate]) -> list[Candidate]:
    """Leave out of two numbers in decimal digits, one of which goes on where the other ends, one.

    Where the shorter is fine enough, what follows it may be anything; else it lacks digits.
    """
    out: set[int] = set()
    for (at, short), (to, long) in itertools.permutations(enumerate(found), 2):
        same = (short.channel, short.shape) == (long.channel, long.shape)
        if same and short.in_digits and long.in_digits and short.place < long.place:
            out.add(to if short.step_mm <= _FINE_MM else at)
    return [one for at, one in enumerate(found) if at not in out]


def _candidates(shape: Shape, known: Known) -> Iterator[Candidate]:
    checksum = checksum_of(shape.all_frames, set())
    checks = _checksum_places(checksum, shape.length)
    for field in _fields(shape):
        places = set(range(field.at, field.at + field.kind.size))
        # a checksum of decimal digits behind a number looks like more digits of it
        if field.kind.is_decimal and places & checks:
            continue
        for fit in _fits(field, known):
            if field.may_be_wider() or field.longest_mm(fit.step_mm) >= USEFUL_MM:
                yield _candidate(field, fit)


def _fields(shape: Shape) -> Iterator[NumberField]:
    """Yield the places at which a number may stand, once each."""
    for kind in _KINDS:
        for at in range(shape.length - kind.size + 1):
            for order in Order:
                field = NumberField(shape, at, kind, order)
                if not (field.is_superfluous() or field.stands_still()):
                    yield field


def _fits(field: NumberField, known: Known) -> list[Fit]:
    """Return the units in which the numbers there are the known distances."""
    units = FRACTION_UNITS if field.kind.is_float else WHOLE_NUMBER_UNITS
    step = 0 if field.kind.is_float else 1
    # one frame at each distance rules nearly all out, at a tenth of the work
    first = known.fits(_numbers(field, 1), units, step)
    return first and known.fits(_numbers(field), [(fit.unit, fit.scale) for fit in first], step)


def _numbers(field: NumberField, most: int | None = None) -> list[list[Fraction]]:
    """Return the numbers there, by known distance; none where one of them cannot be a distance.

    ``most`` is how many frames at each distance are looked at; None: all.
    """
    try:
        return [
            [number_in(field.bytes_of(frame), field.kind, field.order) for frame in group[:most]]
            for group in field.shape.frames
        ]
    except LengthError:
        return []


def _candidate(field: NumberField, fit: Fit) -> Candidate:
    longest_mm = field.longest_mm(fit.step_mm)
    is_unsure = field.may_be_wider() and longest_mm < _ROOMY_MM
    return Candidate(
        channel=field.shape.channel,
        shape=f"{field.shape.length} bytes",
        place=frozenset(range(field.at, field.at + field.kind.size)),
        step_mm=0.0 if field.kind.is_float else fit.step_mm,
        found_mm=fit.found_mm,
        misfit_mm=fit.misfit_mm,
        profile=lambda failed: frame_profile(field, fit, failed),
        in_digits=field.kind.is_decimal,
        is_rare=field.kind.is_decimal
        or (not field.kind.is_float and (fit.unit, fit.scale) not in COMMON_UNITS),
        unsure_beyond_mm=longest_mm if is_unsure else None,
    )
