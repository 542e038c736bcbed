"""What the steps of a meter's display leave in several shots of one distance.

Readings x + noise, rounded to steps of q, err by

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
from functools import lru_cache

from witnessmark.model import Meter


@lru_cache(maxsize=64)
def rounding_kept_mm2(meter: Meter) -> float:
    """Return what rounding leaves of its variance in the mean of any number of readings, mm²."""
    step, noise = meter.resolution_mm, meter.repeatability_mm
    if step == 0:
        return 0.0
    if noise == 0:
        return step**2 / 12
    turns = (math.tau * k * noise / step for k in range(1, 200))
    # a product, which becomes infinite where a power would overflow
    terms = (
        math.exp(-turn * turn) / (2 * (math.pi * k) ** 2) for k, turn in enumerate(turns, start=1)
    )
    return step**2 * math.fsum(terms)


def repeats_help(meter: Meter) -> bool:
    """Return whether a repeated shot tells something new: its noise must stir the last digit."""
    return rounding_kept_mm2(meter) <= 0.05 * meter.shot_sigma_mm**2


def repeat_sigma_mm(meter: Meter, count: int) -> float:
    """Return the standard uncertainty to give each of ``count`` shots of one distance, mm.

    Weighted so, as if they were independent, they leave of their mean what they truly do.
    """
    kept = rounding_kept_mm2(meter)
    return math.sqrt(meter.shot_sigma_mm**2 + (count - 1) * kept)


def mean_sigma_mm(meter: Meter, count: int) -> float:
    """Return the standard uncertainty of the mean of ``count`` shots of one distance, mm."""
    return repeat_sigma_mm(meter, count) / math.sqrt(count)
