"""Bradley and Terry's model of choices between pairs, with a weak prior.

The chance that i is preferred to j is 1 / (1 + exp(s_j - s_i)), with a strength s for each (Bradley
and Terry, Biometrika 39, 324, 1952, from memory). A choice of neither counts half to each.

By its choices alone a strength that always won, or always lost, would be infinite. So each has a
normal prior of mean 0 and variance pi^2 / 6. The difference of two then has the variance pi^2 / 3,
which is that of the log odds of a chance about which nothing is known: before any choice, every
chance from 0 to 1 that one of two is preferred counts about alike. After n choices of n the chance
of the next is put near (n + 1) / (n + 2), as in Laplace's rule of succession: 0.72 after one, 0.88
after five. The pull toward 0 fades as 1 / n, faster than the uncertainty, which goes as 1 / sqrt n.

The strengths are the likeliest under both, their covariance is the inverse of the curvature there.
For few choices and for perfect records the probability that one is better comes out a little too
small for that (0.965 after five of five, where integration gives 0.987): on the side of doubt.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

PRIOR_VARIANCE = math.pi**2 / 6
ONE_IN_TWENTY = 1.6449
"""One-sided 5 % point of the normal distribution."""
_MOST_STEPS = 200
_LONGEST_STEP = 1.0
"""Beyond this the curvature is no guide to how far to go."""


def strengths(wins: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Strengths (n,) on the log scale, of mean 0, and their covariance (n, n).

    Those that no choice ties to another have the prior's. The mean is 0 over each set that choices
    tie together, and so over all; the covariance is that before the mean is held to 0, which no
    difference of two depends on.

    Args:
        wins: (n, n) how often the row was preferred to the column; halves where neither was.

    Raises:
        ArithmeticError: when the steps do not settle.
    """
    count = len(wins)
    met = wins + wins.T
    estimate: FloatArray = np.zeros(count)
    for _ in range(_MOST_STEPS):
        chance = _chance(estimate)
        slope = (wins - met * chance).sum(axis=1) - estimate / PRIOR_VARIANCE
        weight = met * chance * chance.T
        curvature = np.diag(weight.sum(axis=1) + 1 / PRIOR_VARIANCE) - weight
        step = np.linalg.solve(curvature, slope)
        farthest = float(np.abs(step).max(initial=0.0))
        if farthest < 1e-10:
            return estimate, np.asarray(np.linalg.inv(curvature), dtype=np.float64)
        estimate = estimate + step * min(1.0, _LONGEST_STEP / farthest)
    raise ArithmeticError(f"the strengths did not settle in {_MOST_STEPS} steps")


def _chance(estimate: FloatArray) -> FloatArray:
    """(n, n) chance that the row is preferred to the column."""
    # by the hyperbolic tangent, which no strength makes overflow
    chance: FloatArray = 0.5 + 0.5 * np.tanh((estimate[:, None] - estimate) / 2)
    return chance


def better(estimate: FloatArray, covariance: FloatArray) -> FloatArray:
    """(n, n) probability that the row is truly better than the column; a half on the diagonal."""
    spread = np.sqrt(difference_variance(covariance))
    apart = estimate[:, None] - estimate
    ratio = np.divide(apart, spread, out=np.zeros_like(apart), where=spread > 0)
    return 0.5 + 0.5 * _erf(ratio / math.sqrt(2))


def _erf(values: FloatArray) -> FloatArray:
    error: FloatArray = np.array([math.erf(value) for value in values.flat]).reshape(values.shape)
    return error


def beyond_chance(wins: FloatArray) -> bool:
    """Whether choices as uneven as these come less than one time in twenty where all are alike.

    The score test at equal strengths, g' (L / 4)^+ g with g the wins beyond half and L the
    Laplacian of the comparisons, against the 95 % point of chi-square with one degree less than
    there are rows, which must be tied together. A choice of neither, which scatters less than a
    toss, makes it a little too careful.

    Args:
        wins: (n, n) how often the row was preferred to the column; halves where neither was.
    """
    met = wins + wins.T
    excess = (wins - met / 2).sum(axis=1)
    laplacian = np.diag(met.sum(axis=1)) - met
    statistic = 4 * excess @ np.linalg.pinv(laplacian, hermitian=True) @ excess
    return bool(statistic > chi_square_point(len(wins) - 1))


def chi_square_point(freedom: int) -> float:
    """The 95 % point of chi-square, by the cube of Wilson and Hilferty (1931), good to 3 %."""
    part = 2 / (9 * freedom)
    return float(freedom * (1 - part + ONE_IN_TWENTY * math.sqrt(part)) ** 3)


def worth(estimate: FloatArray, covariance: FloatArray) -> FloatArray:
    """(n, n) how much one more choice between row and column would tell; 0 on the diagonal.

    The variance of their difference times that of the choice: the determinant of the covariance
    falls by 1 + this.
    """
    chance = _chance(estimate)
    told: FloatArray = difference_variance(covariance) * chance * chance.T
    return told


def difference_variance(covariance: FloatArray) -> FloatArray:
    """(n, n) variance of the strength of the row less that of the column."""
    own = np.diag(covariance)
    variance: FloatArray = np.maximum(own[:, None] + own - 2 * covariance, 0.0)
    np.fill_diagonal(variance, 0.0)
    return variance
