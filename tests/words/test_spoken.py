"""What is said aloud: numbers that mean what they were, sentences that an ear can follow.

``WITNESSMARK_PAGES=write`` writes ``aloud.txt`` anew: then read it aloud.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import msgspec
import pytest
from exact_shots import AT, SETUP, finished, off, shoot, walk_round, world_of
from hypothesis import given
from hypothesis import strategies as st
from stored import check

from witnessmark.lengths import Units
from witnessmark.model import Act, Decision, Meter, Setup
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.words.next_shot import next_shot_words
from witnessmark.words.numerals import (
    angle_words,
    digit_words,
    move_words,
    number_words,
    reading_words,
)
from witnessmark.words.spoken import ChangingNumber, spoken

ALOUD = Path(__file__).parent / "aloud.txt"
PLAIN = re.compile(r"[A-Z][a-z]*([ ,-] ?[a-z]+)*\.( [A-Z][a-z]*([ ,-] ?[a-z]+)*\.)*")
"""Sentences of letters alone: no digit, sign, bracket or abbreviation that a voice would stumble
over."""

# independent of the code: each word of a number and what it is worth
_ONES = (
    "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen"
    " sixteen seventeen eighteen nineteen"
)
_TENS = "twenty thirty forty fifty sixty seventy eighty ninety"
_WORTH = {word: value for value, word in enumerate(_ONES.split(" "))} | {
    word: 10 * value for value, word in enumerate(_TENS.split(" "), start=2)
}
_PART = {"half": 2, "quarter": 4, "eighth": 8, "sixteenth": 16}
_MM = {"millimetre": 1, "inch": Fraction(254, 10), "foot": Fraction(3048, 10)}


def whole(words: list[str]) -> int:
    """What a spelled whole number is worth."""
    total = below_a_thousand = 0
    for word in words:
        if word == "hundred":
            below_a_thousand *= 100
        elif word == "thousand":
            total, below_a_thousand = 1000 * below_a_thousand, 0
        elif word != "and":
            below_a_thousand += _WORTH[word]
    return total + below_a_thousand


def worth_mm(spelled: str) -> float:
    """What a spelled length is worth: ``four feet six and three quarter inches``."""
    plain = spelled.replace("feet", "foot").replace("inches", "inch").replace("-", " ")
    words = [word.removesuffix("s") if word != "six" else word for word in plain.split()]
    total, part = Fraction(0), Fraction(0)
    number: list[str] = []
    for word in words:
        if word in _MM:
            total += (whole(number) + part) * _MM[word]
            number, part = [], Fraction(0)
        elif word in _PART:
            part = Fraction(_WORTH[number.pop()] if number else 1, _PART[word])
        elif word in ("a", "an"):
            number += [] if part else ["one"]
        elif word != "of":
            number.append(word)
    return float(total)


@pytest.mark.parametrize(
    ("number", "spelled"),
    [
        (0, "zero"),
        (13, "thirteen"),
        (40, "forty"),
        (72, "seventy-two"),
        (100, "one hundred"),
        (391, "three hundred and ninety-one"),
        (1005, "one thousand and five"),
        (12_740, "twelve thousand seven hundred and forty"),
    ],
)
def test_numbers_are_spelled_as_the_english_do(number: int, spelled: str) -> None:
    """The usual rules of spelling, from memory."""
    assert number_words(number) == spelled


@given(st.integers(0, 999_999))
def test_a_spelled_number_is_worth_what_it_was(number: int) -> None:
    assert whole(number_words(number).replace("-", " ").split()) == number
    assert [_WORTH[word] for word in digit_words(number).split()] == [*map(int, str(number))]


@pytest.mark.parametrize(
    ("mm", "metric", "imperial"),
    [
        (0.4, "half a millimetre", "zero inches"),
        (1.0, "one millimetre", "a sixteenth of an inch"),
        (1.6, "one and a half millimetres", "a sixteenth of an inch"),
        (-6.7, "seven millimetres", "a quarter of an inch"),
        (12.7, "thirteen millimetres", "half an inch"),
        (19.0, "nineteen millimetres", "three quarters of an inch"),
        (25.4, "twenty-five millimetres", "one inch"),
        (72.0, "seventy-two millimetres", "two and seven eighths inches"),
        (158.0, "one hundred and fifty-eight millimetres", "six and a quarter inches"),
        (437.0, "four hundred and thirty-seven millimetres", "seventeen inches"),
    ],
)
def test_a_move_is_rounded_to_what_hands_can_follow(mm: float, metric: str, imperial: str) -> None:
    assert move_words(mm, Units.MM) == move_words(mm, Units.TENTH_MM) == metric
    assert move_words(mm, Units.INCH_16) == move_words(mm, Units.INCH_32) == imperial


@given(st.floats(0.5, 2000.0))
def test_a_move_is_worth_what_it_was_but_for_its_rounding(mm: float) -> None:
    assert worth_mm(move_words(mm, Units.MM)) == pytest.approx(mm, abs=0.5001)
    inches = mm / 25.4
    step = 1 / 16 if inches < 1 else 1 / 8 if inches < 4 else 1 / 4 if inches < 12 else 1 / 2
    if spelled := move_words(mm, Units.INCH_16).removeprefix("zero inches"):
        assert worth_mm(spelled) == pytest.approx(mm, abs=step / 2 * 25.4001)


@given(st.floats(1.0, 20_000.0))
def test_a_reading_is_told_as_the_display_shows_it(mm: float) -> None:
    digits = reading_words(mm, Units.MM).split()
    told = int("".join(str(_WORTH[digit]) for digit in digits))
    assert told == pytest.approx(mm, abs=0.5001)
    if spelled := reading_words(mm, Units.INCH_32).removeprefix("zero inches"):
        assert worth_mm(spelled) == pytest.approx(mm, abs=25.4001 / 32)


@pytest.mark.parametrize(
    ("degrees", "spelled"),
    [
        (0.52, "half a degree"),
        (-0.4, "zero point four degrees"),
        (1.0, "one degree"),
        (3.57, "three point six degrees"),
        (12.0, "twelve degrees"),
    ],
)
def test_a_turn_is_told_to_a_tenth_of_a_degree(degrees: float, spelled: str) -> None:
    assert angle_words(degrees) == spelled


STANDING = world_of(left=off(12.0, -30.0, 1.5), right=off(-8.0, 14.0, 0.0))


def _evening(setup: Setup) -> Iterator[Round]:
    """The first walk, a question, a nudge that is watched, the other cabinet, and the end."""
    state = Round.begin(setup)
    for _ in range(4):
        yield state
        state = shoot(state, STANDING)
    yield state
    yield shoot(state, STANDING)
    yield shoot(Round.begin(setup), world_of(), [0.0, 900.0])
    held = state.feed(Decision(Act.HOLD, AT))
    yield held
    for excess in (31.0, 7.4, -1.6, 0.4):
        yield shoot(held, world_of(), [excess])
    yield walk_round(Round.begin(setup), world_of())
    yield finished(setup)
    yield finished(msgspec.structs.replace(setup, meter=Meter(0.4, 1.0, 2.5)))


def _lines(setup: Setup) -> Iterator[str]:
    for state in _evening(setup):
        yield spoken(guide(state)).words


def test_what_is_said_aloud_on_an_evening_is_the_page_that_was_read() -> None:
    in_inches = msgspec.structs.replace(SETUP, units=Units.INCH_16)
    page = [*_lines(SETUP), "", *_lines(in_inches)]
    check(ALOUD, "\n".join(page) + "\n")


def test_each_is_a_sentence_of_letters_alone() -> None:
    for units in Units:
        for line in _lines(msgspec.structs.replace(SETUP, units=units)):
            assert PLAIN.fullmatch(line), line


def test_only_a_number_on_its_way_changes() -> None:
    changing = [spoken(guide(state)).changing for state in _evening(SETUP)]
    assert [one is not None for one in changing].count(True) == 5
    first = next(one for one in changing if one is not None)
    assert isinstance(first, ChangingNumber)
    assert first.slack == SETUP.tolerance.position_mm


def test_the_next_shot_is_named_until_all_is_done() -> None:
    for state in _evening(SETUP):
        guidance = guide(state)
        shot = next_shot_words(guidance)
        assert (shot is None) == guidance.finished
        if shot is not None:
            kind = guidance.prompt.kind if guidance.held is None else guidance.held.kind
            assert shot.shot == kind.words
            told = "should read " if guidance.watch is None else "stop at "
            assert shot.should_read.startswith(told)
            assert (shot.place == "while you move") == (guidance.watch is not None)


def test_a_shot_that_is_held_is_taken_while_the_cabinet_moves() -> None:
    state = Round.begin(SETUP).feed(Decision(Act.HOLD, AT))
    shot = next_shot_words(guide(shoot(state, STANDING)))
    assert shot is not None
    assert (shot.place, shot.should_read[:8]) == ("while you move", "stop at ")


def test_the_same_shot_twice_is_told_as_once_more() -> None:
    state = shoot(Round.begin(SETUP), STANDING).feed(Decision(Act.BACK, AT))
    shot = next_shot_words(guide(state))
    assert shot is not None
    assert shot.place == "shot 1 of 4, once more"
