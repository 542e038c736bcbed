"""Weighted least squares with its quality figures: the one solver behind every pose and room.

The weighted Jacobian is taken apart by the Cholesky factor of its normal matrix, which is quick.
That squares the condition number (the NIST Longley data lose half their digits that way), so where
its columns are nearly alike it is done by singular values, the columns scaled to unit length.

Sources: Mikhail & Ackermann, Observations and Least Squares (1976), chapters 4 to 10, for the
adjustment (from memory); Baarda, A Testing Procedure for Use in Geodetic Networks (1968), for the
standardised residual and its critical value.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]
Model = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""Function of the unknowns (n,): the predicted observations (m,) and their Jacobian (m, n)."""

CRITICAL_STANDARDISED_RESIDUAL = 3.2905
"""Two-sided 0.1 % point of the normal distribution (Baarda 1968)."""

_OWN_SHARE = 0.01
"""Least part of the square of each column that the columns before it do not make up, for the normal
matrix to cost no more than two of sixteen digits."""

_RANK_TOLERANCE = 1e-11
"""Singular values of the scaled design below this part of the largest count as none."""

_MOST_HALVINGS = 200
"""Halvings of all steps together after which nothing settles any more: of ten thousand adjustments
of damaged rounds, those that settled took 150 at most, and those that never did a thousand."""

_UNCHECKED = 1e-9
"""A redundancy number below this means that no other observation checks this one."""

ACCUSED = 0.01
"""Share of rounds without a blunder in which a shot may be suspected all the same."""
_TIED = 0.999
"""Ratio of standardised residuals above which two shots only check each other."""


class NotDetermined(ArithmeticError):
    """The observations cannot fix every unknown.

    ``loose`` is (k, n): independent changes of the unknowns that no observation sees.
    """

    def __init__(self, loose: FloatArray) -> None:
        super().__init__(f"{len(loose)} combinations of the unknowns are not observed")
        self.loose = loose


@dataclass(frozen=True, slots=True)
class Adjustment:
    """What the observations say, and how well they agree.

    The covariance follows from the stated standard deviations alone. It is never rescaled by the
    misfit: ``sigma0`` reports the misfit beside it, and who wants the a posteriori covariance
    multiplies by ``sigma0 ** 2``.
    """

    estimate: FloatArray
    """(n,) the unknowns."""
    sigma: FloatArray
    """(m,) standard deviations of the observations, as stated."""
    weighted_residuals: FloatArray
    """(m,) adjusted minus observed, in standard deviations of the observation."""
    basis: FloatArray
    """(m, n) orthonormal: what of the weighted observations the unknowns can reach."""
    back: FloatArray
    """(n, n) from coordinates in that basis to unknowns."""

    @property
    def covariance(self) -> FloatArray:
        """(n, n) a priori."""
        covariance: FloatArray = self.back @ self.back.T
        return covariance

    @property
    def residuals(self) -> FloatArray:
        """(m,) adjusted minus observed, in the unit of each observation."""
        residuals: FloatArray = self.weighted_residuals * self.sigma
        return residuals

    @property
    def redundancy(self) -> FloatArray:
        """(m,) share of each observation's error that shows in its residual.

        Sums to ``freedom``.
        """
        redundancy: FloatArray = 1.0 - (self.basis * self.basis).sum(axis=1)
        return redundancy

    @property
    def standardised(self) -> FloatArray:
        """(m,) residual over its own standard deviation; 0 where nothing checks the observation."""
        redundancy = self.redundancy
        # what nothing checks must not stand out, whatever rounding leaves of its residual
        spread = np.sqrt(np.where(redundancy > _UNCHECKED, redundancy, np.inf))
        standardised: FloatArray = self.weighted_residuals / spread
        return standardised

    @property
    def chi_square(self) -> float:
        """Weighted sum of squared residuals."""
        return float(self.weighted_residuals @ self.weighted_residuals)

    @property
    def freedom(self) -> int:
        """Degrees of freedom, m - n."""
        return len(self.sigma) - len(self.estimate)

    @property
    def sigma0(self) -> float:
        """Root of the reduced chi-square; not a number without redundancy."""
        return math.sqrt(self.chi_square / self.freedom) if self.freedom else math.nan


