"""What probably happened to a reading that is wrong: common mistakes and their signatures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from witnessmark.locate.pose import predict
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

_NO_CAUSE = "it fits nothing else that was measured; repeat it"


def likely_cause(
    setup: Setup, placements: Mapping[Side, Placement], shot: Shot, expected_mm: float
) -> str:
    """Return the commonest mistake that turns the expected reading into this one, in words.

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


UNIT_SLIPS = {
    "feet mistaken for metres": 1 / 0.3048,
    "metres mistaken for feet": 0.3048,
    "decimal point one place too far right": 10.0,
    "decimal point one place too far left": 0.1,
    "metres mistaken for millimetres": 0.001,
}
"""Mistakes of a unit or a decimal point, and how many times as long each makes a reading."""


def reading_slips(expected_mm: float) -> Iterator[tuple[str, float]]:
    """Return mistakes in reading or noting a length, and what each would have given."""
    for words, times in UNIT_SLIPS.items():
        yield words, expected_mm * times
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
