"""The shots that the round takes of a cabinet: the usual walk, or more where those are needed."""

from __future__ import annotations

import msgspec
import pytest
from exact_shots import LEFT, SETUP, do, finished, off, shoot, with_targets, world_of

from witnessmark.model import Act, Cabinet, Held, Meter, OneCabinet, Pair, Setup, Side, TouchPoint
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.placing.shot_list import route, usual_shots
from witnessmark.sentences import sentence
from witnessmark.words.live import say

SCATTERING: Setup = msgspec.structs.replace(SETUP, meter=Meter(1.0, 0.1, 0.0))
OUT_OF_REACH: Setup = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.5))


@pytest.mark.parametrize("side", Side)
def test_the_usual_walk_is_kept_where_it_is_enough(side: Side) -> None:
    given = route(OneCabinet(SETUP, side))
    assert given.shots == usual_shots(OneCabinet(SETUP, side))
    assert given.remark is None
    assert route(OneCabinet(with_targets(None, None), side)).shots == usual_shots(
        OneCabinet(SETUP, side)
    )


@pytest.mark.parametrize("side", Side)
def test_more_shots_are_taken_where_more_are_needed(side: Side) -> None:
    given = route(OneCabinet(SCATTERING, side))
    assert len(given.shots) == 6
    assert given.remark is None
    assert {kind.cabinet for kind in given.shots} == {side}


def test_each_prompt_of_a_longer_walk_is_counted() -> None:
    state, told = Round.begin(SCATTERING), []
    for _ in range(6):
        prompt = guide(state).prompt
        told.append((prompt.number, prompt.count, prompt.kind))
        state = shoot(state, world_of(SCATTERING))
    assert [number for number, _, _ in told] == [1, 2, 3, 4, 5, 6]
    assert {count for _, count, _ in told} == {6}
    assert tuple(kind for _, _, kind in told) == route(OneCabinet(SCATTERING, LEFT)).shots
    assert state.works.left.stage is Stage.SETTLED
    assert state.side is Side.RIGHT


def test_a_shot_of_a_longer_walk_that_does_not_fit_is_asked_for_once_more() -> None:
    state = shoot(Round.begin(SCATTERING), world_of(SCATTERING), [0, 0, 0, 0, 0, 30.0])
    if state.question is not None:
        state = do(state, Act.KEEP)
    assert state.side is LEFT
    again = guide(state).prompt
    assert again.again
    assert len(set(state.work.todo)) == len(state.work.todo)


def test_a_shot_that_cannot_be_taken_is_not_prompted() -> None:
    """Where the rear face does not reach to, a meter flush on it cannot be held."""
    cabinet = Cabinet(268, 405, 930, points={"rear-outer": TouchPoint(-134, 300)})
    given = route(OneCabinet(msgspec.structs.replace(SETUP, cabinets=Pair(cabinet, cabinet)), LEFT))
    assert ("rear-outer", "front") not in [(kind.point, kind.to) for kind in given.shots]
    assert len(given.shots) >= 3
    assert given.remark is None


@pytest.mark.parametrize("side", Side)
def test_what_no_shots_can_reach_is_said(side: Side) -> None:
    given = route(OneCabinet(OUT_OF_REACH, side))
    assert given.shots == usual_shots(OneCabinet(OUT_OF_REACH, side))
    assert given.remark is not None
    assert "learn its zero" in given.remark


def test_what_no_shots_can_reach_is_told_at_the_beginning_and_where_it_ends_so() -> None:
    state = Round.begin(OUT_OF_REACH)
    guidance = guide(state)
    assert guidance.remark is not None
    assert say(guidance).details.count(sentence(guidance.remark)) == 1
    begun = guide(shoot(state, world_of(OUT_OF_REACH)))
    assert begun.remark == guidance.remark
    assert sentence(begun.remark) not in say(begun).details
    end = guide(finished(OUT_OF_REACH))
    assert say(end).headline.figure == "UNSURE 73 %"
    assert any("learn its zero" in words for words in say(end).details)
    assert guide(Round.begin(SETUP)).remark is None


def test_a_way_of_holding_that_fixes_nothing_is_said_and_the_usual_walk_taken() -> None:
    spots: Setup = msgspec.structs.replace(SETUP, held=Held.SPOT)
    given = route(OneCabinet(spots, LEFT))
    assert given.shots == usual_shots(OneCabinet(spots, LEFT))
    assert given.remark is not None
    assert "hold the meter on the wall" in given.remark


def test_the_route_follows_the_targets() -> None:
    """Turned so far, the rear face looks at the side wall, and the front wall is not reached."""
    turned = with_targets(msgspec.structs.replace(off(-720, 1190), toe_in_deg=40.0), None)
    given = route(OneCabinet(turned, LEFT))
    assert given.remark is not None
    assert "setback" in given.remark
