"""What probably went wrong: mistakes in taking a reading, and sizes that were entered wrong."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

import msgspec
import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.lengths import Units, format_length, format_off
from witnessmark.locate.observe import shot_model
from witnessmark.locate.pose import Fitting, Located, predict
from witnessmark.model import (
    BOX_POINTS,
    AimedAt,
    Cabinet,
    Held,
    Pair,
    Placement,
    Room,
    Setup,
    Shot,
    ShotKind,
    Side,
    Wall,
)

_NO_CAUSE = "it fits nothing else that was measured; repeat it"
UNIT_SLIPS = {
    "feet mistaken for metres": 1 / 0.3048,
    "metres mistaken for feet": 0.3048,
    "decimal point one place too far right": 10.0,
    "decimal point one place too far left": 0.1,
    "metres mistaken for millimetres": 0.001,
}
"""Mistakes of a unit or a decimal point, and how many times as long each makes a reading."""
_STEP_MM = 1.0
"""Change of a size, mm, for its derivative."""
_MOST_SIZE_MM = 80.0
"""Farthest that a cabinet's width or depth is entered wrong by; common practice, no source."""
_MOST_SKEW = 0.03
"""Farthest that a room which is taken for square is out of square, as part of its length."""


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
    slips = _slips(setup, placements, shot.kind, expected_mm)
    if words := matching_slip(slips, shot.reading_mm, expected_mm, near_mm):
        return words
    excess = shot.reading_mm - expected_mm
    far = format_off(excess, setup.units)
    if -60.0 <= excess < 0:
        return (
            f"{far} short: something sticks out from the wall there (skirting board, "
            "radiator, panel)"
        )
    # a beam 6 degrees off square reads 0.55 % long
    if 0 < excess <= 0.0055 * expected_mm:
        return f"{far} long: the beam was not square to the wall; sweep for the shortest"
    if 0 < abs(excess) <= 250.0:
        word = "long" if excess > 0 else "short"
        return f"{far} {word}: measured from the wrong edge of the meter or cabinet"
    return _NO_CAUSE


def _slips(
    setup: Setup, placements: Mapping[Side, Placement], kind: ShotKind, expected_mm: float
) -> Iterator[tuple[str, float]]:
    """Mistakes with an exact signature: words, and the reading that each would have given."""
    yield from reading_slips(expected_mm)
    if kind.held.is_to_wall:
        yield from _other_shots(setup, placements, kind)


def matching_slip(
    slips: Iterable[tuple[str, float]], reading_mm: float, expected_mm: float, near_mm: float
) -> str | None:
    """Return the first slip that gives this reading to ``near_mm``, in words; None for none."""
    for words, slip_mm in slips:
        # a slip that makes the reading ten times as long does so with what is uncertain in it
        if abs(reading_mm - slip_mm) <= near_mm * max(1.0, slip_mm / expected_mm):
            return words
    return None


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
    """Yield the same shot taken from another point or to another wall."""
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


class SizeError(NamedTuple):
    """A size, and what an error of 1 mm in it does to each reading."""

    name: str
    column: FloatArray
    """(m,) mm per mm; 0 for the priors."""
    most_mm: float
    error_mm: float = 0.0
    """What would have to be added to the size as it was entered."""

    def words(self, units: Units) -> str:
        """Return what is probably wrong, in words."""
        return (
            f"{self.name} does not fit: {format_length(self.error_mm, units, signed=True)} would; "
            "measure it again"
        )


def size_errors(fitting: Fitting, located: Located) -> Iterator[SizeError]:
    """Yield every size that the readings depend on, about the poses that were located."""
    setup = fitting.setup
    before = _predicted(fitting, setup, located)
    for name, changed, most_mm in _changed(setup):
        column = (_predicted(fitting, changed, located) - before) / _STEP_MM
        if np.abs(column).max() > 1e-6:
            yield SizeError(name, column, most_mm)


def _predicted(fitting: Fitting, setup: Setup, located: Located) -> FloatArray:
    model = shot_model(setup, tuple(shot.kind for shot in fitting.shots))
    predicted, _ = model(located.adjustment.estimate[: model.unknowns])
    return predicted


def _changed(setup: Setup) -> Iterator[tuple[str, Setup, float]]:
    for field, name in (("width_mm", "width"), ("depth_mm", "depth")):
        both = Pair(*(_larger(setup, side, field) for side in Side))
        for side in Side:
            cabinets = setup.cabinets.replacing(side, both[side])
            changed = msgspec.structs.replace(setup, cabinets=cabinets)
            yield f"the {side} cabinet's {name}", changed, _MOST_SIZE_MM
        if setup.cabinets.left == setup.cabinets.right:
            changed = msgspec.structs.replace(setup, cabinets=both)
            yield f"the cabinets' {name}", changed, _MOST_SIZE_MM
    room = setup.room
    if room == msgspec.structs.replace(
        Room.rectangular(room.width_mm, room.length_mm, room.height_mm),
        datum=room.datum,
        offsets=room.offsets,
        keep_clear=room.keep_clear,
    ):
        most_mm = _MOST_SKEW * room.length_mm
        for corner, wall in (("back_left", "left"), ("back_right", "right")):
            x, y = getattr(room, corner)
            skewed = msgspec.structs.replace(room, **{corner: (x + _STEP_MM, y)})
            name = f"the {wall} wall, taken as square to the front wall,"
            yield name, msgspec.structs.replace(setup, room=skewed), most_mm


def _larger(setup: Setup, side: Side, field: str) -> Cabinet:
    cabinet = setup.cabinets[side]
    return msgspec.structs.replace(cabinet, **{field: getattr(cabinet, field) + _STEP_MM})
