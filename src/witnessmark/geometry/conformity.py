"""How probable it is that several errors, measured together, all lie within their tolerances."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from witnessmark.geometry.adjust import FloatArray

_FAR = 8.0
"""Standard deviations beyond which nothing of a normal distribution is left."""


def probability_all_within(
    errors: Sequence[float], covariance: FloatArray, tolerances: Sequence[float]
) -> float:
    """Return the probability that three normally distributed errors all lie within +-tolerance.

    Each tells of the others what the covariance says: what is shared, such as the zero error of
    a meter, is not counted three times, as the product of single probabilities would.

    Args:
        errors: (3,) measured minus target.
        covariance: (3, 3) of the same, positive definite.
        tolerances: (3,) the largest error allowed of each, same units.

    JCGM 106:2012, 7.4 for each quantity; for all three together the normal density is integrated
    over the box of the tolerances, one variable given the others (after Genz, Numerical computation
    of multivariate normal probabilities, 1992; from memory) with Gauss-Legendre nodes.
    """
    sigma = np.sqrt(np.diagonal(covariance))
    mean, limit = np.asarray(errors) / sigma, np.asarray(tolerances) / sigma
    # the narrowest first: the others are then integrated only where it lets them be
    order = np.argsort(limit)
    mean, limit = mean[order], limit[order]
    factor = np.linalg.cholesky((covariance / np.outer(sigma, sigma))[np.ix_(order, order)])
    lower, upper = -limit - mean, limit - mean
    first, density = _nodes(lower[0], upper[0])
    shift = factor[1, 0] * first
    second, given_first = _nodes(
        (lower[1] - shift) / factor[1, 1], (upper[1] - shift) / factor[1, 1]
    )
    shift = factor[2, 0] * first[..., None] + factor[2, 1] * second
    third = _below((upper[2] - shift) / factor[2, 2]) - _below((lower[2] - shift) / factor[2, 2])
    return float(density @ (given_first * third).sum(axis=-1))


def _nodes(lower: FloatArray, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Nodes between the bounds, on a last axis of their own, and the probability at each."""
    low, high = np.clip(lower, -_FAR, _FAR), np.clip(upper, -_FAR, _FAR)
    middle, half = (low + high)[..., None] / 2, (high - low)[..., None] / 2
    nodes, weights = _legendre()
    at = middle + half * nodes
    return at, half * weights * np.exp(-(at**2) / 2) / math.sqrt(math.tau)


@lru_cache(maxsize=1)
def _legendre() -> tuple[FloatArray, FloatArray]:
    """Nodes and weights between -1 and 1: 24 of them leave an error of 0.0001 or less."""
    nodes, weights = np.polynomial.legendre.leggauss(24)
    return nodes, weights


def _below(values: FloatArray) -> FloatArray:
    """The standard normal distribution function; numpy has no error function."""
    below = [math.erfc(-value / math.sqrt(2)) / 2 for value in values.ravel().tolist()]
    return np.array(below).reshape(values.shape)
