"""Sweeps, simulated: noise, rounding, and beams that are not square."""

from __future__ import annotations

import math

import numpy as np
import pytest
from many_readings import METERS, ids, read

from witnessmark.errors import BadInput
from witnessmark.geometry.sweep import shortest_error_mm, swept
from witnessmark.model import Meter


@pytest.mark.parametrize("meter", METERS, ids=ids)
@pytest.mark.parametrize(
    ("count", "half_angle_deg", "true_mm"), [(5, 2.0, 2000.0), (12, 3.0, 4000.0), (3, 0.5, 900.0)]
)
def test_the_error_of_the_shortest_of_a_sweep(
    meter: Meter, count: int, half_angle_deg: float, true_mm: float
) -> None:
    true, readings = read(meter, count, 40_000, half_angle_deg, true_mm)
    errors = readings.min(axis=1) - true
    mean, spread = shortest_error_mm(count, true_mm, meter, half_angle_deg)
    assert mean == pytest.approx(errors.mean(), abs=0.012)
    assert spread == pytest.approx(errors.std(), rel=0.02)


def test_chance_makes_the_shortest_short_and_a_wide_sweep_makes_it_long() -> None:
    meter = Meter(0.5, 0.1, 0.7)
    square, _ = shortest_error_mm(7, 3000.0, meter, 0.0)
    # the mean of the least of seven normal draws, by the tables of order statistics
    assert square == pytest.approx(-1.3522 * 0.5, abs=0.005)
    wide, _ = shortest_error_mm(3, 6000.0, meter, 8.0)
    assert wide > 5.0


@pytest.mark.parametrize("half_angle_deg", [0.2, 1.0, 2.0])
def test_a_sweep_is_as_good_as_is_said_however_far_the_hand_went(half_angle_deg: float) -> None:
    """Taken to be 2 degrees to either side."""
    meter = Meter(0.4, 1.0, 0.7)
    true, readings = read(meter, 7, 600, half_angle_deg)
    found = [swept(row, meter, 2.0) for row in readings.tolist()]
    held = [
        abs(one.distance_mm - at) <= 2 * one.sigma_mm for one, at in zip(found, true, strict=True)
    ]
    assert np.mean(held) >= 0.94
    single = np.abs(readings[:, 0] - true).mean()
    assert (
        np.mean([abs(one.distance_mm - at) for one, at in zip(found, true, strict=True)]) < single
    )


def test_readings_that_make_no_sense_are_refused() -> None:
    meter = Meter()
    with pytest.raises(BadInput, match="no reading"):
        swept([], meter)
    with pytest.raises(BadInput, match="0 or more"):
        swept([2000.0, math.nan, 2001.0], meter)
    with pytest.raises(BadInput, match="at least three"):
        swept([2000.0, 2001.0], meter)
    with pytest.raises(BadInput, match="to either side"):
        swept([2000.0, 2001.0, 2002.0], meter, 0.0)
