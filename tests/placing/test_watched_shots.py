"""Which shots are watched while a cabinet is nudged, in which order, and where each stops."""

from __future__ import annotations

from collections import Counter

import msgspec
import pytest
from effort import examples
from exact_shots import LEFT, RIGHT, SETUP, TARGET, do, known, off, reading, walk_round, world_of
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.geometry.frame import side_frame
from witnessmark.model import Act, AimedAt, Held, Placement, Quantity, Setup, Shot, Side
from witnessmark.placing.cabinet_work import Stage, Watch
from witnessmark.placing.guidance import Task, guide
from witnessmark.placing.judge import leading_move
from witnessmark.placing.round import Round
from witnessmark.words.live import say

ON_THE_WALL: Setup = msgspec.structs.replace(SETUP, held=Held.WALL)
BESIDE = {LEFT: AimedAt.LEFT, RIGHT: AimedAt.RIGHT}


def asked(start: Placement, side: Side = LEFT, setup: Setup = SETUP) -> Round:
    """A cabinet that was measured where it stands, and is to be nudged from there."""
    state = Round.begin(setup) if side is LEFT else do(Round.begin(setup), Act.OTHER)
    return walk_round(state, world_of(setup).moved(side, start))


def read(state: Round, standing: Placement, times: int = 1) -> Round:
    """The state after more readings of the point that is watched, or of the prompted shot."""
    for _ in range(times):
        kind = state.work.watch.kind if state.work.watch else state.prompted
        world = world_of(state.setup).moved(state.side, standing)
        state = state.feed(reading(world.true_distance(kind)))
    return state


def shoot_next(state: Round, standing: Placement) -> Round:
    """The state after the shot that is prompted."""
    world = world_of(state.setup).moved(state.side, standing)
    return state.feed(reading(world.true_distance(state.prompted)))


def turned_about(start: Placement, side: Side, point: str, toe_in_deg: float) -> Placement:
    """Where a cabinet stands after a turn about one of its points."""
    frame, held = side_frame(SETUP.room, side), SETUP.cabinets[side].touch_points[point]
    end = msgspec.structs.replace(start, toe_in_deg=toe_in_deg)
    was, went = (frame.tape_distances(frame.point(one, held)) for one in (start, end))
    return Placement(end.side_mm + was[0] - went[0], end.setback_mm + was[1] - went[1], toe_in_deg)


starts = st.builds(off, st.floats(-80, 80), st.floats(-80, 80), st.floats(-5, 5))


@pytest.mark.parametrize("setup", [SETUP, ON_THE_WALL], ids=["on the cabinet", "on the wall"])
@examples(20, 150)
@given(start=starts, side=st.sampled_from(Side))
def test_the_first_shot_goes_to_the_wall_that_the_nudge_is_about(
    setup: Setup, start: Placement, side: Side
) -> None:
    state = asked(start, side, setup)
    assume(state.work.stage is Stage.NUDGE)
    against = known(state, side).against_target
    assert against is not None
    _, leading = leading_move(setup, against)
    if leading is Quantity.SETBACK:
        assert state.prompted.to is AimedAt.FRONT
    if leading is Quantity.SIDE:
        assert state.prompted.to is BESIDE[side]
    assert Counter(state.work.todo) == Counter(state.work.route.shots)


@pytest.mark.parametrize("side", [LEFT, RIGHT])
def test_a_turn_begins_with_the_shot_that_it_changes_most(side: Side) -> None:
    state = asked(off(0.2, 0.2, 3.0), side)
    one, other = (world_of().moved(side, off(0, 0, toe_in_deg)) for toe_in_deg in (-0.5, 0.5))
    change = {
        kind: abs(other.true_distance(kind) - one.true_distance(kind))
        for kind in state.work.route.shots
    }
    assert state.prompted == max(change, key=change.__getitem__)


def test_the_nudge_tells_which_shot_to_watch_and_at_which_reading_to_stop() -> None:
    state = asked(off(0, -30))
    guidance = guide(state)
    stop_mm = world_of().true_distance(state.prompted)
    assert guidance.task is Task.NUDGE
    assert guidance.watch is not None
    assert guidance.watch.kind == state.prompted
    assert guidance.watch.stop_mm == pytest.approx(stop_mm, abs=0.1)
    assert guidance.watch.start_mm == pytest.approx(stop_mm - 30 / 0.98769, abs=0.1)
    assert (
        f"Shoot {state.prompted.words} while you move. Stop at {stop_mm:.0f} mm."
        == say(guidance).next_shot
    )


