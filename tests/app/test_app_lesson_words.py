"""What the learn screen says, by how things stand."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from witnessmark.lengths import Units
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.lesson import Lesson
from witnessmark.words.lesson import (
    LessonState,
    ListeningState,
    entry_hint,
    failed_words,
    known_words,
    learnt_words,
    next_words,
    offer_words,
    shown_words,
)

AT = datetime(2026, 5, 6, 7, 8, tzinfo=UTC)


def learnt() -> Lesson:
    lesson = Lesson()
    for metre in ("1.200", "1.905"):
        lesson = lesson.with_shot(float(metre) * 1000, [RawFrame(f"D {metre}\r\n".encode(), AT)])
    return lesson


@pytest.mark.parametrize(
    ("state", "hint", "awaiting", "failing"),
    [
        (
            LessonState(learnt(), ListeningState.READY),
            "Press Enter, then the meter's button.",
            "press the meter's button",
            "Now cover the meter's window or aim far away, and press its button.",
        ),
        (
            LessonState(learnt(), ListeningState.READY, is_asked=True),
            "Hold the meter there and press Enter: that asks it to measure.",
            "keep the meter there",
            "Keep it covered, or aimed far away.",
        ),
        (
            LessonState(learnt(), ListeningState.WHEN_TOLD),
            "Hold the meter there, then press Enter.",
            "keep the meter there",
            "Keep it covered, or aimed far away.",
        ),
    ],
)
def test_who_has_the_meter_measure_is_told_apart(
    state: LessonState, hint: str, awaiting: str, failing: str
) -> None:
    assert entry_hint(state) == hint
    awaits = state._replace(awaited_mm=1200.0)
    assert next_words(awaits, Units.TENTH_MM) == f"Now measure 1200.0 mm: {awaiting}."
    awaits = state._replace(awaits_failure=True)
    assert next_words(awaits, Units.MM) == f"{failing} Press Ctrl+N to go on without."


@pytest.mark.parametrize(
    ("state", "is_offered"),
    [
        (LessonState(learnt(), ListeningState.READY), True),
        (LessonState(learnt(), ListeningState.CUT_OFF), False),
        (LessonState(learnt(), ListeningState.READY, may_fail=False), False),
        (LessonState(learnt(), ListeningState.READY, awaits_failure=True), False),
        (LessonState(learnt(), ListeningState.READY, awaited_mm=1200.0), False),
        (LessonState(Lesson(), ListeningState.READY), False),
    ],
)
def test_a_failed_shot_is_offered_when_it_can_be_judged(
    state: LessonState, is_offered: bool
) -> None:
    assert bool(offer_words(state)) is is_offered


def test_what_the_profile_makes_of_each_known_distance_is_shown() -> None:
    lesson = Lesson()
    for known, raw in ((1200.0, b"D 1.20\r\n"), (1905.0, b"D 1.90\r\n")):
        lesson = lesson.with_shot(known, [RawFrame(raw, AT)])
        assert ("reads" in shown_words(lesson, 0.0, Units.MM)) is (known > 1200)
    assert known_words(lesson, Units.MM) == ["1200 mm reads 1200 mm", "1905 mm reads 1900 mm"]
    assert shown_words(lesson, 0.0, Units.MM).splitlines()[1] == (
        "2  1905 mm  8 bytes, reads 1900 mm"
    )


def test_a_lesson_that_failed_shows_its_bytes_what_was_ruled_out_and_what_to_do() -> None:
    lesson = Lesson()
    for known, raw in ((1200.0, b"READY\r\n"), (1905.0, b"\xa5\x01")):
        lesson = lesson.with_shot(known, [RawFrame(raw, AT)])
    words = failed_words(lesson, Units.MM)
    assert words[:3] == ["What came:", '  1200 mm: "READY"', "  1905 mm: a5 01"]
    assert words[3].startswith("Ruled out: ")
    assert words[4].startswith("Next: ")
    assert learnt_words(lesson) == "\n".join(words)
