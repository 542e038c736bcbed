"""What turns up in a round: shots that contradict, another setup, an edge, the end."""

from __future__ import annotations

import msgspec
import pytest
from exact_shots import (
    AT,
    LEFT,
    RIGHT,
    SETUP,
    TARGET,
    do,
    error_of,
    finished,
    known,
    off,
    reading,
    shoot,
    taken,
    walk_round,
    with_targets,
    world_of,
)

from witnessmark.model import (
    BY_TAPE,
    Act,
    Edge,
    Held,
    Meter,
    Reading,
    SetupChanged,
    Side,
    Tolerance,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.words.live import say

BEGUN = Round.begin(SETUP)
WORLD = world_of()


# --- doubtful shots


def test_shots_that_contradict_each_other_are_asked_for_once_more() -> None:
    state = shoot(BEGUN, WORLD, [12.0, 0.0, 0.0, -4.0])
    assert state.work.stage is Stage.MEASURE
    assert set(state.work.todo) == {*BEGUN.work.todo}
    guidance = guide(state)
    assert guidance.prompt.again
    assert "Shoot this again: it does not agree with the others." in say(guidance).details
    assert known(state, LEFT).suspects
    state = walk_round(state, WORLD)
    assert state.works.left.stage is Stage.SETTLED
    assert not known(state, LEFT).suspects


def test_shots_that_contradict_each_other_again_are_judged_as_they_are() -> None:
    state = shoot(BEGUN, WORLD, [12.0, 0.0, 0.0, -4.0] * 2)
    assert state.work.stage is Stage.NUDGE
    assert len(state.work.judged) == 4
    guidance = guide(state)
    assert known(state, LEFT).suspects
    assert any("contradict" in words for words in say(guidance).details)


def test_shots_that_no_pose_fits_are_all_asked_for_again() -> None:
    setup = msgspec.structs.replace(SETUP, held=Held.WALL)
    state = Round.begin(setup)
    for distance_mm in (50.0, 4000.0, 100.0, 6000.0):
        state = do(state.feed(reading(distance_mm)), Act.KEEP)
    assert state.side is LEFT
    assert state.work.shots == ()
    assert state.work.todo == Round.begin(setup).work.todo
    assert guide(state).prompt.again
    assert walk_round(state, world_of(setup)).works.left.stage is Stage.SETTLED


def test_a_shot_that_was_repeated_twice_over_is_asked_for_once() -> None:
    scattering = msgspec.structs.replace(SETUP, meter=Meter(1.6, 0.1, 0.0))
    state = walk_round(Round.begin(scattering), world_of(scattering, off(0.5)))
    assert state.work.walks == 1
    state = shoot(state, world_of(scattering, off(0.5)), [11.0, 0.0, 0.0, -11.0])
    assert state.work.todo
    assert len(set(state.work.todo)) == len(state.work.todo)


# --- another setup in mid-round


def test_new_targets_judge_the_shots_that_there_are() -> None:
    state = finished()
    elsewhere = with_targets(off(20), TARGET)
    revised = state.feed(SetupChanged(elsewhere, AT))
    assert revised.setup == elsewhere
    assert (revised.readings, revised.side) == (state.readings, LEFT)
    assert revised.works.left.stage is Stage.NUDGE
    assert revised.works.right.stage is Stage.SETTLED
    assert error_of(revised, LEFT).side_mm == pytest.approx(-20, abs=0.01)
    assert do(revised, Act.UNDO) == revised


def test_new_targets_in_mid_walk_leave_its_shots_out_for_the_cabinet_is_moved_on() -> None:
    elsewhere = with_targets(off(0, 300), off(0, 300))
    begun = shoot(BEGUN, WORLD, [0.0] * 2).feed(SetupChanged(elsewhere, AT))
    assert (begun.work.stage, begun.work.shots) == (Stage.MEASURE, ())
    known_before = shoot(finished(), WORLD, [0.0] * 2)
    assert known_before.work.shots
    revised = known_before.feed(SetupChanged(elsewhere, AT))
    assert (revised.work.stage, revised.work.shots) == (Stage.NUDGE, ())
    assert error_of(revised, LEFT).setback_mm == pytest.approx(-300, abs=0.01)


def test_a_wider_tolerance_settles_and_keeps_the_count_of_nudges() -> None:
    state = walk_round(BEGUN, world_of(left=off(30)))
    state = walk_round(state, world_of(left=off(5)))
    assert (state.work.stage, state.work.nudges) == (Stage.NUDGE, 1)
    wide = msgspec.structs.replace(SETUP, tolerance=Tolerance(10.0, 1.0))
    state = state.feed(SetupChanged(wide, AT))
    assert state.works.left.stage is Stage.SETTLED
    assert state.works.left.nudges == 1
    assert state.side is RIGHT


def test_shots_held_otherwise_than_from_now_on_still_count() -> None:
    state = shoot(BEGUN, world_of(left=off(30)), [0.0] * 3)
    on_the_wall = msgspec.structs.replace(SETUP, held=Held.WALL)
    state = state.feed(SetupChanged(on_the_wall, AT))
    assert len(state.work.shots) == 3
    state = walk_round(state, world_of(on_the_wall, off(30)))
    assert len(state.work.judged) == 7
    assert error_of(state, LEFT).side_mm == pytest.approx(30, abs=0.01)


# --- where the meter counts from


OFFSET = Meter(zero_correction_mm=-0.8, edge_offset_mm=118.0)


def test_a_reading_counts_from_the_edge_that_is_held_without_the_zero_error() -> None:
    state = Round.begin(msgspec.structs.replace(SETUP, meter=OFFSET))
    true_mm = WORLD.true_distance(state.prompted)
    state = state.feed(reading(true_mm - 118.0 + 0.8))
    assert taken(state).reading_mm == pytest.approx(true_mm)
    assert state.question is None


def test_a_tape_has_none_of_the_meters_errors() -> None:
    state = Round.begin(msgspec.structs.replace(SETUP, meter=OFFSET))
    true_mm = WORLD.true_distance(state.prompted)
    state = state.feed(Reading(true_mm, AT, BY_TAPE))
    assert taken(state).reading_mm == true_mm


def test_shots_with_another_correction_are_not_mixed_with_those_to_come() -> None:
    state = walk_round(shoot(BEGUN, WORLD, [0.0] * 4), WORLD)
    assert state.finished
    corrected = msgspec.structs.replace(SETUP, meter=OFFSET)
    revised = state.feed(SetupChanged(corrected, AT))
    assert (revised.finished, revised.work.shots, revised.work.judged) == (False, (), ())
    assert revised.readings == state.readings


def test_an_edge_without_an_offset_changes_no_shot() -> None:
    state = shoot(BEGUN, WORLD, [0.0] * 2)
    named = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 0.7, edge=Edge.THREAD))
    assert len(state.feed(SetupChanged(named, AT)).work.shots) == 2


