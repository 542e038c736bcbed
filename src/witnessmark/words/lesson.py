"""Sentences of a lesson: what the meter showed, what comes next, what was learnt."""

from __future__ import annotations

import enum
from collections.abc import Iterable
from typing import Final, NamedTuple

from witnessmark.lengths import Units, format_length
from witnessmark.meters.learning.samples import LEAST_STEP_MM, Sample
from witnessmark.meters.learning.verdict import OneMore, Refused
from witnessmark.meters.lesson import WHY_FAIL, Lesson
from witnessmark.meters.profile_words import in_words
from witnessmark.sentences import sentence

HOW_TO_KNOW: Final = (
    "Measure with a tape from a bare wall to a mark on the floor, 1 to 2 m away: that is the "
    "first known distance. Make a second mark at least half a metre farther away: its distance "
    "to the wall is the next. Hold {edge} on the mark, and fire square to the wall."
)
HOW_TO_KNOW_IN_SHORT: Final = """\
Known distances: measure with a tape from a wall to a mark on the floor, then make a second mark a
known step further away. Hold the edge from which the meter measures on the mark, square to the
wall."""
"""On the command line, before the first shot."""
SENDS_ALL_THE_TIME: Final = (
    "This meter sends all the time: hold it at the distance while you press Enter."
)
TYPE_DISTANCE_FIRST: Final = "That shot is not used: first type its distance."
FAILURE_KNOWN: Final = "A shot that fails like that is never read as a distance."
FAILS_SILENTLY: Final = (
    "It sends nothing when it fails, so a failed shot cannot be read as a distance."
)
LEAFLET_MAY_SAY: Final = (
    "Three things that the meter's leaflet may say; press Enter where you do not know."
)
LIMITS_ASKED: Final = {
    "shortest_mm": "the shortest distance that it measures, such as 0.05m:",
    "longest_mm": "the longest distance that it measures, such as 40m:",
    "fault_values_mm": "what it shows when it cannot measure, such as 0 or 99.999m:",
}
"""Question for each field of a meter's limits."""
_NUMBERS: Final = ("first", "second", "third", "next")
_FAILING: Final = "cover the meter's window or aim far away"
_KEEP_FAILING: Final = "Keep it covered, or aimed far away."


class ListeningState(enum.Enum):
    """How things stand with the meter that is listened to."""

    CONNECTING = enum.auto()
    READY = enum.auto()
    WHEN_TOLD = enum.auto()
    """It sends all the time, so that the person has to say when to listen."""
    CUT_OFF = enum.auto()


class LessonState(NamedTuple):
    """The state of a lesson: what was shown, and what is awaited.

    ``awaited_mm`` is the known distance at which a shot is awaited; ``awaits_failure`` says that
    one is awaited that fails, ``may_fail`` that one may still be shown. ``is_asked`` says that the
    meter measures when it is asked, not by its button.
    """

    lesson: Lesson = Lesson()
    listening: ListeningState = ListeningState.CONNECTING
    awaited_mm: float | None = None
    awaits_failure: bool = False
    may_fail: bool = True
    is_asked: bool = False

    @property
    def hears(self) -> bool:
        """Whether shots can be taken."""
        return self.listening in {ListeningState.READY, ListeningState.WHEN_TOLD}

    @property
    def has_button(self) -> bool:
        """Whether the meter's button says when it measures, not the person at the keys."""
        return not self.is_asked and self.listening is not ListeningState.WHEN_TOLD

    @property
    def awaits(self) -> bool:
        """Whether a shot is awaited."""
        return self.awaits_failure or self.awaited_mm is not None

    @property
    def asks_for_distance(self) -> bool:
        """Whether the person is to say which distance they are going to measure."""
        learnt = self.lesson.learnt
        wants_more = learnt is None or isinstance(learnt, OneMore)
        return wants_more and self.hears and not self.awaits

    @property
    def takes_failure(self) -> bool:
        """Whether a shot that fails can be shown now: what it looks like can be judged."""
        return self.lesson.profile is not None and self.hears and self.may_fail


def next_words(state: LessonState, units: Units) -> str:
    """Return the one thing to do now."""
    if state.awaits_failure:
        do = f"Now {_FAILING}, and press its button." if state.has_button else _KEEP_FAILING
        return f"{do} Press Ctrl+N to go on without."
    if state.awaited_mm is not None:
        do = "press the meter's button" if state.has_button else "keep the meter there"
        return f"Now measure {format_length(state.awaited_mm, units)}: {do}."
    if state.listening is ListeningState.CONNECTING:
        return "Connecting to the meter ..."
    if state.listening is ListeningState.CUT_OFF and state.lesson.profile is None:
        return "Press Ctrl+Y to connect again and start over."
    return _verdict_words(state.lesson)


def _verdict_words(lesson: Lesson) -> str:
    match lesson.learnt:
        case None:
            which = _NUMBERS[min(len(lesson.samples), len(_NUMBERS) - 1)]
            return f"Type the {which} distance that you know."
        case Refused(why):
            return f"Not learnt: {why}. Press Ctrl+Y to start over."
        case OneMore(why, _, otherwise):
            end = " Or press Ctrl+S to save it as it is." if otherwise else ""
            return f"{sentence(why)}{end}"
    return "Learnt. Measure anything else and see what it reads; then press Ctrl+S to save."


