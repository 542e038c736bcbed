"""What the learn screen says: what was shown, what comes next, what was learnt."""

from __future__ import annotations

import enum
from typing import Final

from witnessmark.lengths import Units, format_length
from witnessmark.meters.learning import OneMore, Refused
from witnessmark.meters.lesson import Lesson
from witnessmark.meters.profile_words import in_words

_NUMBERS: Final = ("first", "second", "third", "next")


class Ear(enum.Enum):
    """How things stand with the meter that is listened to."""

    CONNECTING = enum.auto()
    READY = enum.auto()
    WHEN_TOLD = enum.auto()
    """It sends all the time, so that the person has to say when to listen."""
    CUT_OFF = enum.auto()


def asks_for_distance(lesson: Lesson, ear: Ear, awaited_mm: float | None) -> bool:
    """Whether the person is to say which distance they are going to measure."""
    wants_more = lesson.learnt is None or isinstance(lesson.learnt, OneMore)
    return wants_more and ear in (Ear.READY, Ear.WHEN_TOLD) and awaited_mm is None


def next_words(lesson: Lesson, ear: Ear, awaited_mm: float | None, units: Units) -> str:
    """The one thing to do now."""
    if awaited_mm is not None:
        do = "keep the meter there" if ear is Ear.WHEN_TOLD else "press the meter's button"
        return f"Now measure {format_length(awaited_mm, units)}: {do}."
    if ear is Ear.CONNECTING:
        return "Connecting to the meter ..."
    if ear is Ear.CUT_OFF and lesson.profile is None:
        return "Ctrl+R connects again and begins afresh."
    return _verdict_words(lesson)


def _verdict_words(lesson: Lesson) -> str:
    match lesson.learnt:
        case None:
            which = _NUMBERS[min(len(lesson.samples), len(_NUMBERS) - 1)]
            return f"Type the {which} distance that you know."
        case Refused(why):
            return f"Not learnt: {why}. Ctrl+R begins afresh."
        case OneMore(why, _, otherwise):
            end = " Or keep it as it is: Ctrl+N." if otherwise else ""
            return f"{why[:1].upper()}{why[1:]}.{end}"
    return "It is learnt. Ctrl+N keeps it and reads the meter by it."


def shown_words(lesson: Lesson, added_mm: float, units: Units) -> str:
    """The distances that were shown, a line each.

    ``added_mm`` is what is added to the meter's readings, so that they are the known distances.
    """
    return "\n".join(
        f"{number}  {format_length(sample.known_mm + added_mm, units)}  "
        f"{sum(len(frame.data) for frame in sample.frames)} bytes"
        for number, sample in enumerate(lesson.samples, start=1)
    )


def learnt_words(lesson: Lesson) -> str:
    """The decoding, a line for each thing to say of it; nothing while there is none."""
    learnt = lesson.profile
    words = [*in_words(learnt.profile), *learnt.notes] if learnt else []
    return "\n".join(f"· {one}" for one in words)
