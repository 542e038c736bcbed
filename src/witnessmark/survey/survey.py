"""The corners of a room from distances along its floor, by weighted least squares."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec
import numpy as np

from witnessmark.errors import BadInput, TooFewShots
from witnessmark.geometry.adjust import (
    CRITICAL_STANDARDISED_RESIDUAL,
    Adjustment,
    FloatArray,
    adjust,
    suspect_rows,
)
from witnessmark.lengths import Units
from witnessmark.model import Corner, Measure, Meter, Room, Straight, Wall
from witnessmark.model.survey import diagonal, length_at, wall_length, width_at
from witnessmark.sentences import listed
from witnessmark.survey.checks import (
    MeasureCheck,
    check_marks,
    check_measures,
    flat_triangle,
    left_out_check,
    measure_checks,
)
from witnessmark.survey.corners import COORDINATES
from witnessmark.survey.model import (
    FREE,
    MOST_STEPS,
    SurveyModel,
    plan_of,
    predict_measure,
)
from witnessmark.survey.names import SurveyNames

ENOUGH_CHECKS = 2
"""So many distances more than fix the corners: the first finds a mistake, the second helps to tell
which it is."""

_SHORTEST_MM, _LONGEST_MM = 1000.0, 50_000.0
"""What is drawn of a guess keeps between these."""


def next_check(found: SurveyedRoom, names: SurveyNames) -> Straight | None:
    """Return a distance that would check the others; None when enough do, and all agree."""
    if found.adjustment.freedom >= ENOUGH_CHECKS and not found.suspects:
        return None
    taken = {check.words for check in found.checks}
    return next(
        (one for one in _checks(found.room, names) if names.measure(one) not in taken), None
    )


def likely_room(measures: Sequence[Measure], meter: Meter, datum: tuple[Wall, ...] = ()) -> Room:
    """Return a rectangle near distances that do not fix the corners yet, or contradict."""
    _, (width, _), (_, length), _ = plan_of(SurveyModel(measures, meter).start).points
    sides = [min(max(abs(side), _SHORTEST_MM), _LONGEST_MM) for side in (width, length)]
    return Room(*Room.rectangular(*sides).corners, datum=datum)


def _checks(room: Room, names: SurveyNames) -> Iterator[Straight]:
    """Yield the distances that would check a room, the most usual first."""
    yield from (diagonal(corner, 0.0) for corner in (Corner.FRONT_LEFT, Corner.FRONT_RIGHT))
    yield from (wall_length(wall, 0.0) for wall in Wall)
    yield width_at(_half(room.length_mm, names.units), 0.0)
    yield length_at(_half(room.width_mm, names.units), 0.0)


def _half(side_mm: float, units: Units) -> float:
    """Return about half of a side, as a length that is easily marked."""
    step_mm = 100.0 if units.is_metric else 304.8
    return step_mm * round(side_mm / 2 / step_mm)


GROSS_MM = 100.0
"""Error of a distance, mm, that bends the room so much that residuals mislead."""


class TooFewDistances(TooFewShots):
    """The corners are not fixed; with the ``missing`` lengths they would be."""

    def __init__(self, missing: Sequence[Straight], names: SurveyNames) -> None:
        super().__init__(f"room: missing {listed([names.measure(one) for one in missing])}")
        self.missing = tuple(missing)


class SurveyedRoom(msgspec.Struct, frozen=True):
    """The room that fits the readings best, and what is known of it.

    ``covariance`` (8, 8) is that of x and y of the corners in the order of ``Corner``, mm^2. Those
    that the plan frame fixes have none.
    """

    room: Room
    covariance: FloatArray
    checks: tuple[MeasureCheck, ...]
    """One for each reading, in the order in which they were given."""
    adjustment: Adjustment
    """Without the reading that is wrong by far, if there is one."""
    zero_mm: float
    """The zero error of the meter that the readings themselves suggest."""

    @property
    def suspects(self) -> tuple[MeasureCheck, ...]:
        """The readings that do not fit the others."""
        return tuple(check for check in self.checks if check.suspect)


class _SurveyFit(NamedTuple):
    """The adjustment of all measures, or of all but the one at the place ``left_out``."""

    measures: tuple[Measure, ...]
    adjustment: Adjustment
    left_out: int | None = None

    @property
    def agrees(self) -> bool:
        worst = np.abs(self.adjustment.standardised).max()
        return bool(worst <= CRITICAL_STANDARDISED_RESIDUAL)

    @property
    def is_gross(self) -> bool:
        """Whether a reading is so wrong that it may not be the one that stands out."""
        found = self.adjustment
        far = np.abs(found.residuals) > GROSS_MM * found.redundancy
        beyond = np.abs(found.standardised) > CRITICAL_STANDARDISED_RESIDUAL
        return bool((far & beyond)[: len(self.measures)].any())


def survey(
    measures: Sequence[Measure],
    meter: Meter = Meter(),  # noqa: B008 - frozen
    *,
    datum: tuple[Wall, ...] = (),
    units: Units = Units.MM,
) -> SurveyedRoom:
    """Return the four corners that fit the measures best, and how well each measure fits.

    One that is wrong by more than 100 mm is left out where all the others agree without it; smaller
    mistakes are named only, because a repeat is worth more than a guess.

    Args:
        measures: distances along the floor, any number.
        meter: error model of what they were taken with.
        datum: the sides that have a line instead of a wall.
        units: those of the lengths in its sentences.

    Raises:
        TooFewDistances: naming those that are missing.
        BadInput: when a distance cannot be taken so, or no room has all of them.
    """
    names = SurveyNames(datum, units)
    check_measures(measures, names)
    model = SurveyModel(measures, meter)
    missing = model.missing()
    if missing:
        raise TooFewDistances(missing, names)
    fit = _best_fit(model, measures, meter, names)
    room = _room(fit, datum)
    check_marks(measures, room, names)
    return _surveyed(fit, measures, meter, room, names)


def _best_fit(
    model: SurveyModel, measures: Sequence[Measure], meter: Meter, names: SurveyNames
) -> _SurveyFit:
    """Return the fit of all measures, or of all but the one that is wrong by far."""
    complaint = flat_triangle(measures, meter, names)
    if complaint is None:
        fit = _fit(model, measures)
        if fit is not None and not fit.is_gross:
            return fit
        rows = [] if fit is None else suspect_rows(fit.adjustment, len(measures))
        doubtful = [measures[row] for row in rows] or measures
        words = listed([names.measure(measure) for measure in doubtful])
        complaint = f"no room has all of these distances, measure again {words}"
    without = list(_without_each(measures, meter))
    if len(without) == 1:
        return without[0]
    raise BadInput(f"room: {complaint}")


def _fit(model: SurveyModel, measures: Sequence[Measure]) -> _SurveyFit | None:
    """Return the adjustment of all measures; None when they contradict each other too much."""
    with contextlib.suppress(ArithmeticError):
        found = adjust(model, model.start, model.observed, model.sigma, most_steps=MOST_STEPS)
        return _SurveyFit(tuple(measures), found)
    return None


def _without_each(measures: Sequence[Measure], meter: Meter) -> Iterator[_SurveyFit]:
    """Yield the fits without one measure in which all the others agree."""
    for place in range(len(measures)):
        others = [*measures[:place], *measures[place + 1 :]]
        model = SurveyModel(others, meter)
        if not model.missing():
            fit = _fit(model, others)
            if fit is not None and fit.agrees:
                yield fit._replace(left_out=place)


def _room(fit: _SurveyFit, datum: tuple[Wall, ...]) -> Room:
    front_left, front_right, back_right, back_left = plan_of(fit.adjustment.estimate).points
    try:
        return Room(front_left, front_right, back_right, back_left, datum=datum)
    except BadInput:
        raise BadInput(
            "room: these distances close to no room in which every corner bends inward and every "
            "side is at least 0.5 m long; check which corner each was taken from"
        ) from None


def _surveyed(
    fit: _SurveyFit, measures: Sequence[Measure], meter: Meter, room: Room, names: SurveyNames
) -> SurveyedRoom:
    found, corners = fit.adjustment, len(FREE)
    covariance = np.zeros((COORDINATES, COORDINATES))
    covariance[np.ix_(FREE, FREE)] = found.covariance[:corners, :corners]
    zero_mm = float(found.estimate[corners]) if meter.zero_mm > 0 else 0.0
    checks = measure_checks(fit.measures, found, meter, names)
    if fit.left_out is not None:
        wrong = measures[fit.left_out]
        expected = predict_measure(room, wrong) + zero_mm
        checks.insert(fit.left_out, left_out_check(wrong, expected, meter, names))
    return SurveyedRoom(room, covariance, tuple(checks), found, zero_mm)
