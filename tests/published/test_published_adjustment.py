"""The least-squares core against worked examples of surveying and certified data of statistics."""

from __future__ import annotations

import importlib.resources
import math
from itertools import combinations

import numpy as np
import pytest
import scipy

from witnessmark.geometry.adjust import (
    CRITICAL_STANDARDISED_RESIDUAL,
    FloatArray,
    adjust,
    adjust_linear,
)

# Krumm, Geodetic Network Adjustment Examples, Rev. 3.5 (2020), Univ. Stuttgart, Ex. 3.1.1,
# pp. 48-50 (after Benning 2011, Ex. 8-2): a plane quadrilateral by five distances, metres.
_FIXED = {1: (0.0, 1000.0), 2: (1000.0, 1000.0)}
_DISTANCES = {
    (1, 3): 1000.020,
    (1, 4): 1414.200,
    (2, 3): 1414.240,
    (2, 4): 999.980,
    (3, 4): 1000.000,
}


def _quadrilateral(unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
    points = _FIXED | {3: tuple(unknowns[:2]), 4: tuple(unknowns[2:])}
    predicted, jacobian = np.zeros(5), np.zeros((5, 4))
    for row, (one, other) in enumerate(_DISTANCES):
        dx = points[other][0] - points[one][0]
        dy = points[other][1] - points[one][1]
        predicted[row] = distance = math.hypot(dx, dy)
        for point, sign in ((one, -1), (other, 1)):
            if point in {3, 4}:
                column = 2 * (point - 3)
                jacobian[row, column : column + 2] = sign * dx / distance, sign * dy / distance
    return predicted, jacobian


@pytest.fixture(scope="module")
def quadrilateral() -> object:
    return adjust(
        _quadrilateral,
        np.array([0.0, 0.0, 1000.0, 0.0]),
        np.array(list(_DISTANCES.values())),
        np.full(5, 0.010),
        step_tolerance=1e-9,
    )


def test_trilateration_coordinates(quadrilateral) -> None:  # noqa: ANN001
    expected = [-0.0096, -0.0226, 999.9930, 0.0174]
    assert quadrilateral.estimate == pytest.approx(expected, abs=1e-4)


def test_trilateration_precision_as_printed_and_as_this_program_reports_it(
    quadrilateral,  # noqa: ANN001
) -> None:
    assert quadrilateral.freedom == 1
    assert quadrilateral.sigma0 * 10 == pytest.approx(6.882, abs=0.001)  # mm; all sigmas are 10 mm
    a_priori_mm = np.sqrt(quadrilateral.covariance.diagonal()) * 1e3
    assert a_priori_mm == pytest.approx([13.093, 9.258, 13.093, 9.258], abs=0.005)
    # the book prints the a posteriori values, scaled by sigma0; the program never scales
    a_posteriori_mm = quadrilateral.sigma0 * a_priori_mm
    assert a_posteriori_mm == pytest.approx([9.01, 6.37, 9.01, 6.37], abs=0.01)


def test_trilateration_residuals_and_redundancy(quadrilateral) -> None:  # noqa: ANN001
    residuals_mm = quadrilateral.residuals * 1e3
    assert residuals_mm == pytest.approx([2.601, -3.679, -3.679, 2.601, 2.601], abs=0.005)
    expected = [0.1429, 0.2857, 0.2857, 0.1429, 0.1429]
    assert quadrilateral.redundancy == pytest.approx(expected, abs=1e-4)
    assert np.abs(quadrilateral.standardised) == pytest.approx(np.full(5, 0.688), abs=1e-3)


# Krumm 2020, Ex. 2.1, pp. 6-9 (after Ghilani 2010, Ex. 12.6): a weighted levelling network.
_H1 = 437.596
_LEVELS = (
    (1, 2, 10.509, 6),
    (1, 3, 15.881, 12),
    (2, 3, 5.360, 4),
    (2, 4, -3.167, 4),
    (3, 4, -8.523, 5),
    (4, 1, -7.348, 3),
)


def _levelling():  # noqa: ANN202
    design, observed = np.zeros((6, 3)), np.zeros(6)
    for row, (start, end, difference, _) in enumerate(_LEVELS):
        observed[row] = difference
        for point, sign in ((start, -1), (end, 1)):
            if point == 1:
                observed[row] -= sign * _H1
            else:
                design[row, point - 2] = sign
    return adjust_linear(design, observed, np.array([sigma for *_, sigma in _LEVELS]) / 1e3)


def test_weighted_levelling() -> None:
    found = _levelling()
    assert found.estimate == pytest.approx([448.10871, 453.46847, 444.94361], abs=5e-6)
    assert found.chi_square == pytest.approx(1.27212, abs=5e-6)
    assert found.sigma0 == pytest.approx(0.6512, abs=5e-5)
    a_priori_mm = np.sqrt(found.covariance.diagonal()) * 1e3
    assert a_priori_mm == pytest.approx([3.525, 4.048, 2.704], abs=1e-3)
    assert found.sigma0 * a_priori_mm == pytest.approx([2.30, 2.64, 1.76], abs=0.005)
    expected_mm = [3.71, -8.53, -0.24, 1.89, -1.86, 0.39]
    assert found.residuals * 1e3 == pytest.approx(expected_mm, abs=0.005)
    expected = [0.6549, 0.8862, 0.3294, 0.4326, 0.5092, 0.1877]
    assert found.redundancy == pytest.approx(expected, abs=1e-3)
    assert found.redundancy.sum() == pytest.approx(3)


def test_the_critical_value_of_data_snooping() -> None:
    """Baarda, Publications on Geodesy 2(5), Delft 1968 (from memory): alpha 0.1 %, two-sided."""
    assert (
        pytest.approx(scipy.stats.norm.ppf(1 - 0.0005), abs=5e-5) == CRITICAL_STANDARDISED_RESIDUAL
    )


@pytest.mark.parametrize(
    ("freedom", "limit"), [(1, 3.8415), (2, 5.9915), (3, 7.8147), (5, 11.0705), (10, 18.307)]
)
def test_chi_square_of_pure_noise_passes_the_table_value_once_in_twenty(
    freedom: int, limit: float
) -> None:
    """Standard tables of chi-square, 95 %."""
    rng = np.random.default_rng(freedom)
    design = rng.normal(size=(freedom + 2, 2))
    passed = sum(
        adjust_linear(design, rng.normal(size=freedom + 2), np.ones(freedom + 2)).chi_square > limit
        for _ in range(4000)
    )
    assert passed / 4000 == pytest.approx(0.05, abs=0.014)


def test_nist_norris() -> None:
    """NIST StRD, Norris: certified values; the data ship with scipy."""
    text = (
        importlib.resources.files("scipy.stats.tests")
        .joinpath("data/nist_linregress/Norris.dat")
        .read_text()
    )
    rows = [line.split() for line in text.splitlines()[60:] if line.strip()]
    y, x = np.array(rows, dtype=float).T
    assert len(y) == 36
    found = adjust_linear(np.column_stack((np.ones_like(x), x)), y, np.ones_like(y))
    assert found.estimate == pytest.approx([-0.262323073774029, 1.00211681802045], rel=1e-9)
    assert found.sigma0 == pytest.approx(0.884796396144373, rel=1e-9)
    deviations = found.sigma0 * np.sqrt(found.covariance.diagonal())
    assert deviations == pytest.approx([0.232818234301152, 4.29796848199937e-4], rel=1e-9)


_LONGLEY = [
    -3482258.63459582,
    15.0618722713733,
    -0.0358191792925910,
    -2.02022980381683,
    -1.03322686917359,
    -0.0511041056535807,
    1829.15146461355,
]


def _longley() -> tuple[FloatArray, FloatArray]:
    import statsmodels.api  # noqa: PLC0415 - takes a second, and only this test needs it

    data = statsmodels.api.datasets.longley.load_pandas()
    design = np.column_stack((np.ones(16), data.exog.to_numpy(dtype=float)))
    return design, data.endog.to_numpy(dtype=float)


def test_nist_longley() -> None:
    """NIST StRD, Longley (printed values from memory): ill-conditioned on purpose."""
    design, observed = _longley()
    found = adjust_linear(design, observed, np.ones(16))
    assert found.estimate == pytest.approx(_LONGLEY, rel=1e-8)
    assert found.sigma0 == pytest.approx(304.854073561965, rel=1e-8)
    deviation = found.sigma0 * math.sqrt(found.covariance[0, 0])
    assert deviation == pytest.approx(890420.383607373, rel=1e-8)


def test_normal_equations_lose_longley() -> None:
    """Negative control: why the normal matrix is never formed."""
    design, observed = _longley()
    by_normal_equations = np.linalg.inv(design.T @ design) @ (design.T @ observed)
    assert by_normal_equations != pytest.approx(_LONGLEY, rel=1e-8)


# NIST StRD, Misra1a: y = b1 (1 - exp(-b2 x)).
_MISRA = np.array(
    [
        (77.6, 10.07),
        (114.9, 14.73),
        (141.1, 17.94),
        (190.8, 23.93),
        (239.9, 29.61),
        (289.0, 35.18),
        (332.8, 40.02),
        (378.4, 44.82),
        (434.8, 50.76),
        (477.3, 55.05),
        (536.8, 61.01),
        (593.1, 66.40),
        (689.1, 75.47),
        (760.0, 81.78),
    ]
)


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)])
def test_nist_misra1a(start: tuple[float, float]) -> None:
    """NIST StRD, Misra1a, nonlinear, from both of its starting points."""
    x, y = _MISRA.T

    def model(b: FloatArray) -> tuple[FloatArray, FloatArray]:
        decay = np.exp(-b[1] * x)
        return b[0] * (1 - decay), np.column_stack((1 - decay, b[0] * x * decay))

    found = adjust(model, np.array(start), y, np.ones(14), step_tolerance=1e-9)
    assert found.estimate == pytest.approx([2.3894212918e2, 5.5015643181e-4], rel=1e-6)
    assert found.chi_square == pytest.approx(1.2455138894e-1, rel=1e-6)
    deviations = found.sigma0 * np.sqrt(found.covariance.diagonal())
    assert deviations == pytest.approx([2.7070075241, 7.2668688436e-6], rel=1e-6)


@pytest.mark.parametrize(("points", "factor"), [(3, 3.0), (4, 1.0), (5, 0.5), (6, 0.3), (7, 0.2)])
def test_zero_error_from_all_combinations_on_a_line(points: int, factor: float) -> None:
    """Variance factor of the zero error; 7 points as in ISO 17123-4:2012 (from memory)."""
    pairs = list(combinations(range(points), 2))
    design = np.zeros((len(pairs), points))
    for row, (start, end) in enumerate(pairs):
        design[row, start:end] = 1
        design[row, -1] = 1
    found = adjust_linear(design, np.ones(len(pairs)), np.ones(len(pairs)))
    assert found.covariance[-1, -1] == pytest.approx(factor)
