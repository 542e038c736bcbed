"""The live round, event by event: which shot a reading is, and what comes next."""

from __future__ import annotations

import math

import msgspec
import pytest
from exact_shots import (
    LEFT,
    RIGHT,
    SETUP,
    do,
    error_of,
    finished,
    known,
    off,
    question_of,
    reading,
    settle,
    shoot,
    taken,
    walk_round,
    with_targets,
    world_of,
)

from witnessmark.model import (
    Act,
    AimedAt,
    Held,
    Meter,
    Placement,
    ShotKind,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.expectation import agree, expect
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import UNDO_STEPS, Round
from witnessmark.words.live import say

BEGUN = Round.begin(SETUP)
WORLD = world_of()
ONE_TAKEN = shoot(BEGUN, WORLD)
"""The first shot to the own side wall is taken; the second one goes there too."""


# --- the walk


def test_shots_are_prompted_in_walking_order() -> None:
    state, prompted = BEGUN, []
    for _ in range(8):
        prompted.append(state.prompted)
        state = shoot(state, WORLD)
    held = SETUP.held
    assert prompted == [
        ShotKind(LEFT, "front-outer", AimedAt.LEFT, held),
        ShotKind(LEFT, "rear-outer", AimedAt.LEFT, held),
        ShotKind(LEFT, "rear-outer", AimedAt.FRONT, held),
        ShotKind(LEFT, "rear-inner", AimedAt.FRONT, held),
        ShotKind(RIGHT, "rear-inner", AimedAt.FRONT, held),
        ShotKind(RIGHT, "rear-outer", AimedAt.FRONT, held),
        ShotKind(RIGHT, "rear-outer", AimedAt.RIGHT, held),
        ShotKind(RIGHT, "front-outer", AimedAt.RIGHT, held),
    ]
    assert state.finished


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_shots_are_held_as_the_setup_says(held: Held) -> None:
    setup = msgspec.structs.replace(SETUP, held=held)
    assert {kind.held for kind in Round.begin(setup).work.todo} == {held}
    state = walk_round(Round.begin(setup), world_of(setup, off(25, -40, 3)))
    error = error_of(state, LEFT)
    assert error.side_mm == pytest.approx(25, abs=0.01)
    assert error.setback_mm == pytest.approx(-40, abs=0.01)
    assert error.toe_in_deg == pytest.approx(3, abs=0.002)


def test_a_reading_goes_to_the_prompted_shot() -> None:
    prompted = BEGUN.prompted
    true_mm = WORLD.true_distance(prompted)
    state = BEGUN.feed(reading(true_mm + 0.3))
    assert taken(state).kind == prompted
    assert taken(state).reading_mm == true_mm + 0.3
    assert state.work.shots == (state.last,)
    assert state.prompted != prompted
    assert state.readings == 1
    assert not state.finished


# --- nudging


def test_a_cabinet_that_is_out_is_nudged_and_measured_again() -> None:
    state = walk_round(BEGUN, world_of(left=off(30, -20, 2)))
    assert (state.side, state.work.stage, state.work.nudges) == (LEFT, Stage.NUDGE, 0)
    against = known(state, LEFT).against_target
    assert against is not None
    move = against.nudge.move
    assert move.side_mm == pytest.approx(-30, abs=0.01)
    assert move.setback_mm == pytest.approx(20, abs=0.01)
    assert move.toe_in_deg == pytest.approx(-2, abs=0.002)
    state = shoot(state, WORLD)
    assert (state.work.stage, state.work.nudges) == (Stage.MEASURE, 1)
    assert len(state.work.shots) == 1
    state = shoot(state, WORLD, [0.0] * 3)
    assert state.works.left.stage is Stage.SETTLED
    assert state.side is RIGHT


def test_a_nudge_that_seems_to_lead_away_is_measured_once_more_before_the_next() -> None:
    nudged = walk_round(BEGUN, world_of(left=off(10, -10, 1)))
    away = world_of(left=off(25, -25, 2))
    state = nudged
    while not state.work.contrary:
        assert state.work.nudges == 0 or state.work.stage is Stage.MEASURE
        state = shoot(state, away)
    assert (state.work.stage, state.work.nudges, state.work.shots) == (Stage.MEASURE, 1, ())
    assert any("Shoot this cabinet again" in words for words in say(guide(state)).details)
    again = walk_round(state, away)
    assert (again.work.stage, again.work.nudges) == (Stage.NUDGE, 1)
    assert error_of(again, LEFT).side_mm == pytest.approx(25, abs=0.01)
    righted = walk_round(state, WORLD)
    assert righted.works.left.stage is Stage.SETTLED


def test_after_a_nudge_readings_from_not_moved_to_on_target_are_believed() -> None:
    start = off(60, -50, 4)
    nudge = walk_round(BEGUN, world_of(left=start))
    for share in (0.0, 0.5, 1.0, 1.2):
        there = Placement(
            start.side_mm - 60 * share, start.setback_mm + 50 * share, start.toe_in_deg - 4 * share
        )
        state = shoot(nudge, world_of(left=there), [0.0] * 3)
        assert state.question is None, share
    assert shoot(nudge, WORLD, [300.0]).question is not None


def test_the_other_cabinet_is_taken_up_when_one_settles() -> None:
    state = walk_round(BEGUN, WORLD)
    assert state.works.left.stage is Stage.SETTLED
    assert state.side is RIGHT
    state = walk_round(state, WORLD)
    assert state.finished
    assert state.readings == 8


def test_both_cabinets_are_brought_in_from_anywhere_about() -> None:
    state = settle(BEGUN, world_of(left=off(-75, 60, -4.5), right=off(80, -66, 5)))
    guidance = guide(state)
    assert say(guidance).headline.figure == "BOTH IN"
    assert guidance.finished
    for side in (LEFT, RIGHT):
        assert guidance.cabinets[side].nudges == 1
        error = error_of(state, side)
        assert abs(error.side_mm) < 0.01
        assert abs(error.setback_mm) < 0.01
        assert abs(error.toe_in_deg) < 0.002


# --- surprises


def test_a_reading_far_from_the_expected_is_questioned_and_not_taken() -> None:
    expected = expect(ONE_TAKEN.work, ONE_TAKEN.prompted)
    true_mm = WORLD.true_distance(ONE_TAKEN.prompted)
    state = shoot(ONE_TAKEN, WORLD, [700.0])
    assert question_of(state).reading_mm == pytest.approx(true_mm + 700)
    assert question_of(state).expected_mm == expected.reading_mm
    assert state.work.shots == ONE_TAKEN.work.shots
    assert state.prompted == ONE_TAKEN.prompted
    assert (state.last, state.readings) == (None, 2)
    assert shoot(ONE_TAKEN, WORLD, [-500.0]).question is None


def test_the_last_shot_of_a_walk_is_known_to_a_hand_s_breadth_beforehand() -> None:
    state = shoot(BEGUN, WORLD, [0.0] * 3)
    assert shoot(state, WORLD, [10.0]).question is None
    assert shoot(state, WORLD, [15.0]).question is not None
    assert shoot(state, WORLD, [-15.0]).question is not None


def test_the_same_again_confirms_a_questioned_reading() -> None:
    prompted = ONE_TAKEN.prompted
    state = shoot(ONE_TAKEN, WORLD, [700.0, 701.5])
    assert state.question is None
    assert taken(state).kind == prompted
    assert taken(state).reading_mm == pytest.approx(WORLD.true_distance(prompted) + 701.5)


def test_one_that_fits_replaces_a_questioned_reading() -> None:
    prompted = ONE_TAKEN.prompted
    state = shoot(ONE_TAKEN, WORLD, [700.0, 0.0])
    assert state.question is None
    assert state.work.shots == (*ONE_TAKEN.work.shots, state.last)
    assert taken(state).reading_mm == pytest.approx(WORLD.true_distance(prompted))


def test_another_surprise_is_questioned_in_its_turn() -> None:
    state = shoot(ONE_TAKEN, WORLD, [700.0, -900.0])
    assert question_of(state).reading_mm == pytest.approx(
        WORLD.true_distance(ONE_TAKEN.prompted) - 900
    )
    assert state.work.shots == ONE_TAKEN.work.shots


def test_keep_takes_the_questioned_reading_and_drop_throws_it_away() -> None:
    questioned = shoot(ONE_TAKEN, WORLD, [700.0])
    kept = do(questioned, Act.KEEP)
    assert taken(kept).reading_mm == question_of(questioned).reading_mm
    assert kept.question is None
    dropped = do(questioned, Act.DROP)
    assert dropped.question is None
    assert dropped.work == ONE_TAKEN.work
    assert dropped.prompted == ONE_TAKEN.prompted


def test_keep_and_drop_without_a_question_change_nothing() -> None:
    state = shoot(BEGUN, WORLD)
    assert do(state, Act.KEEP) is state
    assert do(state, Act.DROP) is state


def test_a_cabinet_far_from_its_target_surprises_nobody_on_a_first_walk() -> None:
    state = BEGUN
    for _ in BEGUN.work.todo:
        state = shoot(state, world_of(left=off(700, 1100, -15)))
        assert state.question is None
    assert state.work.stage is Stage.NUDGE
    assert error_of(state, LEFT).setback_mm == pytest.approx(1100, abs=0.01)


def test_a_reading_accepted_moves_what_is_expected_of_the_others() -> None:
    far = world_of(left=off(700, 1100, -15))
    state = BEGUN
    gates = []
    for kind in BEGUN.work.todo:
        expected = expect(state.work, kind)
        gates.append(expected.gate_mm)
        assert abs(far.true_distance(kind) - expected.reading_mm) < expected.gate_mm
        state = shoot(state, far)
    # the first to each wall may read anything; the second to the side wall is off by at most what
    # a turn of the cabinet does; the last one is known, because two have told the turn
    depth_mm = SETUP.cabinets.left.depth_mm
    assert gates[0] == gates[2] == math.inf
    assert depth_mm < gates[1] < 2 * depth_mm
    assert gates[3] < 15


@pytest.mark.parametrize("reading_mm", [-1.0, 0.0, 8400.0])
def test_on_a_first_walk_only_what_cannot_be_is_questioned(reading_mm: float) -> None:
    """The room's diagonal is 8301 mm."""
    assert BEGUN.feed(reading(reading_mm)).question is not None
    assert BEGUN.feed(reading(8200.0)).question is None


@pytest.mark.parametrize("name", ["targets", "no targets"])
def test_nothing_is_expected_from_behind_a_wall(name: str) -> None:
    """A rear corner at 1 mm from the wall puts the other one, of a turned cabinet, behind it."""
    state = shoot(
        BEGUN if name == "targets" else Round.begin(with_targets(None, None)), WORLD, [0.0] * 2
    )
    state = state.feed(reading(1.0))
    assert expect(state.work, state.prompted).reading_mm < 0
    assert shoot(state, WORLD).question is None
    assert state.feed(reading(8400.0)).question is not None


def test_without_a_target_any_reading_within_the_room_is_believed() -> None:
    begun = Round.begin(with_targets(None, None))
    for placement in (Placement(400, 500, 0), Placement(2000, 3200, 20)):
        assert walk_round(begun, world_of(left=placement)).works.left.stage is Stage.SETTLED
    assert begun.feed(reading(30_000.0)).question is not None


# --- undo


def test_undo_takes_back_readings_and_decisions_one_by_one() -> None:
    states = [BEGUN]
    for step in range(6):
        states.append(shoot(states[-1], WORLD, [0.5 * step]))
    states.append(do(states[-1], Act.OTHER))
    states.append(do(states[-1], Act.HOLD))
    states.append(shoot(states[-1], WORLD, [9000.0]))
    states.append(do(states[-1], Act.KEEP))
    states.append(do(states[-1], Act.MOVED))
    state = states[-1]
    for before in reversed(states[:-1]):
        state = do(state, Act.UNDO)
        assert state == before
    assert do(state, Act.UNDO) == BEGUN


def test_undo_brings_back_the_nudge_that_a_reading_ended() -> None:
    nudge = walk_round(BEGUN, world_of(left=off(30)))
    assert do(shoot(nudge, WORLD), Act.UNDO) == nudge
    assert do(walk_round(nudge, WORLD), *[Act.UNDO] * 4) == nudge


def test_a_thousand_events_can_be_compared_and_undone() -> None:
    def long(errors: int) -> Round:
        state = do(BEGUN, Act.HOLD)
        return shoot(state, WORLD, [0.1] * errors)

    state = long(1500)
    assert state == long(1500)
    back = do(state, *[Act.UNDO] * UNDO_STEPS)
    before = msgspec.structs.replace(long(1500 - UNDO_STEPS), past=())
    assert back == before
    assert do(back, Act.UNDO) == before  # no more is kept, so that memory is bounded


@pytest.mark.parametrize("off_mm", [-900.0, 900.0])
def test_a_surprise_that_is_kept_widens_what_is_believed_either_way(off_mm: float) -> None:
    begun = finished()
    expected_mm = guide(begun).prompt.expected_mm
    questioned = begun.feed(reading(expected_mm + off_mm))
    assert questioned.question is not None
    assert do(questioned, Act.KEEP).work.gate_mm > abs(off_mm)


def test_two_readings_by_hand_agree_within_the_hand_and_the_meter() -> None:
    """Two millimetres for a hand that finds the corner again; common practice, no source."""
    meter = Meter(0.4, 1.0, 0.7)
    limit_mm = 2.0 + 4.0 * math.hypot(0.4, 1.0 / math.sqrt(12))
    for sign in (-1, 1):
        assert agree(meter, 1500.0, 1500.0 + sign * (limit_mm - 0.01))
        assert not agree(meter, 1500.0, 1500.0 + sign * (limit_mm + 0.01))
