"""Which shot is wrong, and what probably happened to it.

Data snooping (Baarda 1968): the shot with the largest standardised residual is suspect when that
passes the critical value. Where shots only check one another, they are suspect together.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from statistics import NormalDist

import msgspec
import numpy as np

from witnessmark.geometry.adjust import CRITICAL_STANDARDISED_RESIDUAL, Adjustment
from witnessmark.geometry.pose import Located, predict
from witnessmark.model import (
    BOX_POINTS,
    AimedAt,
    Held,
    Placement,
    Setup,
    Shot,
    ShotKind,
    Side,
    Wall,
)

ACCUSED = 0.01
"""Share of rounds without a blunder in which a shot may be suspected all the same."""
_TIED = 0.999
"""Standardised residuals nearer to each other than this are of shots that only check each other."""
_NO_CAUSE = "it fits nothing else that was measured; repeat it"


class ShotCheck(msgspec.Struct, frozen=True):
    """How one shot fits the others. ``residual_mm`` is adjusted minus read."""

    shot: Shot
    residual_mm: float
    standardised: float
    redundancy: float
    suspect: bool
    cause: str | None
    """What probably happened, in words, for a suspect shot."""


def check_shots(setup: Setup, shots: list[Shot], located: Located) -> list[ShotCheck]:
    """Residual, standardised residual and suspicion of each shot, in the order of the shots."""
    adjustment = located.adjustment
    suspects = suspect_rows(adjustment, len(shots))
    residuals, redundancies = adjustment.residuals.tolist(), adjustment.redundancy.tolist()
    standardised = adjustment.standardised.tolist()
    checks = []
    for row, shot in enumerate(shots):
        residual, redundancy = residuals[row], redundancies[row]
        suspect = row in suspects
        cause = None
        if suspect and len(suspects) > 1:
            cause = "the suspect shots contradict one another; repeat them"
        elif suspect:
            expected = shot.reading_mm + residual / redundancy
            cause = likely_cause(setup, located.placements, shot, expected)
        checks.append(ShotCheck(shot, residual, standardised[row], redundancy, suspect, cause))
    return checks


def suspect_rows(adjustment: Adjustment, readings: int) -> list[int]:
    """Which of the first ``readings`` rows are suspect: the worst one, and those tied with it."""
    size = np.abs(adjustment.standardised)
    # the meter's zero and scale take part, so that an odd meter is not blamed on a reading
    limit = max(critical_among(readings), _TIED * float(size.max()))
    return [row for row in range(readings) if size[row] > limit]


def critical_among(readings: int) -> float:
    """The standardised residual past which the worst of so many readings is suspect.

    The 0.1 % point of Baarda (1968) for a reading; among more than ten that would accuse one in a
    hundred clean rounds and more, so then it is the point that keeps all of them together to 1 %
    (Sidak 1967, from memory).
    """
    share = 1.0 - (1.0 - ACCUSED) ** (1.0 / max(readings, 1))
    return max(CRITICAL_STANDARDISED_RESIDUAL, NormalDist().inv_cdf(1.0 - share / 2))


def likely_cause(
    setup: Setup, placements: Mapping[Side, Placement], shot: Shot, expected_mm: float
) -> str:
    """The commonest mistake that turns the expected reading into this one, in words.

    Args:
        setup: room, cabinets, seat and meter.
        placements: where the cabinets are thought to stand, to a few millimetres.
        shot: the reading in question.
        expected_mm: what it should have read, by everything but itself.

    The list of mistakes is common practice, no source.
    """
    near_mm = 3.0 + 3.0 * setup.meter.shot_sigma_mm
    if expected_mm <= near_mm:
        return _NO_CAUSE
    for words, reading_mm in _slips(setup, placements, shot.kind, expected_mm):
        # a slip that makes the reading ten times as long does so with what is uncertain in it
        if abs(shot.reading_mm - reading_mm) <= near_mm * max(1.0, reading_mm / expected_mm):
            return words
    excess = shot.reading_mm - expected_mm
    if -60.0 <= excess < 0:
        return (
            f"{-excess:.0f} mm short: something stands proud of the wall there "
            "(skirting board, radiator, panel)"
        )
    # a beam 6 degrees off square reads 0.55 % long
    if 0 < excess <= 0.0055 * expected_mm:
        return f"{excess:.0f} mm long: the beam was not square to the wall; sweep for the shortest"
    if 0 < abs(excess) <= 250.0:
        word = "long" if excess > 0 else "short"
        return f"{abs(excess):.0f} mm {word}: measured from the wrong edge of the meter or cabinet"
    return _NO_CAUSE


def _slips(
    setup: Setup, placements: Mapping[Side, Placement], kind: ShotKind, expected_mm: float
) -> Iterator[tuple[str, float]]:
    """Mistakes with an exact signature: words, and the reading that each would have given."""
    yield from reading_slips(expected_mm)
    if kind.held in (Held.WALL, Held.CABINET):
        yield from _other_shots(setup, placements, kind)


def reading_slips(expected_mm: float) -> Iterator[tuple[str, float]]:
    """Mistakes in reading or writing down a length, and what each would have given."""
    yield "feet mistaken for metres", expected_mm / 0.3048
    yield "metres mistaken for feet", expected_mm * 0.3048
    yield "decimal point one place too far right", expected_mm * 10
    yield "decimal point one place too far left", expected_mm / 10
    for reading_mm in _transposed(round(expected_mm)):
        yield "two digits changed places", reading_mm


def _transposed(reading_mm: int) -> Iterator[float]:
    digits = str(reading_mm)
    for place in range(len(digits) - 1):
        swapped = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
        # a swap of the last two of near-equal digits is within any meter's noise
        if abs(int(swapped) - reading_mm) >= 18:
            yield float(swapped)


def _other_shots(
    setup: Setup, placements: Mapping[Side, Placement], kind: ShotKind
) -> Iterator[tuple[str, float]]:
    """The same shot taken from another point or to another wall."""
    names = [*BOX_POINTS, *setup.cabinets[kind.cabinet].points]
    for name in names:
        if name != kind.point:
            other = msgspec.structs.replace(kind, point=name)
            yield f"taken from {name} instead of {kind.point}", predict(setup, placements, other)
    for wall in Wall:
        to = AimedAt(wall)
        is_met = kind.held is Held.WALL or wall not in setup.room.datum
        if to is not kind.to and is_met:
            other = msgspec.structs.replace(kind, to=to)
            yield f"taken to the {wall} wall instead", predict(setup, placements, other)
