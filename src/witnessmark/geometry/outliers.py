"""Which observations stand out of the others (Baarda 1968)."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np

from witnessmark.geometry.adjust import CRITICAL_STANDARDISED_RESIDUAL, Adjustment

ACCUSED = 0.01
"""Share of rounds without a blunder in which a shot may be suspected all the same."""
_TIED = 0.999
"""Ratio of standardised residuals above which two shots only check each other."""


def is_sound(adjustment: Adjustment, readings: int) -> bool:
    """Return whether every observation fits the others; ``readings`` of them are shots."""
    return float(np.abs(adjustment.standardised).max()) <= critical_among(readings)


def suspect_rows(adjustment: Adjustment, readings: int) -> list[int]:
    """Return which of the first ``readings`` rows are suspect: the worst and those tied with it."""
    size = np.abs(adjustment.standardised)
    # the meter's zero and scale take part, so that an odd meter is not blamed on a reading
    limit = max(critical_among(readings), _TIED * float(size.max()))
    return [row for row in range(readings) if size[row] > limit]


def critical_among(readings: int) -> float:
    """Return the standardised residual past which the worst of so many readings is suspect.

    The 0.1 % point of Baarda (1968) for a reading; among more than ten that would accuse one in a
    hundred clean rounds and more, so then it is the point that keeps all of them together to 1 %
    (Sidak 1967, from memory).
    """
    share = 1.0 - (1.0 - ACCUSED) ** (1.0 / max(readings, 1))
    return max(CRITICAL_STANDARDISED_RESIDUAL, NormalDist().inv_cdf(1.0 - share / 2))
