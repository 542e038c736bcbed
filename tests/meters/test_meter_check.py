"""Zero error and repeatability: constructed cases, and what is refused."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest

from witnessmark.errors import BadInput
from witnessmark.meters.check import (
    Meaning,
    repeatability,
    standard_uncertainty_mm,
    zero_from_line,
    zero_from_three_marks,
)


def test_four_marks_six_readings() -> None:
    # constructed; computed with numpy and with rational numbers
    readings = {
        (0, 1): 1203.4,
        (0, 2): 2902.8,
        (0, 3): 5003.1,
        (1, 2): 1702.6,
        (1, 3): 3803.3,
        (2, 3): 2102.9,
    }
    zero = zero_from_line(readings, shot_sigma_mm=0.3808)
    assert zero.segments_mm == pytest.approx((1200.25, 1699.80, 2100.25), abs=1e-3)
    assert zero.error_mm == pytest.approx(+2.900, abs=1e-6)
    assert zero.scatter_mm == pytest.approx(0.3808, abs=5e-5)
    assert zero.uncertainty_mm == pytest.approx(0.3808, abs=1e-9)


def test_the_zero_error_of_many_lines_scatters_as_it_says() -> None:
    rng = np.random.default_rng(4)
    found = []
    for _ in range(4000):
        ab, bc, ac = (mm + 1.7 + rng.normal(0.0, 0.4) for mm in (1200.0, 1700.0, 2900.0))
        found.append(zero_from_three_marks(ab, bc, ac, shot_sigma_mm=0.4).error_mm)
    assert statistics.fmean(found) == pytest.approx(1.7, abs=0.05)
    assert statistics.stdev(found) == pytest.approx(0.4 * math.sqrt(3), rel=0.05)


@pytest.mark.parametrize(
    "readings",
    [
        {},
        {(0, 1): 1200.0},
        {(0, 1): 1200.0, (1, 2): 1700.0},
        {(0, 1): 1200.0, (1, 2): 1700.0, (0, 2): 2900.0, (2, 3): 900.0} | {(0, 1): math.nan},
        {(0, 1): 1200.0, (1, 2): 1700.0, (0, 2): 2300.0},
        {(0, 1): -1200.0, (1, 2): 1700.0, (0, 2): 500.0},
    ],
)
def test_what_cannot_tell_a_zero_error_is_refused(readings: dict[tuple[int, int], float]) -> None:
    with pytest.raises(BadInput):
        zero_from_line(readings, shot_sigma_mm=0.5)


def test_too_little_is_refused() -> None:
    with pytest.raises(BadInput, match="take five"):
        repeatability([2514.0, 2515.0])
    with pytest.raises(BadInput, match="above 0"):
        standard_uncertainty_mm(0.0, Meaning.LIMIT)
    with pytest.raises(BadInput, match="scatter"):
        zero_from_three_marks(1203.0, 1703.0, 2903.0, shot_sigma_mm=0.0)
