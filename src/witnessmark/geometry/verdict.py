"""Decide whether an error is within tolerance, given its uncertainty."""

from __future__ import annotations

import enum
import math


class Verdict(enum.StrEnum):
    """Whether a quantity is within its tolerance, as far as the measuring can tell."""

    IN = "in"
    OUT = "out"
    UNSURE = "unsure"


def verdict(error: float, expanded: float, tolerance: float, *, settled: bool = True) -> Verdict:
    """Return ``in`` when |error| + U <= tolerance, ``out`` when |error| - U > it, else ``unsure``.

    Args:
        error: measured minus target, any unit.
        expanded: its expanded uncertainty U (k = 2), same unit.
        tolerance: the largest error allowed, same unit.
        settled: whether the measuring is beyond doubt; otherwise nothing is ``in``.

    The guard band of one U on either side follows JCGM 106:2012, 8.3.
    """
    # a nanometre of slack, so that an error exactly on the edge is not decided by rounding
    slack = 1e-9 * max(tolerance, 1.0)
    if abs(error) + expanded <= tolerance + slack:
        return Verdict.IN if settled else Verdict.UNSURE
    return Verdict.OUT if abs(error) - expanded > tolerance + slack else Verdict.UNSURE


def probability_within(error: float, standard: float, tolerance: float) -> float:
    """Return the probability that a normally distributed error lies within +-tolerance.

    Args:
        error: measured minus target.
        standard: its standard uncertainty, above 0.
        tolerance: the largest error allowed.

    Source: JCGM 106:2012, 7.4 (two-sided tolerance interval).
    """
    upper, lower = (tolerance - error) / standard, (-tolerance - error) / standard
    return (math.erf(upper / math.sqrt(2)) - math.erf(lower / math.sqrt(2))) / 2


def worst(verdicts: list[Verdict]) -> Verdict:
    """Return ``out`` if any is out, else ``unsure`` if any is unsure, else ``in``."""
    for candidate in (Verdict.OUT, Verdict.UNSURE):
        if candidate in verdicts:
            return candidate
    return Verdict.IN