def entry_hint(state: LessonState) -> str:
    """Return how a known distance is shown."""
    if state.is_asked:
        return "Hold the meter there and press Enter: that asks it to measure."
    if state.has_button:
        return "Press Enter, then the meter's button."
    return "Hold the meter there, then press Enter."


def offer_words(state: LessonState) -> str:
    """Return why and how to show a shot that fails; nothing where that is not the time."""
    if not state.takes_failure or state.awaits:
        return ""
    how = "Ctrl+N" if state.has_button else f"{_FAILING}, then Ctrl+N"
    return f"Better still, show one failed shot: {how}. {sentence(WHY_FAIL)}"


def too_close_words(alike_mm: float, units: Units) -> str:
    """Return that a distance is too close to one that was shown, and how far apart to go."""
    other, apart = format_length(alike_mm, units), format_length(LEAST_STEP_MM, units)
    return f"That is too close to {other}: make it {apart} different or more."


def measure_again_words(told: str, known_mm: float, units: Units) -> str:
    """Return by what the meter itself says that a shot failed, and which to take again."""
    return f"The meter says {told}: measure {format_length(known_mm, units)} again."


def further_shot_words(read_mm: Iterable[float], units: Units) -> str:
    """Return what is read of a shot whose distance nobody said."""
    read = " and ".join(format_length(mm, units) for mm in read_mm)
    return f"With what was learnt, that shot reads {read or 'no distance'}."


def shown_words(lesson: Lesson, added_mm: float, units: Units) -> str:
    """Return the distances that were shown, and the shots that failed, a line each.

    ``added_mm`` is what is added to the meter's readings, so that they are the known distances.
    """
    lines = [
        f"{number}  {format_length(sample.known_mm + added_mm, units)}  "
        f"{sum(len(frame.data) for frame in sample.frames)} bytes"
        f"{_read_words(lesson, sample, added_mm, units)}"
        for number, sample in enumerate(lesson.samples, start=1)
    ]
    if lesson.failed:
        lines.append(f"✗  failed  {sum(len(frame.data) for frame in lesson.failed)} bytes")
    lines += [
        f"✗  failed  reads {format_length(mm, units)}" for mm in lesson.limits.fault_values_mm
    ]
    return "\n".join(lines)


def _read_words(lesson: Lesson, sample: Sample, added_mm: float, units: Units) -> str:
    """Return what the profile makes of a known distance, as soon as there is a profile."""
    if lesson.profile is None:
        return ""
    read = " and ".join(format_length(mm + added_mm, units) for mm in lesson.reads(sample.frames))
    return f", reads {read}" if read else ", reads nothing"


def known_words(lesson: Lesson, units: Units) -> list[str]:
    """Return what the profile makes of each known distance: ``1900 mm reads 1890 mm``."""
    return [
        f"{format_length(sample.known_mm, units)}"
        f"{_read_words(lesson, sample, 0.0, units).removeprefix(',')}"
        for sample in lesson.samples
    ]


_RULED_OUT: Final = (
    "Ruled out: numbers in text (with a dot, a comma, thousands, powers of ten, fractions, feet "
    "and inches, hexadecimal digits), and in bytes whole numbers, binary fractions and decimal "
    "digits at every place, in mm, cm, m, inches and feet and parts of them."
)
_NEXT: Final = (
    "Next: if the bytes are nonsense, try another speed (?baud=19200). If they never change, see "
    "whether the meter sends what it shows. Else measure the distances again from the edge that "
    "the meter measures from, with one more of them, some shorter and some longer."
)
_MOST_SHOWN: Final = 24
"""Bytes of a shot that are shown, of those that came."""


def failed_words(lesson: Lesson, units: Units) -> list[str]:
    """Return what a lesson that failed saw, what was ruled out, and what to do next."""
    lines = [
        f"{format_length(sample.known_mm, units)}: {_bytes_words(sample)}"
        for sample in lesson.samples
    ]
    return [
        "What came:",
        *(f"  {line}" for line in lines),
        _RULED_OUT,
        _NEXT,
    ]


def _bytes_words(sample: Sample) -> str:
    data = b"".join(frame.data for frame in sample.frames)
    more = " ..." if len(data) > _MOST_SHOWN else ""
    shown = data[:_MOST_SHOWN]
    text = shown.decode("ascii", errors="replace").rstrip("\r\n")
    if text and text.isprintable() and "\N{REPLACEMENT CHARACTER}" not in text:
        return f'"{text}"{more}'
    return f"{shown.hex(' ')}{more}" if data else "nothing"


def learnt_words(lesson: Lesson) -> str:
    """Return the decoding, a line for each thing to say of it; nothing while there is none."""
    if isinstance(lesson.learnt, Refused):
        return "\n".join(failed_words(lesson, Units.MM))
    learnt = lesson.profile
    words = [*in_words(learnt.profile), *learnt.notes] if learnt else []
    return "\n".join(f"· {one}" for one in words)