# --- the end


def test_a_shot_after_the_end_begins_a_check_of_both() -> None:
    state = shoot(finished(), WORLD)
    assert not state.finished
    assert state.side is RIGHT
    state = shoot(state, WORLD, [0.0] * 3)
    assert (state.side, state.finished) == (LEFT, False)
    state = walk_round(state, WORLD)
    assert state.finished
    assert [state.works[side].nudges for side in (LEFT, RIGHT)] == [0, 0]


def test_a_check_finds_a_cabinet_that_was_moved() -> None:
    state = walk_round(finished(), world_of(right=off(0, 8)))
    assert (state.side, state.work.stage) == (RIGHT, Stage.NUDGE)


def test_without_targets_the_pair_is_only_measured() -> None:
    setup = with_targets(None, None)
    state = Round.begin(setup)
    state = walk_round(walk_round(state, world_of(left=off(50))), world_of(right=off(0, 70)))
    assert state.finished
    guidance = guide(state)
    said = say(guidance)
    assert said.headline.figure == "NOT ALIKE"
    assert said.headline.words == "Left is 50 mm farther from its side wall than right."
    assert said.details[0] == "Left is 70 mm nearer the front wall than right."
    assert guidance.symmetry is not None
    assert guidance.symmetry.error.side_mm == pytest.approx(50, abs=0.01)
    assert guidance.symmetry.error.setback_mm == pytest.approx(-70, abs=0.01)
    assert known(state, LEFT).verdict is None
    assert guidance.prompt.on_target_mm is None


@pytest.mark.parametrize("side", [LEFT, RIGHT])
def test_one_target_alone_is_not_called_both_in(side: Side) -> None:
    setup = with_targets(TARGET, None) if side is LEFT else with_targets(None, TARGET)
    headline = say(guide(finished(setup))).headline
    assert headline.figure == "ALIKE"
    assert headline.words.startswith("Left and right match")
