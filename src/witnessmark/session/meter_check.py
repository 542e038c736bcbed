"""Checking a meter, step by step: what is to be shot, what was found, what it changes.

Readings are as they came from the meter. What is added for its edge is added here too; its zero
correction is not, for that is what is looked for.
"""

from __future__ import annotations

from statistics import fmean
from typing import Final, NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.geometry.rounding import mean_sigma_mm
from witnessmark.lengths import Units, format_length
from witnessmark.meters.check import (
    SEGMENTS,
    SHOTS,
    Meaning,
    repeatability,
    standard_uncertainty_mm,
    zero_from_three_marks,
)
from witnessmark.model import Meter
from witnessmark.words.meter_check import figure_words, repeats_words, zero_words

_FARTHEST_APART_MM: Final = 30.0
"""Difference, mm, above which two shots are not of one distance."""
_OTHER_EDGE_MM: Final = 15.0


class CheckResult(NamedTuple):
    """What a check found, in a sentence or two, and the meter's figures if that is used."""

    words: str
    meter: Meter | None = None


def from_figure(meter: Meter, plus_minus_mm: float, meaning: Meaning, units: Units) -> CheckResult:
    """Return what a maker's plus-or-minus figure says of one shot.

    Raises:
        BadInput: when there is no such figure.
    """
    sigma = standard_uncertainty_mm(plus_minus_mm, meaning)
    return CheckResult(
        figure_words(sigma, units), msgspec.structs.replace(meter, repeatability_mm=sigma)
    )


def from_three_marks(
    meter: Meter, readings_mm: tuple[float, ...], units: Units
) -> CheckResult | None:
    """Return the zero error from whole rounds of shots of AB, BC and AC; None before the first.

    Raises:
        BadInput: when a mark or a number must be wrong.
    """
    for place, segment in enumerate(SEGMENTS):
        _check_is_one_distance(readings_mm[place::3], f"the shots of {''.join(segment)}", units)
    rounds = len(readings_mm) // len(SEGMENTS)
    if rounds == 0:
        return None
    whole = readings_mm[: rounds * len(SEGMENTS)]
    ab, bc, ac = (fmean(whole[place::3]) + meter.edge_offset_mm for place in range(3))
    zero = zero_from_three_marks(ab, bc, ac, mean_sigma_mm(meter, rounds))
    error, known_to = zero.error_mm, 2 * zero.uncertainty_mm
    if abs(error) <= known_to and zero.uncertainty_mm >= meter.zero_mm:
        return CheckResult(zero_words(zero, units, no_better_than_mm=meter.zero_mm))
    corrected = msgspec.structs.replace(
        meter, zero_correction_mm=-error, zero_mm=zero.uncertainty_mm
    )
    words = zero_words(zero, units, is_of_another_edge=abs(error) > _OTHER_EDGE_MM)
    return CheckResult(words, corrected)


def from_one_distance(
    meter: Meter, readings_mm: tuple[float, ...], units: Units
) -> CheckResult | None:
    """Return how well the meter repeats, from shots of one distance; None while there are too few.

    Raises:
        BadInput: when they cannot be of one distance.
    """
    if len(readings_mm) < SHOTS:
        return None
    _check_is_one_distance(readings_mm, "the shots", units)
    found = repeatability(readings_mm)
    corrected = msgspec.structs.replace(meter, repeatability_mm=found.sigma_mm)
    return CheckResult(repeats_words(found, units), corrected)


def _check_is_one_distance(readings_mm: tuple[float, ...], name: str, units: Units) -> None:
    apart = max(readings_mm, default=0.0) - min(readings_mm, default=0.0)
    if apart > _FARTHEST_APART_MM:
        far = format_length(apart, units)
        raise BadInput(f"{name} are up to {far} apart, so they are not of one distance")
