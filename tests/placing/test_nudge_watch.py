"""A meter that rests at one point while the cabinet is nudged, and one that is walked round it."""

from __future__ import annotations

import msgspec
import pytest
from effort import examples
from exact_shots import (
    LEFT,
    RIGHT,
    SETUP,
    TARGET,
    do,
    off,
    reading,
    shoot,
    taken,
    walk_round,
    world_of,
)
from hypothesis import example, given
from hypothesis import strategies as st

from witnessmark.model import Act, Meter, Placement, Setup, ShotKind, Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.words.live import say

BEGUN = Round.begin(SETUP)
START = off(60, -50, 4)
SCATTERING: Setup = msgspec.structs.replace(SETUP, meter=Meter(1.0, 0.1, 0.0))


def asked(side: Side, start: Placement, setup: Setup = SETUP) -> Round:
    """A cabinet that was measured and is to be nudged."""
    begun = Round.begin(setup)
    state = begun if side is LEFT else do(begun, Act.OTHER)
    state = walk_round(state, world_of(setup).moved(side, start))
    assert (state.side, state.work.stage) == (side, Stage.NUDGE)
    return state


def on_the_way(start: Placement, share: float) -> Placement:
    """Where a cabinet stands after so much of the nudge to its target."""
    move = TARGET.minus(start)
    return Placement(
        start.side_mm + share * move.side_mm,
        start.setback_mm + share * move.setback_mm,
        start.toe_in_deg + share * move.toe_in_deg,
    )


def read_at(state: Round, kind: ShotKind, standing: Placement) -> Round:
    """The state after a reading there, with the present cabinet standing so."""
    world = world_of(state.setup).moved(state.side, standing)
    return state.feed(reading(world.true_distance(kind)))


@pytest.mark.parametrize("side", [LEFT, RIGHT])
@pytest.mark.parametrize("start", [START, off(-60, 50, -4), off(40, 70, -1), off(-35, -20, 2)])
def test_a_cabinet_is_watched_from_one_point_until_it_stands(side: Side, start: Placement) -> None:
    state = asked(side, start)
    first, second = state.work.todo[:2]
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        state = read_at(state, first, on_the_way(start, share))
        assert state.question is None
        assert [shot.kind for shot in state.work.shots] == [first]
        assert taken(state).kind == first
        assert state.prompted == second
        assert state.work.nudges == 1
    state = read_at(state, first, TARGET)
    assert [shot.kind for shot in state.work.shots] == [first, first]
    assert not state.work.coming
    state = shoot(state, world_of(), [0.0] * 3)
    assert state.works[side].stage is Stage.SETTLED
    assert state.works[side].nudges == 1


def test_the_figure_counts_down_and_the_prompt_comes_when_two_are_alike() -> None:
    state = asked(LEFT, START)
    first, to_go = state.prompted, []
    for share in (0.0, 0.5, 0.8):
        state = read_at(state, first, on_the_way(START, share))
        figure = say(guide(state)).headline.figure
        assert figure.startswith("L ← ")
        to_go.append(float(figure.split()[2]))
        assert say(guide(state)).details[:2] == (
            "Keep shooting here while you move. Stop at 1240 mm.",
            "Or go on to front-outer to left wall.",
        )
    assert to_go == sorted(to_go, reverse=True)
    state = read_at(state, first, on_the_way(START, 1.25))
    assert say(guide(state)).headline.figure.startswith("L → ")
    for _ in range(2):
        state = read_at(state, first, TARGET)
    assert say(guide(state)).headline.figure == "L FRONT OUTER ←"


def test_a_point_that_is_where_it_should_be_prompts_the_next_at_once() -> None:
    state = asked(LEFT, START)
    state = read_at(state, state.prompted, off(1))
    assert say(guide(state)).headline.figure == "L FRONT OUTER ←"


def test_readings_that_change_after_two_alike_take_their_place() -> None:
    state = asked(LEFT, START)
    first = state.prompted
    for share in (0.3, 0.3, 0.8):
        state = read_at(state, first, on_the_way(START, share))
    assert [shot.kind for shot in state.work.shots] == [first]
    assert state.work.coming


