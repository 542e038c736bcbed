"""A survey of the room: the distance that is chosen, how it stands, what to take next."""

from __future__ import annotations

import enum
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model import (
    Corner,
    Edge,
    FloorMark,
    Flush,
    Measure,
    Meter,
    Room,
    Shortest,
    Straight,
    Wall,
)
from witnessmark.model.survey import diagonal, length_at, wall_length, width_at
from witnessmark.sentences import listed, refusal
from witnessmark.session.draft import Draft
from witnessmark.survey.checks import MeasureCheck
from witnessmark.survey.names import SurveyNames, corners_between, side_measured
from witnessmark.survey.squareness import pair_gap
from witnessmark.survey.survey import SurveyedRoom, TooFewDistances, likely_room, next_check, survey
from witnessmark.words.holding import edge_words
from witnessmark.words.rooms import square_sentences


class MeasureKind(enum.StrEnum):
    """The kinds of distance that are offered."""

    SIDE = "side"
    DIAGONAL = "diagonal"
    WIDTH = "width"
    LENGTH = "length"
    SHORTEST = "shortest"
    FLUSH = "flush"

    @classmethod
    def of(cls, measure: Measure) -> MeasureKind:
        """Return the kind of a distance."""
        if isinstance(measure, Flush):
            return cls.FLUSH
        if isinstance(measure, Shortest):
            return cls.SHORTEST
        if corners_between(measure) is not None:
            return cls.SIDE if side_measured(measure) else cls.DIAGONAL
        return cls.WIDTH if measure.start.along is Wall.LEFT else cls.LENGTH


class MeasureAnswers(msgspec.Struct, frozen=True):
    """What tells a distance from others of its kind; without a kind none is chosen."""

    kind: MeasureKind | None = None
    wall: Wall = Wall.FRONT
    corner: Corner = Corner.FRONT_LEFT
    along: Wall | None = None
    at_mm: float | None = None

    @classmethod
    def of(cls, measure: Measure) -> MeasureAnswers:
        """Return the answers that make a distance."""
        start = measure.start
        wall = _wall_of(measure) or Wall.FRONT
        return cls(MeasureKind.of(measure), wall, start.corner, start.along, start.at_mm)

    @property
    def measure(self) -> Measure:
        """The distance, its reading 0.

        Raises:
            BadInput: when none is chosen, or something of it is missing.
        """
        match self.kind:
            case None:
                raise BadInput("first choose which distance it is")
            case MeasureKind.SIDE:
                return wall_length(self.wall, 0.0)
            case MeasureKind.DIAGONAL:
                return diagonal(self.corner, 0.0)
            case MeasureKind.WIDTH:
                return width_at(self._at(), 0.0)
            case MeasureKind.LENGTH:
                return length_at(self._at(), 0.0)
            case MeasureKind.SHORTEST:
                return Shortest(FloorMark(self.corner, self.along, self._at()), self.wall, 0.0)
            case MeasureKind.FLUSH:
                return Flush(FloorMark(self.corner, self.wall, self._at()), 0.0)

    def _at(self) -> float:
        if self.at_mm is None:
            raise BadInput("first enter how far it is from the corner")
        return self.at_mm


def _wall_of(measure: Measure) -> Wall | None:
    """Return the side that a distance is of, or goes to, or has the meter's back on it."""
    match measure:
        case Shortest(wall=wall):
            return wall
        case Flush():
            return measure.back
    return side_measured(measure)


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
        """Whether something has to be put right."""
        return bool(self.problem) or (self.found is not None and bool(self.found.suspects))

    def room(self, meter: Meter, told: SurveyNames) -> Room:
        """Return the room that was found, or a guess."""
        return self.found.room if self.found else likely_room(self.measures, meter, told.datum)


def worked_out(measures: Sequence[Measure], meter: Meter, told: SurveyNames) -> Course:
    """Work out how a survey of these distances stands."""
    taken = tuple(measures)
    try:
        return Course(taken, survey(taken, meter, datum=told.datum, units=told.units))
    except TooFewDistances as error:
        return Course(taken, missing=error.missing)
    except BadInput as error:
        return Course(taken, problem=refusal(error))


