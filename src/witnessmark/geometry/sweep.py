"""One distance from the shortest of a sweep.

What the meter's zero and scale do to all readings alike is no part of this; the adjustment carries
it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray
from witnessmark.model import Meter

SWEEP_READINGS = 5
"""Readings that make a sweep."""
SWEEP_HALF_ANGLE_DEG = 2.0
"""How far to either side of square a hand sweeps; common practice, no source."""


class Swept(msgspec.Struct, frozen=True):
    """One distance, and its standard uncertainty without the meter's zero."""

    distance_mm: float
    sigma_mm: float


def swept(
    readings: Sequence[float], meter: Meter, half_angle_deg: float = SWEEP_HALF_ANGLE_DEG
) -> Swept:
    """Return the shortest of a sweep across the place where the beam is square to the wall.

    A beam that is off square reads long, never short; chance reads short as well as long, and the
    shortest of many readings is one that chance made short. What both do on average, for beams
    spread evenly over the sweep, is taken off. How far the hand really swept is not known: the mean
    of a hand that stood still and of one that went all the way is taken, and what lies between them
    is added to the uncertainty as a rectangular distribution.

    Args:
        readings: three or more, taken while the beam passed through the square.
        meter: its error model.
        half_angle_deg: how far to either side the hand may have swept, 0.1 to 20 degrees.

    Raises:
        BadInput: when there are fewer than three readings, or the angle makes no sense.
    """
    shortest = min(_checked(readings))
    if len(readings) < 3:
        raise BadInput("sweep: take at least three readings while the beam passes the square")
    if not 0.1 <= half_angle_deg <= 20:
        raise BadInput(f"sweep: {half_angle_deg:g}° to either side must lie between 0.1° and 20°")
    bias, sigma = swept_error_mm(meter, shortest, len(readings), half_angle_deg)
    return Swept(shortest - bias, sigma)


def swept_error_mm(
    meter: Meter,
    distance_mm: float,
    count: int = SWEEP_READINGS,
    half_angle_deg: float = SWEEP_HALF_ANGLE_DEG,
) -> tuple[float, float]:
    """Return what the shortest of a sweep errs by on average, and its standard uncertainty, mm."""
    swung, sigma = shortest_error_mm(count, distance_mm, meter, half_angle_deg)
    still, _ = shortest_error_mm(count, distance_mm, meter, 0.0)
    bias, either_way = (swung + still) / 2, abs(swung - still) / 2
    return bias, math.hypot(sigma, either_way / math.sqrt(3))


def shortest_error_mm(
    count: int, distance_mm: float, meter: Meter, half_angle_deg: float
) -> tuple[float, float]:
    """Return mean and standard deviation of the shortest of ``count`` readings less the truth.

    With S(x) the probability that one reading errs by more than x before it is rounded, the
    shortest of n, rounded to steps of q, errs by e with density (S(e - q/2)^n - S(e + q/2)^n) / q
    over all places between two steps.
    """
    noise = max(meter.repeatability_mm, 1e-3)
    step = max(meter.resolution_mm, 1e-3)
    longest = distance_mm * (1 / math.cos(math.radians(half_angle_deg)) - 1)
    low, high = -6 * noise - step, longest + 6 * noise + step
    errors = np.linspace(low, high, max(400, math.ceil(8 * (high - low) / min(noise, step))))
    excess = _excess(distance_mm, half_angle_deg)
    before, after = (
        _exceeding(errors + half, excess, noise) ** count for half in (-step / 2, step / 2)
    )
    density = before - after
    weight = density / density.sum()
    mean = float(weight @ errors)
    return mean, math.sqrt(float(weight @ (errors - mean) ** 2))


def _excess(distance_mm: float, half_angle_deg: float) -> FloatArray:
    """Return what beams spread evenly over a sweep read too long, at the middles of equal parts."""
    angles = np.radians(half_angle_deg) * (np.arange(40) + 0.5) / 40
    excess: FloatArray = distance_mm * (1 / np.cos(angles) - 1)
    return excess


def _exceeding(errors: FloatArray, excess: FloatArray, noise: float) -> FloatArray:
    """Probability that one reading errs by more than each of ``errors`` before it is rounded."""
    at, above = _normal_table()
    chance: FloatArray = np.interp((errors[:, None] - excess) / noise, at, above).mean(axis=1)
    return chance


@lru_cache(maxsize=1)
def _normal_table() -> tuple[FloatArray, FloatArray]:
    """How much of a normal distribution lies above each value; numpy has no error function."""
    at = np.linspace(-6.5, 6.5, 1301)
    return at, np.array([math.erfc(value / math.sqrt(2)) / 2 for value in at.tolist()])


def _checked(readings: Sequence[float]) -> Sequence[float]:
    if not readings:
        raise BadInput("sweep: there is no reading")
    if not all(math.isfinite(reading) and reading >= 0 for reading in readings):
        raise BadInput("sweep: every reading must be a distance of 0 or more")
    return readings
