"""Weighted least squares: against scipy, and what it says of its own quality."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from geometry_cases import many
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.geometry.adjust import (
    CRITICAL_STANDARDISED_RESIDUAL,
    FloatArray,
    NotDetermined,
    adjust,
    adjust_linear,
    critical_among,
    is_sound,
)


def random_problem(seed: int, observations: int, unknowns: int) -> tuple[FloatArray, ...]:
    """A design whose columns differ in size by up to a million, observations, sigmas."""
    rng = np.random.default_rng(seed)
    design = rng.normal(size=(observations, unknowns)) * 10.0 ** rng.uniform(-3, 3, unknowns)
    sigma = 10.0 ** rng.uniform(-1, 1, observations)
    return design, design @ rng.normal(size=unknowns) + sigma * rng.normal(size=observations), sigma


seeds = st.integers(0, 2**32 - 1)


@many
@given(seeds, st.integers(1, 6), st.integers(0, 6))
def test_linear_against_the_normal_equations(seed: int, unknowns: int, spare: int) -> None:
    """The textbook formulas, which are sound where the problem is not ill-conditioned."""
    design, observed, sigma = random_problem(seed, unknowns + spare, unknowns)
    fit = adjust_linear(design, observed, sigma)
    size = np.abs(design).max(axis=0)
    weight = np.diag(sigma**-2)
    scaled = design / size
    normal = scaled.T @ weight @ scaled
    assume(np.linalg.cond(normal) < 1e8)
    covariance = np.linalg.inv(normal) / np.outer(size, size)
    estimate = covariance @ design.T @ weight @ observed
    sigmas = np.sqrt(covariance.diagonal())
    assert fit.estimate / sigmas == pytest.approx(estimate / sigmas, abs=1e-5)
    correlation = np.outer(sigmas, sigmas)
    assert fit.covariance / correlation == pytest.approx(covariance / correlation, abs=1e-6)
    residuals = design @ estimate - observed
    assert fit.residuals / sigma == pytest.approx(residuals / sigma, abs=1e-5)
    hat = design @ covariance @ design.T @ weight
    assert fit.redundancy == pytest.approx(1 - hat.diagonal(), abs=1e-6)
    assert fit.redundancy.sum() == pytest.approx(fit.freedom)
    assert fit.freedom == spare
    assert fit.chi_square == pytest.approx(((residuals / sigma) ** 2).sum(), abs=1e-5)
    # the residuals have a covariance of their own: sigma^2 redundancy on its diagonal
    spread = sigma * np.sqrt(fit.redundancy.clip(0))
    for row in range(len(sigma)):
        if fit.redundancy[row] > 1e-6:
            assert fit.standardised[row] == pytest.approx(residuals[row] / spread[row], abs=1e-3)


def circle_problem(seed: int, points: int) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Marks, measured distances to them from an unknown place, their sigmas, and that place."""
    rng = np.random.default_rng(seed)
    marks, place = rng.uniform(-5000, 5000, (points, 2)), rng.uniform(-1000, 1000, 2)
    sigma = rng.uniform(0.5, 3.0, points)
    observed = np.hypot(*(marks - place).T) + sigma * rng.normal(size=points)
    return marks, observed, sigma, place


@many
@given(seeds, st.integers(2, 6), st.floats(-7.0, 0.0))
def test_columns_that_are_nearly_alike_cost_no_more_digits_than_they_must(
    seed: int, unknowns: int, digits: float
) -> None:
    """Rounding, times how much the columns enlarge it; by the normal matrix it would be squared."""
    rng = np.random.default_rng(seed)
    design = rng.normal(size=(3 * unknowns, unknowns))
    design[:, -1] = design[:, 0] + 10.0**digits * design[:, -1]
    true = rng.integers(1, 9, unknowns).astype(float)
    fit = adjust_linear(design, design @ true, np.ones(len(design)))
    lost = np.linalg.cond(design)
    assert fit.estimate == pytest.approx(true, rel=0, abs=1e-13 * lost + 1e-12)
    assert fit.basis.T @ fit.basis == pytest.approx(np.eye(unknowns), abs=1e-12)
    assert np.linalg.inv(fit.back) == pytest.approx(fit.basis.T @ design, rel=1e-7, abs=1e-9)


