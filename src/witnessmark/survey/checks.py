"""Distances and rooms that cannot be, and which distance of a survey is wrong: data snooping."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import msgspec

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import Adjustment, suspect_rows
from witnessmark.lengths import Units, format_off
from witnessmark.locate.causes import matching_slip, reading_slips
from witnessmark.model import Corner, Flush, Measure, Meter, Room, Shortest, Straight
from witnessmark.model.limits import DISTANCE
from witnessmark.survey.names import SurveyNames, corners_between


def check_measures(measures: Sequence[Measure], names: SurveyNames) -> None:
    """Refuse a distance that has no sense.

    Raises:
        BadInput: naming the distance.
    """
    for measure in measures:
        if not DISTANCE.admits(measure.reading_mm):
            raise BadInput(
                f"room: {names.measure(measure)} is {measure.reading_mm:g} mm; it must lie above "
                "0, to 100 m"
            )
        if isinstance(measure, Straight) and measure.start == measure.end:
            raise BadInput(f"room: {names.measure(measure)} is none: give two marks that differ")
        if isinstance(measure, Shortest) and _is_on(measure):
            raise BadInput(
                f"room: a mark on {names.side(measure.wall)} has no distance from it; measure from "
                "a mark on another side"
            )
        if isinstance(measure, Flush):
            _check_flush(measure, names)


def _is_on(measure: Shortest) -> bool:
    """Return whether the mark lies on the very wall that is measured to."""
    start, wall = measure.start, measure.wall
    return wall in start.corner.walls and (start.at_mm == 0 or start.along is wall)


def _check_flush(measure: Flush, names: SurveyNames) -> None:
    for wall in (measure.back, measure.back.opposite):
        if wall in names.datum:
            raise BadInput(
                f"room: a meter can neither lie flush on {names.side(wall)} nor hit it; measure "
                "square to it with a tape"
            )


def flat_triangle(measures: Sequence[Measure], meter: Meter, names: SurveyNames) -> str | None:
    """Return a sentence on a corner-to-corner distance that is longer than two that lead around it.

    None when there is none that the meter's errors do not explain.
    """
    taken = {
        frozenset(between): measure
        for measure in measures
        if (between := corners_between(measure)) is not None
    }
    slack_mm = 4.0 * meter.shot_sigma_mm + 4.0 * meter.zero_mm
    for three in itertools.combinations(Corner, 3):
        sides = [taken.get(frozenset(pair)) for pair in itertools.combinations(three, 2)]
        known = [side for side in sides if side is not None]
        if len(known) < 3:
            continue
        *others, longest = sorted(known, key=lambda measure: measure.reading_mm)
        around = sum(measure.reading_mm for measure in others)
        slack = slack_mm + 4e-6 * meter.scale_ppm * around
        if longest.reading_mm > around + slack:
            return (
                f"{names.measure(longest)}, {names.length(longest.reading_mm)}, is longer than "
                f"{names.measure(others[0])} and {names.measure(others[1])} together, "
                f"{names.length(around)}; measure these three again"
            )
    return None


def check_marks(measures: Sequence[Measure], room: Room, names: SurveyNames) -> None:
    """Refuse a mark that lies beyond the end of its wall.

    Raises:
        BadInput: naming the distance.
    """
    for measure in measures:
        marks = [measure.start, *([measure.end] if isinstance(measure, Straight) else [])]
        for mark in marks:
            if mark.along is None:
                continue
            length = room.side_length_mm(mark.along)
            if mark.at_mm > length + 100:
                raise BadInput(
                    f"room: {names.measure(measure)} starts or ends beyond "
                    f"{names.side(mark.along)}, which is {names.length(length)} long"
                )


class MeasureCheck(msgspec.Struct, frozen=True):
    """How one distance fits the others. ``residual_mm`` is adjusted minus read."""

    measure: Measure
    words: str
    """From where to where it was taken."""
    residual_mm: float
    standardised: float
    redundancy: float
    suspect: bool
    cause: str | None
    """What probably happened, in words, for a suspect distance."""


def measure_checks(
    measures: Sequence[Measure], found: Adjustment, meter: Meter, names: SurveyNames
) -> list[MeasureCheck]:
    """Return residual, standardised residual and suspicion of each measure that was adjusted."""
    suspects = suspect_rows(found, len(measures))
    residuals, redundancies = found.residuals.tolist(), found.redundancy.tolist()
    standardised = found.standardised.tolist()
    checks = []
    for row, measure in enumerate(measures):
        residual, redundancy = residuals[row], redundancies[row]
        cause = None
        if row in suspects and len(suspects) > 1:
            cause = "it and another distance contradict each other; measure both again"
        elif row in suspects:
            cause = _cause(
                measure.reading_mm, measure.reading_mm + residual / redundancy, meter, names.units
            )
        checks.append(
            MeasureCheck(
                measure,
                names.measure(measure),
                residual,
                standardised[row],
                redundancy,
                row in suspects,
                cause,
            )
        )
    return checks


def left_out_check(
    measure: Measure, expected: float, meter: Meter, names: SurveyNames
) -> MeasureCheck:
    """Return the check of a measure that was left out: what all others make of it, mm."""
    residual = expected - measure.reading_mm
    return MeasureCheck(
        measure,
        names.measure(measure),
        residual,
        residual / meter.shot_sigma_mm,
        1.0,  # all of its error shows, because nothing was fitted to it
        suspect=True,
        cause=_cause(measure.reading_mm, expected, meter, names.units),
    )


def _cause(reading_mm: float, expected_mm: float, meter: Meter, units: Units) -> str:
    """Return the commonest mistake that turns the expected distance into this one, in words.

    The list of mistakes is common practice, no source.
    """
    near_mm = 3.0 + 3.0 * meter.shot_sigma_mm
    if words := matching_slip(reading_slips(expected_mm), reading_mm, expected_mm, near_mm):
        return words
    excess = reading_mm - expected_mm
    far = format_off(excess, units)
    if -150.0 <= excess < 0:
        return (
            f"{far} short: taken to something that sticks out from a wall (skirting "
            "board, radiator, panel), or from a mark in the wrong place"
        )
    if 0 < excess <= 150.0:
        return (
            f"{far} long: the tape sagged or went round something, or a mark was in the wrong place"
        )
    return "it fits nothing else that was measured; measure it again"
