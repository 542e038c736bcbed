"""Repeats and sweeps, simulated: noise, rounding, and beams that are not square."""

from __future__ import annotations

import math

import numpy as np
import pytest

from witnessmark.errors import BadInput
from witnessmark.geometry.repeats import (
    averaged,
    repeats_help,
    rounding_kept_mm2,
    shortest_error_mm,
    swept,
)
from witnessmark.model import Meter

FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

METERS = [
    Meter(0.4, 1.0, 0.7),
    Meter(0.2, 1.0, 0.7),
    Meter(0.05, 1.0, 0.7),
    Meter(0.5, 0.1, 0.7),
    Meter(0.5, 1.5875, 0.7),
]
ids = [f"{meter.repeatability_mm:g}-{meter.resolution_mm:g}" for meter in METERS]


def read(
    meter: Meter, count: int, rounds: int, half_angle_deg: float = 0.0, true_mm: float = 2000.0
) -> tuple[FloatArray, FloatArray]:
    """True distances, anywhere between two steps of the display, and readings of each."""
    rng = np.random.default_rng(7)
    true = true_mm + rng.uniform(0.0, meter.resolution_mm, rounds)
    angles = np.radians(half_angle_deg) * rng.uniform(-1.0, 1.0, (rounds, count))
    noise = rng.normal(0.0, meter.repeatability_mm, (rounds, count))
    raw = true[:, None] / np.cos(angles) + noise
    return true, np.round(raw / meter.resolution_mm) * meter.resolution_mm


@pytest.mark.parametrize("meter", METERS, ids=ids)
@pytest.mark.parametrize("count", [1, 2, 5, 20])
def test_what_averaging_leaves(meter: Meter, count: int) -> None:
    true, readings = read(meter, count, 40_000)
    kept = rounding_kept_mm2(meter)
    foretold = math.sqrt(kept + (meter.shot_sigma_mm**2 - kept) / count)
    assert np.std(readings.mean(axis=1) - true) == pytest.approx(foretold, rel=0.015)


@pytest.mark.parametrize("meter", METERS, ids=ids)
@pytest.mark.parametrize("count", [2, 5])
def test_the_mean_is_known_as_well_as_is_said(meter: Meter, count: int) -> None:
    true, readings = read(meter, count, 3000)
    means = [averaged(row, meter) for row in readings.tolist()]
    held = [
        abs(mean.distance_mm - at) <= 2 * mean.sigma_mm
        for mean, at in zip(means, true, strict=True)
    ]
    # rounding that is not taken to average away is overstated, never understated
    assert np.mean(held) >= 0.945
    assert np.mean([mean.steady for mean in means]) >= 0.995


def test_readings_on_one_step_share_their_rounding() -> None:
    meter = Meter(0.05, 1.0, 0.7)
    few, many = averaged([2435.0] * 2, meter), averaged([2435.0] * 50, meter)
    assert many.sigma_mm >= 1.0 / math.sqrt(12)
    assert few.sigma_mm == pytest.approx(many.sigma_mm, rel=0.02)
    assert not repeats_help(meter)
    fine = Meter(0.5, 1.0, 0.7)
    assert repeats_help(fine)
    assert averaged([2435.0, 2436.0] * 25, fine).sigma_mm < 0.1


def test_a_hand_that_moved_is_noticed() -> None:
    meter = Meter(0.4, 1.0, 0.7)
    assert averaged([2435.0, 2436.0, 2435.0], meter).steady
    moved = averaged([2435.0, 2441.0, 2435.0], meter)
    assert not moved.steady
    assert "they differ by up to 6 mm" in moved.words
    assert averaged([2435.0, 2436.0], Meter(0.01, 1.0, 0.7)).steady, "between two steps"


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


def test_sweeps_and_means_in_words() -> None:
    meter = Meter(0.4, 1.0, 0.7)
    assert averaged([2435.0, 2436.0, 2435.0], meter).words == (
        "3 shots averaged: 2435 mm, known to ±0.6 mm beside the meter's zero"
    )
    assert averaged([2435.0], meter).words.startswith("1 shot: 2435 mm")
    told = swept([2436.0, 2435.0, 2435.0, 2437.0, 2439.0, 2436.0, 2435.0], meter).words
    assert told.startswith("the shortest of 7 in a sweep: 2435 mm, known to ±")
    assert told.endswith("errs by -0.4 mm on average, which was taken off")


def test_readings_that_make_no_sense_are_refused() -> None:
    meter = Meter()
    with pytest.raises(BadInput, match="no reading"):
        averaged([], meter)
    with pytest.raises(BadInput, match="0 or more"):
        averaged([2000.0, math.nan], meter)
    with pytest.raises(BadInput, match="at least three"):
        swept([2000.0, 2001.0], meter)
    with pytest.raises(BadInput, match="to either side"):
        swept([2000.0, 2001.0, 2002.0], meter, 0.0)
