"""Which distance of a survey is wrong, and what probably happened to it: data snooping."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from witnessmark.geometry.adjust import Adjustment
from witnessmark.geometry.outliers import suspect_rows
from witnessmark.locate.causes import reading_slips
from witnessmark.model import Measure, Meter
from witnessmark.survey.names import SurveyNames


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
            cause = _cause(measure.reading_mm, measure.reading_mm + residual / redundancy, meter)
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
        cause=_cause(measure.reading_mm, expected, meter),
    )


def _cause(reading_mm: float, expected_mm: float, meter: Meter) -> str:
    """The commonest mistake that turns the expected distance into this one, in words.

    The list of mistakes is common practice, no source.
    """
    near_mm = 3.0 + 3.0 * meter.shot_sigma_mm
    for words, slip_mm in reading_slips(expected_mm):
        if abs(reading_mm - slip_mm) <= near_mm * max(1.0, slip_mm / expected_mm):
            return words
    excess = reading_mm - expected_mm
    if -150.0 <= excess < 0:
        return (
            f"{-excess:.0f} mm short: taken to something that stands proud of a wall "
            "(skirting board, radiator, panel), or from a mark in the wrong place"
        )
    if 0 < excess <= 150.0:
        return (
            f"{excess:.0f} mm long: the tape sagged or went round something, or a mark was in the "
            "wrong place"
        )
    return "it fits nothing else that was measured; measure it again"
