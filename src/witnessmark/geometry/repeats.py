"""One distance from several readings: their mean, or the shortest of a sweep.

What the meter's zero and scale do to all readings alike is no part of this; the adjustment carries
it. Readings x + noise, rounded to steps of q, err by

    e = noise + rounding,   E[e^2] = s^2 + q^2 / 12

over all places of x between two steps. Of that, what repeats do not take away is the mean of the
rounding at each place, whose mean square follows from the Fourier series of a sawtooth, each term
of which the noise damps:

    B = q^2 sum_k exp(-4 pi^2 k^2 s^2 / q^2) / (2 pi^2 k^2)

which is q^2 / 12 without noise and next to nothing once s is a third of q. So n readings leave
B + (s^2 + q^2 / 12 - B) / n.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from functools import lru_cache

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.pose import COVERAGE_FACTOR
from witnessmark.lengths import Units, format_length
from witnessmark.model import Meter

SWEEP_HALF_ANGLE_DEG = 2.0
"""How far to either side of square a hand sweeps; common practice, no source."""

_WORTH_TELLING_MM = 0.05
_LOOSE = 3.0902
"""One-sided 0.1 % point of the normal distribution."""


class Repeated(msgspec.Struct, frozen=True):
    """One distance, its standard uncertainty without the meter's zero, and a sentence.

    ``spread_mm`` is the standard deviation of the readings. ``steady`` is false when they are
    further apart than the meter's own spread explains: a hand that moved, or another corner.
    """

    distance_mm: float
    sigma_mm: float
    spread_mm: float
    steady: bool
    words: str


def averaged(readings: Sequence[float], meter: Meter, units: Units = Units.MM) -> Repeated:
    """The mean of several shots of one distance.

    Where all readings are on one step of the display, the rounding may be the same in all of them
    and is not divided.

    Raises:
        BadInput: when there is no reading.
    """
    mean = statistics.fmean(_checked(readings))
    count = len(readings)
    if max(readings) - min(readings) < 1e-9:
        variance = meter.repeatability_mm**2 / count + meter.resolution_mm**2 / 12
    else:
        kept = rounding_kept_mm2(meter)
        variance = kept + (meter.shot_sigma_mm**2 - kept) / count
    sigma, spread = math.sqrt(variance), _spread(readings)
    steady = _is_steady(readings, meter)
    shots = "1 shot" if count == 1 else f"{count} shots averaged"
    words = f"{shots}: {_told(mean, sigma, units)}"
    if not steady:
        words += (
            f"; they differ by up to {format_length(max(readings) - min(readings), units)}, more "
            "than this meter does by itself: hold it to the same point and shoot again"
        )
    return Repeated(mean, sigma, spread, steady, words)


def swept(
    readings: Sequence[float],
    meter: Meter,
    half_angle_deg: float = SWEEP_HALF_ANGLE_DEG,
    units: Units = Units.MM,
) -> Repeated:
    """The shortest of a sweep across the place where the beam is square to the wall.

    A beam that is off square reads long, never short; chance reads short as well as long, and the
    shortest of many readings is one that chance made short. What both do on average, for beams
    spread evenly over the sweep, is taken off. How far the hand really swept is not known: the mean
    of a hand that stood still and of one that went all the way is taken, and what lies between them
    is added to the uncertainty as a rectangular distribution.

    Args:
        readings: three or more, taken while the beam passed through the square.
        meter: its error model.
        half_angle_deg: how far to either side the hand may have swept, 0.1 to 20 degrees.
        units: of the lengths in the sentence.

    Raises:
        BadInput: when there are fewer than three readings, or the angle makes no sense.
    """
    shortest = min(_checked(readings))
    if len(readings) < 3:
        raise BadInput("sweep: take at least three readings while the beam passes the square")
    if not 0.1 <= half_angle_deg <= 20:
        raise BadInput(f"sweep: {half_angle_deg:g}° to either side must lie between 0.1° and 20°")
    swung, sigma = shortest_error_mm(len(readings), shortest, meter, half_angle_deg)
    still, _ = shortest_error_mm(len(readings), shortest, meter, 0.0)
    bias, either_way = (swung + still) / 2, abs(swung - still) / 2
    distance = shortest - bias
    sigma = math.hypot(sigma, either_way / math.sqrt(3))
    words = f"the shortest of {len(readings)} in a sweep: {_told(distance, sigma, units)}"
    if abs(bias) >= _WORTH_TELLING_MM:
        off = format_length(bias, Units.TENTH_MM, signed=True)
        words += f"; the shortest of so many errs by {off} on average, which was taken off"
    return Repeated(distance, sigma, _spread(readings), True, words)


def rounding_kept_mm2(meter: Meter) -> float:
    """What rounding leaves of its variance in the mean of however many readings, mm²."""
    step, noise = meter.resolution_mm, meter.repeatability_mm
    if step == 0:
        return 0.0
    if noise == 0:
        return step**2 / 12
    terms = (
        math.exp(-((math.tau * k * noise / step) ** 2)) / (2 * (math.pi * k) ** 2)
        for k in range(1, 200)
    )
    return step**2 * math.fsum(terms)


def repeats_help(meter: Meter) -> bool:
    """Whether a shot taken again tells something new: its noise must stir the last digit."""
    return rounding_kept_mm2(meter) <= 0.05 * meter.shot_sigma_mm**2


def shortest_error_mm(
    count: int, distance_mm: float, meter: Meter, half_angle_deg: float
) -> tuple[float, float]:
    """Mean and standard deviation of the shortest of ``count`` readings less the true distance.

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
    """What beams spread evenly over a sweep read too long, at the middles of equal parts."""
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
        raise BadInput("there is no reading to average")
    if not all(math.isfinite(reading) and reading >= 0 for reading in readings):
        raise BadInput("every reading must be a distance of 0 or more")
    return readings


def _spread(readings: Sequence[float]) -> float:
    return statistics.stdev(readings) if len(readings) > 1 else 0.0


def _is_steady(readings: Sequence[float], meter: Meter) -> bool:
    """Whether the spread is what the meter's own makes of so many, at 0.1 %.

    The quantile of chi-square over its freedom by Wilson and Hilferty (1931, from memory). To and
    fro between two steps of the display is steady in any case.
    """
    freedom = len(readings) - 1
    if max(readings) - min(readings) <= 1.001 * meter.resolution_mm or not freedom:
        return True
    part = 2 / (9 * freedom)
    limit = (1 - part + _LOOSE * math.sqrt(part)) ** 3
    return _spread(readings) ** 2 <= limit * meter.shot_sigma_mm**2


def _told(distance_mm: float, sigma_mm: float, units: Units) -> str:
    known = format_length(COVERAGE_FACTOR * sigma_mm, Units.TENTH_MM)
    return f"{format_length(distance_mm, units)}, known to ±{known} beside the meter's zero"
