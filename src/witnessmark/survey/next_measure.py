"""Which distance of a survey to take next, and what the room looks like until it is known."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.lengths import Units
from witnessmark.model import Corner, Measure, Meter, Room, Straight, Wall
from witnessmark.model.survey import diagonal, length_at, wall_length, width_at
from witnessmark.survey.model import SurveyModel, plan_of
from witnessmark.survey.names import SurveyNames
from witnessmark.survey.survey import SurveyedRoom

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
    """The most usual first."""
    yield from (diagonal(corner, 0.0) for corner in (Corner.FRONT_LEFT, Corner.FRONT_RIGHT))
    yield from (wall_length(wall, 0.0) for wall in Wall)
    yield width_at(_half(room.length_mm, names.units), 0.0)
    yield length_at(_half(room.width_mm, names.units), 0.0)


def _half(side_mm: float, units: Units) -> float:
    """About half of a side, as a length that is easily marked."""
    step_mm = 100.0 if units in (Units.MM, Units.TENTH_MM) else 304.8
    return step_mm * round(side_mm / 2 / step_mm)