@many
@given(seeds, st.integers(1, 6), st.integers(0, 6), st.floats(0.3, 4.0))
def test_what_is_sound_is_so_in_each_observation(
    seed: int, unknowns: int, spare: int, worse: float
) -> None:
    design, observed, sigma = random_problem(seed, unknowns + spare, unknowns)
    fit = adjust_linear(design, observed, sigma / worse)
    worst = np.abs(fit.standardised).max()
    assert is_sound(fit, len(sigma)) is bool(worst <= critical_among(len(sigma)))


@many
@given(seeds, st.integers(4, 10))
def test_nonlinear_against_scipy(seed: int, points: int) -> None:
    marks, observed, sigma, place = circle_problem(seed, points)

    def model(unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        away = unknowns - marks
        distance = np.hypot(*away.T)
        return distance, away / distance[:, None]

    fit = adjust(model, place + 100.0, observed, sigma)
    reference = scipy.optimize.least_squares(
        lambda unknowns: (model(unknowns)[0] - observed) / sigma,
        place + 100.0,
        jac=lambda unknowns: model(unknowns)[1] / sigma[:, None],
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    covariance = np.linalg.inv(reference.jac.T @ reference.jac)
    assume(covariance.max() < 1e4)  # else the marks stand in a line
    sigmas = np.sqrt(covariance.diagonal())
    assert fit.estimate / sigmas == pytest.approx(reference.x / sigmas, abs=1e-3)
    assert fit.covariance == pytest.approx(covariance, rel=1e-3, abs=1e-3 * covariance.max())
    assert fit.chi_square == pytest.approx(2 * reference.cost, abs=1e-3)
    assert fit.residuals == pytest.approx(reference.fun * sigma, abs=1e-2)


def test_residuals_are_adjusted_minus_observed() -> None:
    fit = adjust_linear(np.ones((3, 1)), np.array([1.0, 2.0, 6.0]), np.ones(3))
    assert fit.estimate == pytest.approx([3.0])
    assert fit.residuals == pytest.approx([2.0, 1.0, -3.0])
    assert fit.standardised == pytest.approx(np.array([2.0, 1.0, -3.0]) / math.sqrt(2 / 3))


def test_the_covariance_is_not_rescaled_by_the_misfit() -> None:
    close, far = (
        adjust_linear(np.ones((2, 1)), np.array([-off, off]), np.ones(2)) for off in (0.1, 10.0)
    )
    assert close.covariance == pytest.approx(far.covariance)
    assert far.covariance[0, 0] == pytest.approx(0.5)
    assert far.sigma0 == pytest.approx(100 * close.sigma0)
    assert far.sigma0 == pytest.approx(math.sqrt(200.0))


def test_without_redundancy_nothing_is_checked() -> None:
    design = np.array([[1.0, 0.3], [0.2, 1.0]])
    fit = adjust_linear(design, np.array([3.0, 4.0]), np.array([1.0, 2.0]))
    assert fit.freedom == 0
    assert math.isnan(fit.sigma0)
    assert fit.redundancy == pytest.approx(0.0, abs=1e-12)
    assert (fit.standardised == 0).all()


def test_an_observation_that_nothing_checks_never_stands_out() -> None:
    """The third unknown has one observation alone; the other two contradict each other."""
    design = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    fit = adjust_linear(design, np.array([0.0, 50.0, 1e6]), np.ones(3))
    assert np.abs(fit.standardised[:2]) == pytest.approx(50 / math.sqrt(2))
    assert fit.standardised[2] == 0


@many
@given(seeds, st.integers(2, 5), st.integers(1, 4), st.integers(0, 3))
def test_what_is_not_determined_is_named(
    seed: int, unknowns: int, loose: int, observations: int
) -> None:
    rng = np.random.default_rng(seed)
    loose = min(loose, unknowns - 1)
    rank = unknowns - loose
    design = rng.normal(size=(rank + observations, rank)) @ rng.normal(size=(rank, unknowns))
    assume(np.linalg.svd(design)[1][rank - 1] > 1e-6)
    with pytest.raises(NotDetermined) as caught:
        adjust_linear(design, np.zeros(len(design)), np.ones(len(design)))
    unseen = caught.value.loose
    assert unseen.shape == (loose, unknowns)
    assert np.abs(design @ unseen.T).max() < 1e-9
    kernel = np.linalg.svd(design)[2][rank:]
    assert scipy.linalg.subspace_angles(unseen.T, kernel.T).max() < 1e-6


def test_an_unknown_that_nothing_observes_is_named() -> None:
    design = np.array([[2.0, 0.0], [1.0, 0.0], [3.0, 0.0]])
    with pytest.raises(NotDetermined) as caught:
        adjust_linear(design, np.ones(3), np.ones(3))
    assert np.abs(caught.value.loose) == pytest.approx(np.array([[0.0, 1.0]]), abs=1e-12)


def exponential(unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
    times = np.linspace(0.0, 4.0, 9)
    size, rate = unknowns
    decay = np.exp(-rate * times)
    return size * decay, np.column_stack((decay, -size * times * decay))


def test_steps_that_go_too_far_are_halved() -> None:
    """From this start a full step makes the misfit larger, so that undamped steps run away."""
    truth, start = np.array([5.0, 0.8]), np.array([1.0, 3.0])
    observed, _ = exponential(truth)
    predicted, jacobian = exponential(start)
    full = np.linalg.lstsq(jacobian, observed - predicted)[0]
    overshot, _ = exponential(start + full)
    assert ((observed - overshot) ** 2).sum() > ((observed - predicted) ** 2).sum()
    fit = adjust(exponential, start, observed, np.full(9, 0.01))
    assert fit.estimate == pytest.approx(truth, rel=1e-6)


def test_what_does_not_settle_is_an_error() -> None:
    observed, _ = exponential(np.array([5.0, 0.8]))
    with pytest.raises(ArithmeticError, match="did not settle in 2 steps"):
        adjust(exponential, np.array([1.0, 3.0]), observed, np.full(9, 0.01), most_steps=2)


def test_what_goes_nowhere_is_given_up_soon() -> None:
    """Its slopes point the wrong way, so that every step has to be halved to nothing."""
    looks = 0

    def misleading(unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        nonlocal looks
        looks += 1
        return unknowns, np.array([[-1.0]])

    with pytest.raises(ArithmeticError, match="halvings of steps"):
        adjust(misleading, np.array([5000.0]), np.array([1000.0]), np.array([1.0]))
    assert looks < 250


def test_a_blunder_is_the_only_one_past_the_critical_value() -> None:
    """Six height differences among four points, the fourth with 30 mm too much; constructed.

    The expectation is the w-test written out with numpy: residual over its own standard deviation.
    """
    ends = ((0, 1), (0, 2), (1, 2), (1, 3), (2, 3), (3, 0))
    heights = np.array([0.0, 10513.0, 15872.0, 7348.0])
    design = np.zeros((6, 4))
    for row, (start, end) in enumerate(ends):
        design[row, [start, end]] = -1.0, 1.0
    sigma = np.array([6.0, 12.0, 4.0, 4.0, 5.0, 3.0])
    observed = design @ heights
    observed[3] += 30.0
    free = design[:, 1:]
    found = adjust_linear(free, observed, sigma)
    weighted = free / sigma[:, None]
    hat = weighted @ np.linalg.pinv(weighted)
    excess = (np.eye(6) - hat) @ (observed / sigma)
    expected = excess / np.sqrt(1 - hat.diagonal())
    assert np.abs(found.standardised) == pytest.approx(np.abs(expected), abs=1e-6)
    assert found.chi_square == pytest.approx(float(excess @ excess), rel=1e-9)
    past = np.flatnonzero(np.abs(found.standardised) > CRITICAL_STANDARDISED_RESIDUAL)
    assert list(past) == [3]
