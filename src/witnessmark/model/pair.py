"""One of something for each of the two cabinets, and the poses in which both were measured."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final, Generic, TypeVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.cabinet import Placement
from witnessmark.model.plan import Side

T = TypeVar("T")


class Pair(msgspec.Struct, Generic[T], frozen=True):
    """One of something for each cabinet."""

    left: T
    right: T

    def __getitem__(self, side: Side) -> T:
        return self.left if side is Side.LEFT else self.right

    def __iter__(self) -> Iterator[T]:
        yield self.left
        yield self.right

    def replacing(self, side: Side, value: T) -> Pair[T]:
        """Return the pair with one side exchanged."""
        return Pair(value, self.right) if side is Side.LEFT else Pair(self.left, value)


COVERAGE_FACTOR: Final = 2.0
"""k of every expanded uncertainty: 95.45 % of a normal distribution (JCGM 100:2008, 6.2)."""


class Tilt(msgspec.Struct, frozen=True):
    """A tilt and its standard uncertainties, degrees.

    ``own_deg`` is this tilt's own; ``shared_deg`` belongs to the instrument, and is taken to be the
    same in all tilts that have one.
    """

    tilt_deg: float
    own_deg: float
    shared_deg: float = 0.0

    @property
    def standard_deg(self) -> float:
        """Standard uncertainty in all."""
        return math.hypot(self.own_deg, self.shared_deg)

    @property
    def expanded_deg(self) -> float:
        """Expanded uncertainty (k = 2)."""
        return COVERAGE_FACTOR * self.standard_deg


CovarianceRow = tuple[float, float, float, float, float, float]
Covariance = tuple[
    CovarianceRow, CovarianceRow, CovarianceRow, CovarianceRow, CovarianceRow, CovarianceRow
]


class Poses(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Both cabinets' placements with their covariance, and their tilts where these were taken.

    ``covariance`` (6, 6) is over side mm, setback mm and toe-in degrees of the left, then of the
    right; what the meter does to all shots alike is in it, so that it cancels in differences.

    Raises:
        BadInput: when a number in it is not finite.
    """

    placements: Pair[Placement]
    covariance: Covariance
    tilts: Pair[Tilt | None] = Pair[Tilt | None](None, None)

    def __post_init__(self) -> None:
        if not all(math.isfinite(value) for row in self.covariance for value in row):
            raise BadInput("poses.covariance: every number must be finite")

    def expanded(self, side: Side) -> Placement:
        """Return the expanded uncertainty (k = 2) of each quantity of one cabinet's placement."""
        first = 0 if side is Side.LEFT else 3
        variances = [self.covariance[place][place] for place in range(first, first + 3)]
        return Placement(*(COVERAGE_FACTOR * math.sqrt(variance) for variance in variances))