@examples(30, 200)
@given(
    side=st.sampled_from(Side),
    start=st.builds(
        off,
        st.sampled_from([-80.0, -30.0, 20.0, 70.0]),
        st.floats(-80, 80),
        st.floats(-5, 5),
    ),
    made=st.sampled_from([0.0, 0.3, 0.6, 0.9, 1.0, 1.2]),
)
@example(side=LEFT, start=off(20, 0, 5), made=0.0)  # 2026-11-25: 46 mm off, within what was asked
@example(side=LEFT, start=off(70, -6, -4), made=0.0)  # nothing was moved before the second point
def test_who_shoots_once_and_walks_on_is_not_held_up(
    side: Side, start: Placement, made: float
) -> None:
    state = asked(side, start)
    standing = on_the_way(start, made)
    for place, kind in enumerate(state.work.todo):
        assert state.prompted == kind
        state = read_at(state, kind, standing)
        if place < 3:
            assert state.question is None
            assert len(state.work.shots) == place + 1


def test_who_goes_on_before_two_are_alike_is_not_held_up_either() -> None:
    state = asked(LEFT, START)
    order = state.work.todo
    state = read_at(state, order[0], on_the_way(START, 0.6))
    for kind in order:
        state = read_at(state, kind, off(3, -2))
    assert state.work.stage is not Stage.MEASURE
    assert len(state.work.judged) == 4


def test_two_points_that_read_alike_are_the_walk_s() -> None:
    """Without toe-in the two shots to the side wall read the same."""
    straight = msgspec.structs.replace(TARGET, toe_in_deg=0.0)
    setup = msgspec.structs.replace(
        SETUP, targets=msgspec.structs.replace(SETUP.targets, left=straight)
    )
    start = msgspec.structs.replace(straight, side_mm=straight.side_mm + 40)
    state = asked(LEFT, start, setup)
    order = state.work.todo
    for kind in order[:2]:
        state = read_at(state, kind, straight)
    assert [shot.kind for shot in state.work.shots] == list(order[:2])


def test_a_shove_that_could_be_the_next_shot_is_known_by_the_reading_after_it() -> None:
    """The nudge is so long that the first shot reads on its way what the second is to read."""
    start = off(40, -170, -0.5)
    state = asked(RIGHT, start)
    first, second = state.work.todo[:2]
    state = read_at(state, first, on_the_way(start, 0.1))
    shoved = next(
        share
        for share in (0.2, 0.3, 0.4, 0.5, 0.6)
        if taken(read_at(state, first, on_the_way(start, share))).kind == second
    )
    state = read_at(state, first, on_the_way(start, shoved))
    assert [shot.kind for shot in state.work.shots] == [first, second]
    state = read_at(state, first, TARGET)
    assert state.question is None
    assert [shot.kind for shot in state.work.shots] == [first]
    assert state.prompted == second
    state = shoot(read_at(state, first, TARGET), world_of(), [0.0] * 3)
    assert state.works.right.stage is Stage.SETTLED


def test_a_longer_walk_keeps_its_shots_when_the_first_point_is_watched() -> None:
    state = asked(LEFT, START, SCATTERING)
    order = state.work.todo
    first = order[0]
    assert order[1] == first
    for share in (0.2, 0.6, 1.0, 1.0):
        state = read_at(state, first, on_the_way(START, share))
    assert [shot.kind for shot in state.work.shots] == [first, first]
    assert state.work.todo == order[2:]


def test_a_cabinet_that_creeps_is_taken_where_it_is_at_last() -> None:
    state = asked(LEFT, START)
    first = state.prompted
    for side_mm in (8.0, 6.5, 5.0, 3.5, 2.0, 0.5):
        state = read_at(state, first, off(side_mm))
    assert len(state.work.shots) == 2
    wanted_mm = world_of().true_distance(first)
    assert all(abs(shot.reading_mm - wanted_mm) < 2.2 for shot in state.work.shots)


def test_only_after_a_nudge_was_asked() -> None:
    """At the beginning the next reading is the next shot's, however much it is like the first."""
    state = shoot(BEGUN, world_of())
    assert state.work.nudged_from is None
    state = read_at(state, BEGUN.prompted, TARGET)
    assert [shot.kind for shot in state.work.shots] == list(BEGUN.work.todo[:2])


def test_skipping_on_ends_the_countdown() -> None:
    state = asked(LEFT, START)
    state = read_at(state, state.prompted, START)
    assert state.work.coming
    state = do(state, Act.SKIP)
    assert say(guide(state)).headline.figure == "L REAR INNER ↑"
