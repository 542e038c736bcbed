"""The next shot is always told: in large characters, in sentences that are not cut, by number."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import msgspec
import pytest
from exact_shots import (
    LEFT,
    SETUP,
    do,
    finished,
    off,
    reading,
    shoot,
    walk_round,
    with_targets,
    world_of,
)

from witnessmark.app.status import fitting
from witnessmark.drawing.bigfont import glyphs
from witnessmark.lengths import Units
from witnessmark.meters.port import LinkState
from witnessmark.model import Act, Cabinet, Held, Meter, Pair, Setup, Side
from witnessmark.placing.guidance import Guidance, Task, guide
from witnessmark.placing.round import Round
from witnessmark.words.live import say

WORLD = world_of()
SETUPS = {
    "metric": SETUP,
    "inches": msgspec.structs.replace(SETUP, units=Units.INCH_16),
    "by the wall": msgspec.structs.replace(SETUP, held=Held.WALL),
    "coarse": msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.5)),
    "no targets": with_targets(None, None),
    "straightedge": msgspec.structs.replace(
        SETUP, cabinets=Pair(*[Cabinet(268.0, 405.0, 930.0, straightedge_mm=900.0)] * 2)
    ),
}


def _evening(setup: Setup) -> Iterator[Round]:
    """States of a round: walks, nudges, holds, sweeps, questions, a shot twice, the end."""
    standing = world_of(setup, off(12.0, -30.0, 1.5), off(-8.0, 14.0, 0.0))
    state = Round.begin(setup)
    for _ in range(4):
        yield state
        yield do(state, Act.HOLD)
        yield shoot(do(state, Act.HOLD), standing)
        yield shoot(state, standing, [900.0])
        state = shoot(state, standing)
        yield do(state, Act.BACK)
    yield state
    yield shoot(state, standing)
    yield do(state, Act.OTHER)
    yield walk_round(Round.begin(setup), world_of(setup))
    yield finished(setup)
    yield do(finished(setup), Act.HOLD)


@cache
def guidances(name: str) -> tuple[Guidance, ...]:
    return tuple(guide(state) for state in _evening(SETUPS[name]))


def every_text(now: Guidance, missing: LinkState | None) -> tuple[str, ...]:
    said = say(now, missing)
    return said.headline.words, said.next_shot, said.caution, *said.details


@pytest.mark.parametrize("name", SETUPS)
def test_every_screen_names_the_cabinet_the_corner_the_wall_and_what_it_should_read(
    name: str,
) -> None:
    for now in guidances(name):
        said, kind = say(now), now.held.kind if now.held else now.prompt.kind
        told = " ".join((said.headline.words, said.next_shot, *said.details[:1])).lower()
        assert f"{kind.cabinet} " in told
        assert kind.point in told
        assert f"{kind.to} wall" in told
        if now.prompt.on_target_mm is not None:
            assert any(words in told for words in ("should read", "expected", "stop at"))


@pytest.mark.parametrize("name", SETUPS)
def test_the_corner_is_in_the_large_characters_unless_a_number_counts_down(name: str) -> None:
    for now in guidances(name):
        headline = say(now).headline
        large = f"{headline.figure} {headline.below}"
        assert set(large) <= {*glyphs(), " "}
        if now.task in (Task.NUDGE, Task.ANSWER, Task.SHOOT):
            assert now.prompt.kind.point.replace("-", " ").upper() in large
        if now.hold and now.task is not Task.ANSWER:
            assert "HOLDING" in large


@pytest.mark.parametrize("missing", [None, LinkState.LOST, LinkState.CLOSED])
@pytest.mark.parametrize("name", SETUPS)
def test_no_sentence_is_cut(name: str, missing: LinkState | None) -> None:
    for now in guidances(name):
        for columns, rows in ((80, 5), (80, 2), (79, 1), (140, 9)):
            texts = every_text(now, missing)
            lines = fitting(texts, columns, rows)
            assert len(lines) <= rows
            assert all(len(line) <= columns for line in lines)
            told = " ".join(lines)
            whole = [" ".join(texts[:count]).split() for count in range(len(texts) + 1)]
            assert told.split() in whole
        headline = fitting(every_text(now, missing)[:2], 80, 4)
        assert " ".join(headline).split() == " ".join(every_text(now, missing)[:2]).split()


def test_sentences_stand_apart_where_there_is_room() -> None:
    assert fitting(["One.", "Two."], 80, 2) == ["One.", "Two."]
    assert fitting(["One.", "Two."], 80, 1) == ["One. Two."]
    assert fitting(["One.", "Two."], 6, 1) == ["One."]
    assert fitting([], 80, 3) == []


def test_each_shot_of_a_walk_has_its_number() -> None:
    state = Round.begin(SETUP)
    for number in range(1, 5):
        assert f"shot {number} of 4:" in say(guide(state)).headline.words
        state = shoot(state, world_of(left=off(40.0)))


def test_the_same_shot_twice_is_told_as_once_more_large_and_small() -> None:
    state = do(shoot(Round.begin(SETUP), WORLD), Act.BACK)
    headline = say(guide(state)).headline
    assert headline.below == "ONCE MORE"
    assert "shot 1 of 4 once more: front-outer" in headline.words


def test_a_second_walk_is_once_more() -> None:
    scattering = msgspec.structs.replace(SETUP, meter=Meter(1.6, 0.1, 0.0))
    state = walk_round(Round.begin(scattering), world_of(scattering, off(0.5)))
    assert state.work.walks == 1
    assert "shot 1 of 4 once more: " in say(guide(state)).headline.words


def test_a_cabinet_that_is_in_is_announced_until_the_other_is_read() -> None:
    state = walk_round(Round.begin(SETUP), WORLD)
    said = say(guide(state))
    assert (said.headline.figure, said.headline.below) == ("LEFT IN", "R REAR INNER ↑")
    assert said.headline.words == "Left cabinet: in, within the tolerance."
    assert said.next_shot.startswith("Next: right cabinet, shot 1 of 4: rear-inner to front wall")
    assert say(guide(shoot(state, WORLD))).headline.figure == "R REAR OUTER ↑"
    assert say(guide(do(state, Act.HOLD))).headline.figure == "R REAR INNER ↑"
    assert say(guide(do(state, Act.OTHER))).headline.figure.startswith("L ")


@pytest.mark.parametrize(
    ("name", "figure"), [("coarse", "LEFT UNSURE"), ("no targets", "LEFT DONE")]
)
def test_a_cabinet_is_not_called_in_when_it_is_not(name: str, figure: str) -> None:
    state = walk_round(Round.begin(SETUPS[name]), world_of(SETUPS[name]))
    assert say(guide(state)).headline.figure == figure


def test_a_cabinet_that_was_left_for_the_other_is_announced_too() -> None:
    state = do(Round.begin(SETUP), Act.OTHER)
    assert say(guide(walk_round(state, WORLD))).headline.figure == "RIGHT IN"


def test_without_a_meter_that_is_told_with_what_to_do_and_the_next_shot_stays() -> None:
    now = guide(walk_round(Round.begin(SETUP), world_of(left=off(40.0))))
    lost, closed = say(now, LinkState.LOST), say(now, LinkState.CLOSED)
    assert lost.headline.figure == closed.headline.figure == "NO METER"
    assert lost.headline.below == "L REAR OUTER ←"
    assert lost.next_shot == "Next: left rear-outer to left wall (should read 1240 mm)."
    assert lost.details[0].startswith("Switch the meter on")
    assert closed.details[0].startswith("Press m to choose a meter")
    assert not lost.caution


def test_a_hold_is_told_while_it_lasts() -> None:
    state = do(Round.begin(SETUP), Act.HOLD)
    said = say(guide(state))
    assert (said.headline.figure, said.headline.below) == ("L FRONT OUTER ←", "HOLDING")
    assert said.details[0].startswith("This shot is held:")
    counting = say(guide(shoot(state, world_of(left=off(15.0)))))
    assert counting.headline.below == "HOLDING"
    questioned = say(guide(state.feed(reading(9000.0))))
    assert questioned.details[0].startswith("This shot is held:")
    assert say(guide(do(state, Act.HOLD))).headline.below == "ON OUTER SIDE"


@pytest.mark.parametrize("side", Side)
def test_the_shot_that_is_watched_is_the_one_drawn(side: Side) -> None:
    from witnessmark.drawing.shot import asked_picture, asked_shot  # noqa: PLC0415

    begun = Round.begin(SETUP)
    state = begun if side is LEFT else do(begun, Act.OTHER)
    world = WORLD.moved(side, off(12.0, -30.0, 1.5))
    now = guide(shoot(walk_round(state, world), world))
    assert now.held is not None
    assert asked_shot(now) == now.held.kind
    picture = asked_picture(now)
    assert picture is not None
    assert any(label.text == now.held.kind.point for label in picture[0].labels)
    assert asked_picture(guide(finished())) is None
