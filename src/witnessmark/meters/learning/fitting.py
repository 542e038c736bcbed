"""Which decodings explain the known distances."""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Final

import msgspec

from witnessmark.meters.learning.samples import tolerance_mm
from witnessmark.meters.number import scaled_mm
from witnessmark.meters.profile import Profile

COMMON_UNITS: Final = (("mm", 1.0), ("mm", 0.1), ("cm", 1.0))
"""Units and scales in which most meters send whole numbers."""

WHOLE_NUMBER_UNITS: Final = (
    *COMMON_UNITS,
    *(("mm", scale) for scale in (0.01, 0.001)),
    *(("in", scale) for scale in (1.0, 0.1, 0.01, 0.001)),
    *(("in", 1 / parts) for parts in (16, 32, 64)),
    *(("ft", scale) for scale in (0.01, 0.001)),
)
"""In what whole numbers are tried.

Coarser steps do not place a cabinet. Finer ones are left out because 0.0001 ft is 1/32768 m to a
thousandth, so that the middle bytes of a float in metres pass for it.
"""

FRACTION_UNITS: Final = (("m", 1.0), ("cm", 1.0), ("mm", 1.0), ("in", 1.0), ("ft", 1.0))
"""Units and scales that are tried for numbers with decimals."""

Numbers = Sequence[Sequence[Fraction]]
"""By known distance, the numbers that a decoding finds in the frames that came there."""


FailureFrames = Sequence[bytes]
"""Frames by which the meter said that it could not measure."""


class Candidate(msgspec.Struct, frozen=True):
    """A decoding that explains every reading.

    ``place`` is what of the frames it looks at: candidates whose places meet contradict each
    other, those whose places do not meet may be copies of the distance.
    """

    channel: str
    shape: str
    place: frozenset[int]
    step_mm: float
    found_mm: tuple[float, ...]
    """What it finds at each known distance."""
    misfit_mm: float
    """How far that is at worst from the known distance."""
    profile: Callable[[FailureFrames], Profile]
    is_rare: bool = False
    """Its unit is one that few meters use, so that two readings may fit it by chance."""
    unsure_beyond_mm: float | None = None
    """Up to where it is sure, where one more reading beyond that would tell."""
    in_digits: bool = False
    """Whether it is a number of decimal digits in bytes."""
    words: str = ""
    """Which number it is, for a person; nothing where the profile says that best."""
    tells_below_mm: float | None = None
    """Below which distance a reading would tell it from others, where only that does."""


class Fit(msgspec.Struct, frozen=True):
    """A unit and scale in which numbers are the known distances."""

    unit: str
    scale: float
    found_mm: tuple[float, ...]
    misfit_mm: float

    @property
    def step_mm(self) -> float:
        """One unit of the number in millimetres."""
        return _unit_mm(self.unit, self.scale)


class Known:
    """The known distances, and how far a decoding may be off.

    With ``shifted`` all readings may be off by the same length besides, as they are where the
    distances were measured from another edge of the meter than it measures from.
    """

    def __init__(self, known_mm: Sequence[float], *, shifted: bool = False) -> None:
        self.known_mm = tuple(known_mm)
        self._shifted = shifted

    def fits(self, numbers: Numbers, units: Sequence[tuple[str, float]], step: float) -> list[Fit]:
        """Return the units in which all these numbers are the known distances.

        ``step`` is the value of the number's last digit; 0 where it has no such.
        """
        if len({group[0] for group in numbers}) < len(self.known_mm):
            return []
        # once for all units, since a fraction is slow to become a float
        floats = [[float(number) for number in group] for group in numbers]
        tried = (self._fit(floats, unit, scale, step) for unit, scale in units)
        return [fit for fit in tried if fit is not None]

    def _fit(
        self, numbers: Sequence[Sequence[float]], unit: str, scale: float, step: float
    ) -> Fit | None:
        unit_mm = _unit_mm(unit, scale)
        found_mm = tuple(group[0] * unit_mm for group in numbers)
        shift = self._shift_mm(found_mm)
        misfit = 0.0
        for known, group in zip(self.known_mm, numbers, strict=True):
            allowed = tolerance_mm(known, step * unit_mm)
            worst = max(abs(number * unit_mm - known - shift) for number in group)
            if not worst <= allowed or min(group) <= 0:
                return None
            misfit = max(misfit, worst)
        return Fit(unit, scale, found_mm, misfit)

    def _shift_mm(self, found: Sequence[float]) -> float:
        if not self._shifted:
            return 0.0
        offs = [value - known for value, known in zip(found, self.known_mm, strict=True)]
        return sum(offs) / len(offs)


@functools.cache
def _unit_mm(unit: str, scale: float) -> float:
    """Return one unit in millimetres, kept because it is asked for a hundred thousand times."""
    return float(scaled_mm(Fraction(1), scale, unit))
