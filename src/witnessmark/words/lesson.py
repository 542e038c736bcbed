"""What the learn screen says: what was shown, what comes next, what was learnt, what is offered."""

from __future__ import annotations

import enum
from typing import Final, NamedTuple

from witnessmark.lengths import Units, format_length
from witnessmark.meters.learning.samples import Sample
from witnessmark.meters.learning.verdict import OneMore, Refused
from witnessmark.meters.lesson import WHY_FAIL, Lesson
from witnessmark.meters.profile_words import in_words
from witnessmark.sentences import sentence

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
    ear: ListeningState = ListeningState.CONNECTING
    awaited_mm: float | None = None
    awaits_failure: bool = False
    may_fail: bool = True
    is_asked: bool = False

    @property
    def hears(self) -> bool:
        """Whether shots can be taken."""
        return self.ear in {ListeningState.READY, ListeningState.WHEN_TOLD}

    @property
    def has_button(self) -> bool:
        """Whether the meter's button says when it measures, not the person at the keys."""
        return not self.is_asked and self.ear is not ListeningState.WHEN_TOLD

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


def next_words(scene: LessonState, units: Units) -> str:
    """Return the one thing to do now."""
    if scene.awaits_failure:
        do = f"Now {_FAILING}, and press its button." if scene.has_button else _KEEP_FAILING
        return f"{do} Press Ctrl+N to go on without."
    if scene.awaited_mm is not None:
        do = "press the meter's button" if scene.has_button else "keep the meter there"
        return f"Now measure {format_length(scene.awaited_mm, units)}: {do}."
    if scene.ear is ListeningState.CONNECTING:
        return "Connecting to the meter ..."
    if scene.ear is ListeningState.CUT_OFF and scene.lesson.profile is None:
        return "Press Ctrl+Y to connect again and start over."
    return _verdict_words(scene.lesson)


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


def entry_hint(scene: LessonState) -> str:
    """Return how a known distance is shown."""
    if scene.is_asked:
        return "Hold the meter there and press Enter: that asks it to measure."
    if scene.has_button:
        return "Press Enter, then the meter's button."
    return "Hold the meter there, then press Enter."


def offer_words(scene: LessonState) -> str:
    """Return why and how to show a shot that fails; nothing where that is not the time."""
    if not scene.takes_failure or scene.awaits:
        return ""
    how = "Ctrl+N" if scene.has_button else f"{_FAILING}, then Ctrl+N"
    return f"Better still, show one failed shot: {how}. {sentence(WHY_FAIL)}"


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
