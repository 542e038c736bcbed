"""How a survey stands with the distances so far, and which to take next."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from witnessmark.errors import BadInput
from witnessmark.model import Measure, Meter, Room, Straight
from witnessmark.sentences import refusal
from witnessmark.survey.checks import MeasureCheck
from witnessmark.survey.names import SurveyNames
from witnessmark.survey.survey import SurveyedRoom, TooFewDistances, likely_room, next_check, survey


class Asked(NamedTuple):
    """The distance to take now; ``again`` is its place in the list if it was taken before."""

    measure: Measure | None = None
    again: int | None = None


class Course(NamedTuple):
    """How a survey stands: its corners found, or the lengths that are missing, or what is wrong."""

    measures: tuple[Measure, ...]
    found: SurveyedRoom | None = None
    missing: tuple[Straight, ...] = ()
    problem: str = ""

    @property
    def checks(self) -> tuple[MeasureCheck | None, ...]:
        """How each distance fits the others, as far as that is known."""
        return self.found.checks if self.found else (None,) * len(self.measures)

    @property
    def is_wrong(self) -> bool:
        """A distance or a corner has to be put right first."""
        return bool(self.problem) or (self.found is not None and bool(self.found.suspects))

    def room(self, meter: Meter, names: SurveyNames) -> Room:
        """Return the room that was found, or a guess."""
        return self.found.room if self.found else likely_room(self.measures, meter, names.datum)


def worked_out(measures: Sequence[Measure], meter: Meter, names: SurveyNames) -> Course:
    """Work out how a survey of these distances stands."""
    taken = tuple(measures)
    try:
        return Course(taken, survey(taken, meter, datum=names.datum, units=names.units))
    except TooFewDistances as error:
        return Course(taken, missing=error.missing)
    except BadInput as error:
        return Course(taken, problem=refusal(error))


def asked_next(course: Course, names: SurveyNames, retaken: Sequence[Measure] = ()) -> Asked:
    """Return the distance that is worth most now; none when the survey is good as it is.

    Several distances that contradict each other are asked for once more one after another;
    ``retaken`` are those of them that were.
    """
    if course.missing:
        return Asked(course.missing[0])
    if course.found is None:
        return Asked()
    suspects = [
        Asked(check.measure, place)
        for place, check in enumerate(course.checks)
        if check is not None and check.suspect and check.measure not in retaken
    ]
    if len(suspects) != 1 and (check := next_check(course.found, names)):
        return Asked(check)
    return suspects[0] if suspects else Asked()
