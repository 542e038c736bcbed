"""Zero error, repeatability and a maker's figure against surveying practice and the GUM."""

from __future__ import annotations

import itertools
import math
import statistics

import pytest

from witnessmark.meters.check import (
    Meaning,
    repeatability,
    standard_uncertainty_mm,
    zero_from_line,
    zero_from_three_marks,
)


def test_zero_error_from_three_marks() -> None:
    # e = r_AB + r_BC - r_AC for a reading of true + e: surveying textbooks (from memory); the
    # additive correction is the opposite
    zero = zero_from_three_marks(1203.0, 1703.0, 2903.0, shot_sigma_mm=1.0)
    assert zero.error_mm == pytest.approx(+3.0, abs=1e-9)
    assert zero.uncertainty_mm == pytest.approx(math.sqrt(3), abs=1e-12)
    assert zero.segments_mm == pytest.approx((1200.0, 1700.0), abs=1e-9)
    assert zero.scatter_mm is None


@pytest.mark.parametrize(("marks", "factor"), [(3, 3), (4, 1), (5, 1 / 2), (6, 0.3), (7, 1 / 5)])
def test_variance_of_the_zero_error_from_all_combinations(marks: int, factor: float) -> None:
    # exact factors; seven points in all 21 combinations, 14 more than needed, is the design of
    # ISO 17123-4:2012 (link from memory), where u(e) = 0.447 s
    places = [1000.0 * place**1.2 for place in range(marks)]
    readings = {(a, b): places[b] - places[a] for a, b in itertools.combinations(range(marks), 2)}
    zero = zero_from_line(readings, shot_sigma_mm=1.0)
    assert zero.uncertainty_mm**2 == pytest.approx(factor, rel=1e-9)
    assert zero.error_mm == pytest.approx(0.0, abs=1e-6)
    assert len(readings) - marks == marks * (marks - 1) // 2 - marks


@pytest.mark.parametrize(
    ("figure", "meaning", "u"),
    [
        (2.0, Meaning.TWO_SIGMA, 1.000),
        (2.0, Meaning.LIMIT, 1.155),
        (1.5, Meaning.TWO_SIGMA, 0.750),
        (1.5, Meaning.LIMIT, 0.866),
    ],
)
def test_a_makers_figure(figure: float, meaning: Meaning, u: float) -> None:
    # GUM 4.3: k = 2, or a rectangular distribution
    assert standard_uncertainty_mm(figure, meaning) == pytest.approx(u, abs=5e-4)


def test_scatter_of_five_shots() -> None:
    shots = [2514.0, 2515.0, 2514.5, 2513.8, 2514.7]
    found = repeatability(shots)
    assert found.mean_mm == pytest.approx(2514.4)
    assert found.sigma_mm == pytest.approx(statistics.stdev(shots))
    # GUM E.4.3 (from memory): about 1 / sqrt(2 (n - 1)), for five values 35 %
    assert found.uncertainty_mm / found.sigma_mm == pytest.approx(0.3536, abs=1e-4)
