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
from witnessmark.lengths import Units, format_length, format_small
from witnessmark.meters.check import (
    Meaning,
    repeatability,
    standard_uncertainty_mm,
    zero_from_three_marks,
)
from witnessmark.model import Meter
from witnessmark.model.meter import ROUNDS_OF_MARKS

SEGMENTS: Final = (("A", "B"), ("B", "C"), ("A", "C"))
SHOTS: Final = 5
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
        f"One standard deviation of it is {_figure(sigma, units)}.",
        msgspec.structs.replace(meter, repeatability_mm=sigma),
    )


def next_segment(readings_mm: tuple[float, ...]) -> tuple[str, str] | None:
    """Return from which mark to which the next shot goes, round after round; None after the last.

    Each round is a shot of every segment.
    """
    taken = len(readings_mm)
    return SEGMENTS[taken % 3] if taken < ROUNDS_OF_MARKS * len(SEGMENTS) else None


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
    kind = "long" if error > 0 else "short"
    words = (
        f"It reads {_figure(abs(error), units)} too {kind}, known to ±{_figure(known_to, units)}."
    )
    if abs(error) <= known_to and zero.uncertainty_mm >= meter.zero_mm:
        return CheckResult(
            f"{words} That may be chance, and the {_figure(meter.zero_mm, units)} set now are "
            "just as good: shoot the three again, or check with five shots how well it repeats."
        )
    if abs(error) > _OTHER_EDGE_MM:
        words += " That much means another edge than the one held; the correction covers it."
    corrected = msgspec.structs.replace(
        meter, zero_correction_mm=-error, zero_mm=zero.uncertainty_mm
    )
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
    if found.sigma_mm == 0:
        words = "All are the same: the display's steps hide any scatter."
    else:
        words = (
            f"One standard deviation is {_figure(found.sigma_mm, units)}, "
            f"itself known to about ±{_figure(2 * found.uncertainty_mm, units)}."
        )
    return CheckResult(words, msgspec.structs.replace(meter, repeatability_mm=found.sigma_mm))


def _check_is_one_distance(readings_mm: tuple[float, ...], name: str, units: Units) -> None:
    apart = max(readings_mm, default=0.0) - min(readings_mm, default=0.0)
    if apart > _FARTHEST_APART_MM:
        far = format_length(apart, units)
        raise BadInput(f"{name} are up to {far} apart, so they are not of one distance")


def figures(meter: Meter, units: Units) -> str:
    """Return the figures that a check may change, a line each."""
    correction = format_small(meter.zero_correction_mm, units, signed=True, fine=True)
    return "\n".join(
        (
            f"Repeatability  {_figure(meter.repeatability_mm, units)}",
            f"Zero error     {_figure(meter.zero_mm, units)}",
            f"Correction    {correction}",
        )
    )


def _figure(mm: float, units: Units) -> str:
    """Say a figure of the meter, which is small."""
    return format_small(mm, units, fine=abs(mm) < 9.95)