def asked_next(course: Course, told: SurveyNames, retaken: Sequence[Measure] = ()) -> Asked:
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
    if len(suspects) != 1 and (check := next_check(course.found, told)):
        return Asked(check)
    return suspects[0] if suspects else Asked()


def ask_words(course: Course, asked: Asked, told: SurveyNames) -> str:
    """Say which distance to take now."""
    if asked.measure is not None:
        start = "Next" if asked.again is None else f"Again, for number {asked.again + 1}"
        return f"{start}: {told.measure(asked.measure)}"
    if course.problem:
        return "In the list, point at the distance to measure again and press Enter."
    return "These distances are enough. To add one, choose it below."


def how_words(measure: Measure, edge: Edge, told: SurveyNames) -> str:
    """Say how to take a distance, as an instruction."""
    held = f"Hold {edge_words(edge)}"
    start = told.mark(measure.start)
    match measure:
        case Straight(start=FloorMark(along=Wall() as one), end=FloorMark(along=Wall() as other)):
            here, there = told.length(measure.start.at_mm), told.length(measure.end.at_mm)
            marks = f"Mark {here} along {told.side(one)} and {there} along {told.side(other)}"
            return f"{marks}. {held}, or the tape, at one mark; go straight to the other."
        case Straight(end=end):
            return f"{held}, or the tape, at {start}; go straight to {told.mark(end)}."
        case Shortest(wall=wall):
            sweep = f"sweep to and fro over {told.side(wall)} and take the shortest"
            return f"{held}, or the tape, at {start}; {sweep}."
        case Flush(back=back):
            at = f"{told.length(measure.start.at_mm)} from the {measure.start.corner} corner"
            lies = "even with" if edge in (Edge.FRONT, Edge.THREAD) else "flush on"
            across = f"shoot square across to {told.side(back.opposite)}"
            return f"{held} {lies} {told.side(back)}, {at}; {across}."


def stand_words(course: Course) -> str:
    """Say how far the survey is."""
    if course.found is not None:
        return _found_words(course.found)
    if course.problem:
        return course.problem
    if not course.measures:
        return "Five distances fix the corners; one or two more check them."
    count = len(course.missing)
    return "One more fixes the corners." if count == 1 else f"{count} more fix the corners."


def _found_words(found: SurveyedRoom) -> str:
    suspects = [str(place) for place, check in enumerate(found.checks, 1) if check.suspect]
    if len(suspects) == 1:
        return f"✗ Number {suspects[0]} does not fit the others."
    if suspects:
        return f"✗ Numbers {listed(suspects)} do not fit together."
    freedom = found.adjustment.freedom
    if freedom == 0:
        return "The corners are found, but nothing checks them yet."
    checks = "1 distance checks" if freedom == 1 else f"{freedom} distances check"
    return f"✓ The corners are found, and {checks} them. Press Ctrl+S to use them."


def corner_words(found: SurveyedRoom, draft: Draft, told: SurveyNames) -> Iterator[str]:
    """Say how far the corners are out of square, and first whether it matters for the pair."""
    setup, gap = draft.setup, None
    if setup is not None:
        gap = pair_gap(msgspec.structs.replace(setup, room=found.room), found.covariance)
    sentences = list(square_sentences(found.room, gap, told, found.covariance))
    if gap is not None:
        yield sentences.pop()
    yield from sentences
    if gap is None:
        yield "Choose the layout to see here whether that matters for the pair."


def used(found: Room, known: Room | None) -> Room:
    """Return the room of the found corners, with what is known of the room beside them.

    What stands proud of a wall goes where a line is in its place now.
    """
    if known is None:
        return found
    return msgspec.structs.replace(
        found,
        height_mm=known.height_mm,
        offsets=tuple(offset for offset in known.offsets if offset.wall not in found.datum),
        keep_clear=known.keep_clear,
    )
