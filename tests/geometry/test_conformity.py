"""The probability that several errors are all within tolerance, against scipy."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from geometry_cases import many
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.geometry.conformity import probability_all_within
from witnessmark.geometry.verdict import probability_within

RNG = np.random.default_rng(31)


def correlated(shared: float) -> np.ndarray:
    """A covariance in mm, mm and degrees, of which so much is shared by all three."""
    own = np.diag(RNG.uniform(0.05, 1.0, 3) ** 2)
    covariance: np.ndarray = own + shared**2 * np.outer((1.0, 1.0, 0.3), (1.0, 1.0, 0.3))
    return covariance


@pytest.mark.parametrize("shared", [0.0, 0.3, 0.7, 2.0])
@pytest.mark.parametrize("away", [0.0, 0.6, 1.0, 1.5])
def test_a_box_of_a_normal_distribution(shared: float, away: float) -> None:
    covariance = correlated(shared)
    tolerances = np.array((3.0, 3.0, 0.5))
    errors = away * tolerances * RNG.choice((-1, 1), 3)
    expected = scipy.stats.multivariate_normal(errors, covariance, seed=2).cdf(
        tolerances, lower_limit=-tolerances
    )
    found = probability_all_within(errors.tolist(), covariance, tolerances.tolist())
    assert found == pytest.approx(expected, abs=1e-3)


@many
@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.1, 3)), min_size=3, max_size=3))
def test_what_is_independent_multiplies(each: list[tuple[float, float]]) -> None:
    covariance = np.diag([standard**2 for _, standard in each])
    errors, tolerances = [error for error, _ in each], (3.0, 2.0, 0.5)
    singly = [
        probability_within(error, standard, tolerance)
        for (error, standard), tolerance in zip(each, tolerances, strict=True)
    ]
    found = probability_all_within(errors, covariance, tolerances)
    assert found == pytest.approx(math.prod(singly), abs=1e-6)


def test_what_is_shared_is_not_counted_three_times() -> None:
    """All three err alike: one in, all in. The product of the three would say far less."""
    covariance = np.ones((3, 3)) + 1e-6 * np.eye(3)
    one = probability_within(1.0, 1.0, 2.0)
    together = probability_all_within((1.0, 1.0, 1.0), covariance, (2.0, 2.0, 2.0))
    assert together == pytest.approx(one, abs=2e-3)
    assert one**3 < one - 0.2
