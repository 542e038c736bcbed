"""One of something for each of the two cabinets, and the poses in which both were measured."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from operator import mul
from typing import ClassVar, Final, Generic, TypeVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.cabinet import Placement
from witnessmark.model.limits import LEAN, SPREAD, VARIANCE, Limit
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

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "tilt_deg": LEAN,
        "own_deg": SPREAD,
        "shared_deg": SPREAD,
    }

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
        BadInput: when it is no covariance: not symmetric, or some variance would be negative.
    """

    placements: Pair[Placement]
    covariance: Covariance
    tilts: Pair[Tilt | None] = Pair[Tilt | None](None, None)

    LIMITS: ClassVar[Mapping[str, Limit]] = {"covariance": VARIANCE}

    def __post_init__(self) -> None:
        if not all(math.isfinite(value) for row in self.covariance for value in row):
            raise BadInput("poses.covariance: every number must be finite")
        if not _is_covariance(self.covariance):
            raise BadInput(
                "poses.covariance: it must be symmetric, and no variance that follows from it "
                "negative"
            )

    def expanded(self, side: Side) -> Placement:
        """Return the expanded uncertainty (k = 2) of each quantity of one cabinet's placement."""
        first = 0 if side is Side.LEFT else 3
        variances = [self.covariance[place][place] for place in range(first, first + 3)]
        return Placement(*(COVERAGE_FACTOR * math.sqrt(variance) for variance in variances))


_ROUNDING: Final = 1e-6
"""Part of two standard deviations by which a covariance of theirs may be off, by rounding."""


def _is_covariance(rows: Covariance) -> bool:
    """Return whether a matrix is symmetric and positive semidefinite, within rounding.

    The test is whether the correlations, with a little added to their diagonal, have a Cholesky
    factor.
    """
    if any(row[place] < 0 for place, row in enumerate(rows)):
        return False
    sigma = [math.sqrt(row[place]) for place, row in enumerate(rows)]
    factor: list[list[float]] = []
    for one, row in enumerate(rows):
        found: list[float] = []
        for other, before in enumerate(factor):
            scale = sigma[one] * sigma[other]
            gap = abs(row[other] - rows[other][one])
            if gap > _ROUNDING * scale or abs(row[other]) > (1 + _ROUNDING) * scale:
                return False
            rest = (row[other] / scale if scale else 0.0) - _product(found, before)
            found.append(rest / before[other])
        rest = 1.0 + _ROUNDING - _product(found, found)
        if rest <= 0:
            return False
        factor.append([*found, math.sqrt(rest)])
    return True


def _product(one: Sequence[float], other: Sequence[float]) -> float:
    return math.fsum(map(mul, one, other))
