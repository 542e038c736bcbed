"""Who pressed the keys, told by the times between them."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.session.by_keyboard import (
    FAST_S,
    FromMeter,
    FromPerson,
    Garbled,
    Keystroke,
    Keystrokes,
    Typed,
    who_typed,
)

METER_S, FINGERS_S = 0.004, 0.12


def strokes(text: str, gap_s: float, at_s: float = 100.0) -> list[Keystroke]:
    return [
        Keystroke(
            "enter" if sign == "\n" else sign, "\r" if sign == "\n" else sign, at_s + gap_s * place
        )
        for place, sign in enumerate(text)
    ]


def sorted_out(pressed: Sequence[Keystroke]) -> list[Typed]:
    """What comes of keys, with an entry that a person's digit opens and Enter closes."""
    keys, settled, typing = Keystrokes(), list[Typed](), False
    for stroke in pressed:
        for typed in keys.press(stroke, typing=typing):
            settled.append(typed)
            typing = goes_on(typed, typing=typing)
    return settled + keys.pause(typing=typing)


def goes_on(typed: Typed, *, typing: bool) -> bool:
    if not isinstance(typed, FromPerson):
        return typing
    for stroke in typed.strokes:
        typing = stroke.key != "enter" and (typing or stroke.begins_distance)
    return typing


def typed_by_person(settled: Sequence[Typed]) -> str:
    return "".join(
        stroke.key for typed in settled if isinstance(typed, FromPerson) for stroke in typed.strokes
    )


@pytest.mark.parametrize("text", ["1215", "1.215", "1.215 m", "+1.215", "Err 3", "u12", "qq"])
def test_a_fast_line_is_a_meters(text: str) -> None:
    assert sorted_out(strokes(f"{text}\n", METER_S)) == [FromMeter(text)]


@pytest.mark.parametrize("text", ["1215\n", "8' 3\n", "u", "us", "\n"])
def test_slow_keys_are_a_persons_one_by_one(text: str) -> None:
    pressed = strokes(text, FINGERS_S)
    assert sorted_out(pressed) == [FromPerson((stroke,)) for stroke in pressed]


def test_two_lines_without_a_pause_are_two() -> None:
    settled = sorted_out(strokes("1215\n1216\n", METER_S))
    assert settled == [FromMeter("1215"), FromMeter("1216")]


def test_one_slow_gap_makes_the_whole_line_a_persons() -> None:
    pressed = strokes("12", METER_S) + strokes("15\n", METER_S, 100.0 + METER_S + 0.1)
    settled = sorted_out(pressed)
    assert not any(isinstance(typed, FromMeter) for typed in settled)
    assert typed_by_person(settled) == "1215enter"


def test_a_meter_is_heard_while_an_entry_was_left_half_typed() -> None:
    pressed = strokes("12", FINGERS_S) + strokes("1.215\n", METER_S, 103.0)
    assert sorted_out(pressed)[-1] == FromMeter("1.215")


def test_fast_keys_that_begin_no_number_and_have_no_enter_command_nothing() -> None:
    assert sorted_out(strokes("us12", METER_S)) == [Garbled("us12")]
    assert sorted_out(strokes("us", METER_S) + strokes("o", 0, 101.0)) == [
        Garbled("us"),
        FromPerson((Keystroke("o", "o", 101.0),)),
    ]


def test_a_key_that_is_held_down_counts_once() -> None:
    held = strokes("u", 0) + strokes("uuuu", 0.033, 100.4)
    assert typed_by_person(sorted_out(held)) == "uu"


def test_digits_without_enter_wait_in_the_entry_for_a_person() -> None:
    assert typed_by_person(sorted_out(strokes("1215", METER_S))) == "1215"


def test_one_digit_and_enter_are_no_meters_line() -> None:
    assert isinstance(who_typed(strokes("5\n", METER_S)), FromPerson)


printable = st.characters(min_codepoint=32, max_codepoint=126)


@given(st.text(printable, min_size=2, max_size=30), st.floats(0, FAST_S * 0.99))
def test_any_fast_line_is_a_meters_and_commands_nothing(text: str, gap_s: float) -> None:
    assert who_typed(strokes(f"{text}\n", gap_s)) == FromMeter(text)


@given(
    st.lists(
        st.tuples(st.one_of(printable, st.just("\n")), st.floats(FAST_S * 1.01, 5.0)), max_size=30
    )
)
def test_fingers_are_never_taken_for_a_meter(keys: list[tuple[str, float]]) -> None:
    at_s, pressed = 10.0, []
    for sign, gap_s in keys:
        at_s += gap_s
        pressed += strokes(sign, 0, at_s)
    assert sorted_out(pressed) == [FromPerson((stroke,)) for stroke in pressed]


@given(st.lists(st.tuples(printable, st.sampled_from([METER_S, FINGERS_S, 1.5])), max_size=20))
def test_no_key_is_lost_or_doubled(keys: list[tuple[str, float]]) -> None:
    at_s, pressed = 10.0, []
    for sign, gap_s in keys:
        at_s += gap_s
        pressed += strokes(sign, 0, at_s)
    came = ""
    for typed in sorted_out(pressed):
        came += (
            typed.text
            if isinstance(typed, FromMeter | Garbled)
            else "".join(stroke.key for stroke in typed.strokes)
        )
    # but for a key that is held down, which counts once
    assert "".join(_once(came)) == "".join(_once("".join(sign for sign, _ in keys)))


def _once(text: str) -> list[str]:
    return [sign for place, sign in enumerate(text) if place == 0 or text[place - 1] != sign]
