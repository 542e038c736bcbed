"""Propagation of uncertainty and conformity, against the GUM family's own examples."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy
from uncertainties import correlated_values, umath

from witnessmark.geometry.adjust import adjust_linear
from witnessmark.geometry.verdict import probability_within
from witnessmark.model.pair import COVERAGE_FACTOR

# JCGM 100:2008 (GUM) H.2, Table H.2: five simultaneous readings of V, I (mA) and phase (rad)
_H2 = np.array(
    [
        (5.007, 4.994, 5.005, 4.990, 4.999),
        (19.663, 19.639, 19.640, 19.685, 19.678),
        (1.0456, 1.0438, 1.0468, 1.0428, 1.0433),
    ]
)


def _h2_outputs(covariance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """R, X, Z in ohms and their covariance, by the law of propagation (GUM 5.2)."""
    volts, milliamperes, phase = _H2.mean(axis=1)
    impedance = volts / milliamperes * 1e3
    cosine, sine = math.cos(phase), math.sin(phase)
    jacobian = np.array(
        [
            (
                impedance * cosine / volts,
                -impedance * cosine / milliamperes,
                -impedance * sine,
            ),
            (impedance * sine / volts, -impedance * sine / milliamperes, impedance * cosine),
            (impedance / volts, -impedance / milliamperes, 0.0),
        ]
    )
    values = np.array([impedance * cosine, impedance * sine, impedance])
    return values, jacobian @ covariance @ jacobian.T


def _mean_and_covariance() -> tuple[np.ndarray, np.ndarray]:
    """Means of the simultaneous readings by the project's own adjustment, and their covariance."""
    means = [adjust_linear(np.ones((5, 1)), row, np.ones(5)) for row in _H2]
    residuals = np.array([one.residuals for one in means])
    return np.array([one.estimate[0] for one in means]), residuals @ residuals.T / (5 * 4)


def test_gum_h2_means_and_their_correlation() -> None:
    means, covariance = _mean_and_covariance()
    assert means == pytest.approx([4.9990, 19.6610, 1.04446], abs=5e-6)
    deviations = np.sqrt(covariance.diagonal())
    assert deviations == pytest.approx([3.209e-3, 9.471e-3, 7.521e-4], rel=5e-4)
    correlation = covariance / np.outer(deviations, deviations)
    expected = [-0.355, 0.858, -0.645]
    assert correlation[[0, 0, 1], [1, 2, 2]] == pytest.approx(expected, abs=1e-3)


def test_gum_h2_propagated_with_correlation() -> None:
    """GUM Table H.4; also against the package uncertainties."""
    means, covariance = _mean_and_covariance()
    values, propagated = _h2_outputs(covariance)
    assert values == pytest.approx([127.732, 219.847, 254.260], abs=1e-3)
    deviations = np.sqrt(propagated.diagonal())
    assert deviations == pytest.approx([0.071, 0.295, 0.236], abs=1e-3)
    correlation = propagated / np.outer(deviations, deviations)
    expected = [-0.588, -0.485, 0.993]
    assert correlation[[0, 0, 1], [1, 2, 2]] == pytest.approx(expected, abs=1e-3)
    volts, milliamperes, phase = correlated_values(means, covariance)
    reference = volts / milliamperes * 1e3 * umath.cos(phase)
    assert deviations[0] == pytest.approx(reference.std_dev, rel=1e-6)


def test_gum_h2_without_correlation_is_wrong() -> None:
    """Negative control: what dropping the correlation gives is not what is printed."""
    _, covariance = _mean_and_covariance()
    _, propagated = _h2_outputs(np.diag(covariance.diagonal()))
    deviations = np.sqrt(propagated.diagonal())
    assert deviations == pytest.approx([0.194, 0.201, 0.204], abs=1e-3)
    assert deviations != pytest.approx([0.071, 0.295, 0.236], abs=1e-2)


def test_gum_h3_calibration_line() -> None:
    """GUM H.3, Table H.6 (printed answers from memory); the covariance a posteriori."""
    t = np.array(
        [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    )
    thousandths = [-171, -169, -166, -159, -164, -165, -156, -157, -159, -161, -160]
    design = np.column_stack((np.ones_like(t), t - 20))
    found = adjust_linear(design, np.array(thousandths) / 1e3, np.ones_like(t))
    assert found.estimate == pytest.approx([-0.1712, 0.00218], abs=5e-5)
    assert found.sigma0 == pytest.approx(0.0035, abs=5e-5)
    covariance = found.sigma0**2 * found.covariance
    deviations = np.sqrt(covariance.diagonal())
    assert deviations == pytest.approx([0.0029, 0.00067], abs=5e-5)
    assert covariance[0, 1] / deviations.prod() == pytest.approx(-0.930, abs=5e-4)
    at_30 = np.array([1.0, 10.0])
    assert at_30 @ found.estimate == pytest.approx(-0.1494, abs=5e-5)
    assert math.sqrt(at_30 @ covariance @ at_30) == pytest.approx(0.0041, abs=5e-5)
    # negative control: without the covariance between them
    assert math.hypot(*(at_30 * deviations)) == pytest.approx(0.0073, abs=1e-4)


def test_k_of_2_covers_95_45_percent() -> None:
    """NIST TN 1297 (1994), 6.2."""
    assert COVERAGE_FACTOR == 2.0
    assert scipy.stats.norm.cdf(2) - scipy.stats.norm.cdf(-2) == pytest.approx(0.9545, abs=1e-4)
    assert probability_within(0.0, 1.0, COVERAGE_FACTOR) == pytest.approx(0.9545, abs=1e-4)


@pytest.mark.parametrize(
    ("probability", "z"), [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)]
)
def test_probability_of_conformity_at_one_limit(probability: float, z: float) -> None:
    """JCGM 106:2012, 7.3, Table 1 (values from memory): z = (T - y) / u."""
    far = 50.0  # the other limit is out of reach
    assert probability_within(far - z, 1.0, far) == pytest.approx(probability, abs=2e-3)


def test_conformity_of_a_breakdown_voltage() -> None:
    """JCGM 106:2012, 7 (from memory): -5.47 V, u = 0.05 V, not above -5.40 V."""
    lowest, highest = -7.40, -5.40
    error = -5.47 - (lowest + highest) / 2
    found = probability_within(error, 0.05, (highest - lowest) / 2)
    assert found == pytest.approx(0.919, abs=1e-3)


def test_conformity_of_an_oil() -> None:
    """JCGM 106:2012, 7 (from memory): 13.6 mm²/s, u = 1.8, to lie between 12.5 and 16.3."""
    found = probability_within(13.6 - (12.5 + 16.3) / 2, 1.8, (16.3 - 12.5) / 2)
    assert found == pytest.approx(0.66, abs=0.003)
