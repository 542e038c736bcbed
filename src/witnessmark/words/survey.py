"""A survey of the room in words: what to measure now and how, how it stands, what it found."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from witnessmark.model import Edge, FloorMark, Flush, Measure, Shortest, Straight, Wall
from witnessmark.sentences import listed
from witnessmark.survey.course import Asked, Course
from witnessmark.survey.names import SurveyNames
from witnessmark.survey.squareness import MirrorGap
from witnessmark.survey.survey import SurveyedRoom
from witnessmark.words.holding import edge_words
from witnessmark.words.rooms import square_sentences

HOW_TO_SURVEY: Final = (
    "Measure level, a hand's width above the skirting board, from bare wall to bare wall; from "
    "a mark, plumb above it. Hold a board upright in the far corner for the beam to hit. A tape "
    "works too; lay it where nobody trips."
)


def ask_words(course: Course, asked: Asked, names: SurveyNames) -> str:
    """Say which distance to take now."""
    if asked.measure is not None:
        start = "Next" if asked.again is None else f"Again, for number {asked.again + 1}"
        return f"{start}: {names.measure(asked.measure)}"
    if course.problem:
        return "In the list, point at the distance to measure again and press Enter."
    return "These distances are enough. To add one, choose it below."


def how_words(measure: Measure, edge: Edge, names: SurveyNames) -> str:
    """Say how to take a distance, as an instruction."""
    held = f"Hold {edge_words(edge)}"
    start = names.mark(measure.start)
    match measure:
        case Straight(start=FloorMark(along=Wall() as one), end=FloorMark(along=Wall() as other)):
            here, there = names.length(measure.start.at_mm), names.length(measure.end.at_mm)
            marks = f"Mark {here} along {names.side(one)} and {there} along {names.side(other)}"
            return f"{marks}. {held}, or the tape, at one mark; go straight to the other."
        case Straight(end=end):
            return f"{held}, or the tape, at {start}; go straight to {names.mark(end)}."
        case Shortest(wall=wall):
            sweep = f"sweep to and fro over {names.side(wall)} and take the shortest"
            return f"{held}, or the tape, at {start}; {sweep}."
        case Flush(back=back):
            at = f"{names.length(measure.start.at_mm)} from the {measure.start.corner} corner"
            lies = "even with" if edge in (Edge.FRONT, Edge.THREAD) else "flush on"
            across = f"shoot square across to {names.side(back.opposite)}"
            return f"{held} {lies} {names.side(back)}, {at}; {across}."


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


def corner_words(found: SurveyedRoom, gap: MirrorGap | None, names: SurveyNames) -> Iterator[str]:
    """Say how far the corners are out of square, and first whether it matters for the pair."""
    sentences = list(square_sentences(found.room, gap, names, found.covariance))
    if gap is not None:
        yield sentences.pop()
    yield from sentences
    if gap is None:
        yield "Choose the layout to see here whether that matters for the pair."