def adjust(
    model: Model,
    start: FloatArray,
    observed: FloatArray,
    sigma: FloatArray,
    *,
    step_tolerance: float = 1e-3,
    most_steps: int = 60,
) -> Adjustment:
    """Fit unknowns to observations by Gauss-Newton with step halving.

    Args:
        model: predicted observations and Jacobian at given unknowns.
        start: (n,) first guess.
        observed: (m,) observations.
        sigma: (m,) their standard deviations, same unit, all positive.
        step_tolerance: stop with the step, which is still taken, that moves every unknown by less
            than this part of its own standard deviation.
        most_steps: steps after which it gives up.

    Raises:
        NotDetermined: when the observations cannot fix every unknown.
        ArithmeticError: when the steps do not settle.
    """
    unknowns = start
    predicted, jacobian = model(unknowns)
    weighted = (observed - predicted) / sigma
    halved = 0
    for _ in range(most_steps):
        basis, back = _factor(jacobian / sigma[:, None])
        rotated = weighted @ basis
        step = back @ rotated
        # |rotated| is the length of the step measured in standard deviations of the unknowns
        if rotated @ rotated < step_tolerance**2:
            return Adjustment(unknowns + step, sigma, basis @ rotated - weighted, basis, back)
        unknowns, jacobian, weighted, halvings = _descend(
            model, unknowns, step, observed, sigma, float(weighted @ weighted)
        )
        halved += halvings
        if halved > _MOST_HALVINGS:
            raise ArithmeticError(f"the adjustment did not settle in {halved} halvings of steps")
    raise ArithmeticError(f"the adjustment did not settle in {most_steps} steps")


def adjust_linear(design: FloatArray, observed: FloatArray, sigma: FloatArray) -> Adjustment:
    """Fit ``observed = design @ unknowns`` in one step.

    Args:
        design: (m, n).
        observed: (m,).
        sigma: (m,) standard deviations, all positive.

    Raises:
        NotDetermined: when the observations cannot fix every unknown.
    """
    weighted = observed / sigma
    basis, back = _factor(design / sigma[:, None])
    rotated = weighted @ basis
    return Adjustment(back @ rotated, sigma, basis @ rotated - weighted, basis, back)


def _factor(weighted_design: FloatArray) -> tuple[FloatArray, FloatArray]:
    """An orthonormal ``basis`` (m, n) of what the unknowns can reach, and the way ``back``.

    ``back`` (n, n) turns coordinates in that basis into unknowns; ``back @ back.T`` is their
    covariance.
    """
    normal = weighted_design.T @ weighted_design
    try:
        lower = np.linalg.cholesky(normal)
    except np.linalg.LinAlgError:
        return _by_singular_values(weighted_design)
    if not (lower.diagonal() ** 2 >= _OWN_SHARE * normal.diagonal()).all():
        return _by_singular_values(weighted_design)
    back = np.linalg.inv(lower).T
    return weighted_design @ back, back


def _by_singular_values(weighted_design: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same, slower, whatever the columns are."""
    observations, unknowns = weighted_design.shape
    length = np.sqrt((weighted_design * weighted_design).sum(axis=0))
    length[length == 0] = 1.0
    basis, singular, directions = np.linalg.svd(
        weighted_design / length, full_matrices=observations < unknowns
    )
    if observations < unknowns or singular[-1] <= _RANK_TOLERANCE * singular[0]:
        rank = int((singular > _RANK_TOLERANCE * singular[0]).sum())
        raise NotDetermined(directions[rank:] / length)
    return basis, directions.T / singular / length[:, None]


def _descend(
    model: Model,
    unknowns: FloatArray,
    step: FloatArray,
    observed: FloatArray,
    sigma: FloatArray,
    cost: float,
) -> tuple[FloatArray, FloatArray, FloatArray, int]:
    """Take the step, halved as often as it must be for the misfit not to grow.

    Return the unknowns, the Jacobian and the weighted misfit there, and how often it was halved.
    """
    halvings = 0
    while True:
        scale = 0.5**halvings
        ahead = unknowns + scale * step
        predicted, jacobian = model(ahead)
        weighted = (observed - predicted) / sigma
        new_cost = float(weighted @ weighted)
        # a rise within rounding is no rise, and a step too small to matter is taken as it is
        if new_cost <= cost * (1 + 1e-9) + 1e-12 or scale < 1e-6:
            return ahead, jacobian, weighted, halvings
        halvings += 1


def is_sound(adjustment: Adjustment, readings: int) -> bool:
    """Return whether every observation fits the others; ``readings`` of them are shots."""
    critical = critical_among(readings)
    # the square of a standardised residual is a part of chi-square: what falls without its row
    return (
        adjustment.chi_square <= critical**2
        or float(np.abs(adjustment.standardised).max()) <= critical
    )


def suspect_rows(adjustment: Adjustment, readings: int) -> list[int]:
    """Return which of the first ``readings`` rows are suspect: the worst and those tied with it."""
    size = np.abs(adjustment.standardised)
    # the meter's zero and scale take part, so that an odd meter is not blamed on a reading
    limit = max(critical_among(readings), _TIED * float(size.max()))
    return [row for row in range(readings) if size[row] > limit]


@lru_cache(maxsize=64)
def critical_among(readings: int) -> float:
    """Return the standardised residual past which the worst of ``readings`` readings is suspect.

    The 0.1 % point of Baarda (1968) for a reading; among more than ten that would accuse one in a
    hundred clean rounds and more, so then it is the point that keeps all of them together to 1 %
    (Sidak 1967, from memory).
    """
    share = 1.0 - (1.0 - ACCUSED) ** (1.0 / max(readings, 1))
    return max(CRITICAL_STANDARDISED_RESIDUAL, NormalDist().inv_cdf(1.0 - share / 2))