def test_the_way_is_told_from_its_start_to_its_stop_and_past_it() -> None:
    state = asked(off(0, -30))
    for setback_mm, made in ((-30.0, 0.0), (-15.0, 0.5), (6.0, 1.2)):
        state = read(state, off(0, setback_mm))
        guidance = guide(state)
        assert guidance.task is Task.WATCH
        assert guidance.watch is not None
        assert guidance.held is not None
        assert guidance.watch.made(guidance.held.reading_mm) == pytest.approx(made, abs=0.01)


def test_a_way_of_nothing_is_made() -> None:
    kind = SETUP.known_targets and Round.begin(SETUP).prompted
    assert kind
    assert Watch(kind, 1000.0, 1000.0, 1.5).made(1000.0) == 1.0


@pytest.mark.parametrize("side", [LEFT, RIGHT])
def test_a_meter_that_reads_on_and_on_is_never_taken_for_the_next_shot(side: Side) -> None:
    state = asked(off(-45, 60, 4.0), side)
    standing = off(1.0, 0.5, 0.4)  # where hands left it
    for number in range(len(state.work.watches)):
        state = shoot_next(state, standing) if number else state
        kind = state.work.watch.kind if state.work.watch else state.prompted
        state = read(state, standing, times=12)
        assert state.question is None
        assert state.work.shots[-1].kind == kind
        assert len([shot for shot in state.work.shots if shot.kind == kind]) <= 2


def test_what_was_shot_before_a_watched_point_moved_is_asked_for_again() -> None:
    state = asked(off(-45, 60, 4.0))
    first, second = state.work.watches[:2]
    state = shoot_next(read(state, off(6, 0.5, 0.2)), off(6, 0.5, 0.2))
    assert [shot.kind for shot in state.work.shots] == [first, second]
    assert state.work.coming
    moved = read(state, off(0.2, 0.9, 0.2))
    assert [shot.kind for shot in moved.work.shots] == [second]
    assert first in moved.work.todo
    assert Counter((*moved.work.todo, second)) == Counter(moved.work.route.shots)
    assert moved.work.nudges == 1


@examples(30, 200)
@given(
    side=st.sampled_from(Side),
    left=st.builds(off, st.floats(-1.2, 1.2), st.floats(-1.2, 1.2), st.floats(-0.9, 0.9)),
)
def test_a_turn_that_stops_where_it_is_told_ends_on_the_toe_in_of_the_target(
    side: Side, left: Placement
) -> None:
    """By the simulated room's own rays: whatever the place was left off by."""
    state = asked(off(-45, 30, 4.0), side)
    for _ in state.work.watches:
        state = shoot_next(state, left)
        if state.work.watch is not None and state.work.watch.about is not None:
            break
    watch = state.work.watch
    assert watch is not None
    assert watch.about is not None
    there = turned_about(left, side, watch.about, TARGET.toe_in_deg)
    read_mm = world_of().moved(side, there).true_distance(watch.kind)
    assert watch.stop_mm == pytest.approx(read_mm, abs=0.15)
    if state.work.coming:
        words = f"Keep shooting here while you turn the cabinet about {watch.about}."
        assert say(guide(state)).details[0].startswith(words)


def test_what_is_in_is_not_asked_to_move() -> None:
    """The shot to the front wall stops where the setback is right with the toe-in as it is."""
    state = asked(off(0.0, -4.0, 0.2))
    stands = off(0.0, 0.0, 0.2)
    watch = guide(state).watch
    assert watch is not None
    assert state.work.watches == (watch.kind,)
    wanted_mm = world_of(left=stands).true_distance(watch.kind)
    assert watch.stop_mm == pytest.approx(wanted_mm, abs=0.05)


def test_who_brings_each_watched_point_where_it_should_be_needs_one_nudge() -> None:
    state = asked(off(-45, 60, 4.0))
    for standing in (off(-7, 0.5, 0.5), off(0.4, 1.0, 0.5), off(0.5, 0.8, 0.05), off(0.4, 0.2)):
        while not guide(state).work.coming and state.work.todo and not state.works.left.done:
            state = shoot_next(state, standing)
        state = read(state, standing)
    while state.side is LEFT:
        state = shoot_next(state, off(0.4, 0.2))
    assert (state.works.left.stage, state.works.left.nudges) == (Stage.SETTLED, 1)


def test_a_held_shot_is_watched_from_its_first_reading() -> None:
    state = do(Round.begin(SETUP), Act.HOLD)
    kind, wanted_mm = state.prompted, world_of().true_distance(state.prompted)
    for over_mm in (30.0, 12.0):
        state = state.feed(reading(wanted_mm + over_mm))
    guidance = guide(state)
    assert guidance.held == Shot(kind, wanted_mm + 12.0)
    assert guidance.watch is not None
    assert guidance.watch.made(wanted_mm + 12.0) == pytest.approx(0.6)
