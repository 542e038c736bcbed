"""The live round, event by event: which shot a reading is, and what comes next."""

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
    question_of,
    reading,
    settle,
    shoot,
    taken,
    walk_round,
    with_targets,
    world_of,
)

from witnessmark.geometry.verdict import Verdict
from witnessmark.model import (
    BY_TAPE,
    Act,
    AimedAt,
    AngleReading,
    Edge,
    Held,
    Leaned,
    Meter,
    Pair,
    Placement,
    PlumbReadings,
    Reading,
    Revised,
    ShotKind,
    Side,
    Tolerance,
)
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.placing.stand import Stage

BEGUN = Round.begin(SETUP)
WORLD = world_of()


def gathered(state: Round) -> tuple[float, ...]:
    assert state.gathered is not None
    return state.gathered.readings_mm


def kinds(state: Round) -> list[ShotKind]:
    return [shot.kind for shot in state.stand.shots]


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
    assert {kind.held for kind in Round.begin(setup).stand.todo} == {held}
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
    assert state.stand.shots == (state.last,)
    assert state.prompted != prompted
    assert state.readings == 1
    assert not state.finished


# --- nudging


def test_a_cabinet_that_is_out_is_nudged_and_measured_again() -> None:
    state = walk_round(BEGUN, world_of(left=off(30, -20, 2)))
    assert (state.side, state.stand.stage, state.stand.nudges) == (LEFT, Stage.NUDGE, 0)
    nudge = known(state, LEFT).nudge
    assert nudge is not None
    move = nudge.move
    assert move.side_mm == pytest.approx(-30, abs=0.01)
    assert move.setback_mm == pytest.approx(20, abs=0.01)
    assert move.toe_in_deg == pytest.approx(-2, abs=0.002)
    state = shoot(state, WORLD)
    assert (state.stand.stage, state.stand.nudges) == (Stage.MEASURE, 1)
    assert len(state.stand.shots) == 1
    state = shoot(state, WORLD, [0.0] * 3)
    assert state.stands.left.stage is Stage.SETTLED
    assert state.side is RIGHT


def test_a_nudge_that_seems_to_lead_away_is_measured_once_more_before_the_next() -> None:
    nudged = walk_round(BEGUN, world_of(left=off(10, -10, 1)))
    away = world_of(left=off(25, -25, 2))
    state = nudged
    while not state.stand.contrary:
        assert state.stand.nudges == 0 or state.stand.stage is Stage.MEASURE
        state = shoot(state, away)
    assert (state.stand.stage, state.stand.nudges, state.stand.shots) == (Stage.MEASURE, 1, ())
    assert any("all of it once more" in words for words in guide(state).details)
    again = walk_round(state, away)
    assert (again.stand.stage, again.stand.nudges) == (Stage.NUDGE, 1)
    assert error_of(again, LEFT).side_mm == pytest.approx(25, abs=0.01)
    righted = walk_round(state, WORLD)
    assert righted.stands.left.stage is Stage.SETTLED


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
    assert state.stands.left.stage is Stage.SETTLED
    assert state.side is RIGHT
    state = walk_round(state, WORLD)
    assert state.finished
    assert state.readings == 8


def test_both_cabinets_are_brought_in_from_anywhere_about() -> None:
    state = settle(BEGUN, world_of(left=off(-75, 60, -4.5), right=off(80, -66, 5)))
    guidance = guide(state)
    assert guidance.headline.figure == "BOTH IN"
    assert guidance.finished
    for side in (LEFT, RIGHT):
        assert guidance.cabinets[side].nudges == 1
        error = error_of(state, side)
        assert abs(error.side_mm) < 0.01
        assert abs(error.setback_mm) < 0.01
        assert abs(error.toe_in_deg) < 0.002


# --- surprises


def test_a_reading_far_from_the_expected_is_questioned_and_not_taken() -> None:
    expected_mm = WORLD.true_distance(BEGUN.prompted)
    state = shoot(BEGUN, WORLD, [700.0])
    assert question_of(state).reading_mm == pytest.approx(expected_mm + 700)
    assert question_of(state).expected_mm == pytest.approx(expected_mm)
    assert state.stand.shots == ()
    assert state.prompted == BEGUN.prompted
    assert (state.last, state.readings) == (None, 1)
    assert shoot(BEGUN, WORLD, [-500.0]).question is None


def test_the_last_shot_of_a_walk_is_known_to_a_hand_s_breadth_beforehand() -> None:
    state = shoot(BEGUN, WORLD, [0.0] * 3)
    assert shoot(state, WORLD, [10.0]).question is None
    assert shoot(state, WORLD, [15.0]).question is not None
    assert shoot(state, WORLD, [-15.0]).question is not None


def test_the_same_again_confirms_a_questioned_reading() -> None:
    prompted = BEGUN.prompted
    state = shoot(BEGUN, WORLD, [700.0, 701.5])
    assert state.question is None
    assert taken(state).kind == prompted
    assert taken(state).reading_mm == pytest.approx(WORLD.true_distance(prompted) + 701.5)


def test_one_that_fits_replaces_a_questioned_reading() -> None:
    prompted = BEGUN.prompted
    state = shoot(BEGUN, WORLD, [700.0, 0.0])
    assert state.question is None
    assert state.stand.shots == (state.last,)
    assert taken(state).reading_mm == pytest.approx(WORLD.true_distance(prompted))


def test_another_surprise_is_questioned_in_its_turn() -> None:
    state = shoot(BEGUN, WORLD, [700.0, -900.0])
    assert question_of(state).reading_mm == pytest.approx(WORLD.true_distance(BEGUN.prompted) - 900)
    assert state.stand.shots == ()


def test_keep_takes_the_questioned_reading_and_drop_throws_it_away() -> None:
    questioned = shoot(BEGUN, WORLD, [700.0])
    kept = do(questioned, Act.KEEP)
    assert taken(kept).reading_mm == question_of(questioned).reading_mm
    assert kept.question is None
    dropped = do(questioned, Act.DROP)
    assert dropped.question is None
    assert dropped.stand == BEGUN.stand
    assert dropped.prompted == BEGUN.prompted


def test_keep_and_drop_without_a_question_change_nothing() -> None:
    state = shoot(BEGUN, WORLD)
    assert do(state, Act.KEEP) is state
    assert do(state, Act.DROP) is state


def test_a_cabinet_far_from_where_it_was_thought_surprises_once() -> None:
    far = world_of(left=off(0, 750))
    state = shoot(BEGUN, far, [0.0, 0.0])
    assert state.question is None
    state = shoot(state, far)
    assert state.question is not None
    state = shoot(state, far)
    assert state.question is None
    state = shoot(state, far)
    assert state.question is None
    assert state.stand.stage is Stage.NUDGE
    assert error_of(state, LEFT).setback_mm == pytest.approx(750, abs=0.01)


def test_without_a_target_any_reading_within_the_room_is_believed() -> None:
    begun = Round.begin(with_targets(None, None))
    for placement in (Placement(400, 500, 0), Placement(2000, 3200, 20)):
        assert walk_round(begun, world_of(left=placement)).stands.left.stage is Stage.SETTLED
    assert begun.feed(reading(30_000.0)).question is not None


# --- undo


def test_undo_takes_back_readings_and_decisions_one_by_one() -> None:
    states = [BEGUN]
    for step in range(6):
        states.append(shoot(states[-1], WORLD, [0.5 * step]))
    states.append(do(states[-1], Act.OTHER))
    states.append(do(states[-1], Act.HOLD))
    states.append(shoot(states[-1], WORLD, [900.0]))
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
    assert do(state, *[Act.UNDO] * 1501) == BEGUN


# --- skip


@pytest.mark.parametrize("place", range(4))
def test_any_one_shot_can_be_left_out(place: int) -> None:
    state = shoot(BEGUN, world_of(left=off(12)), [0.0] * place)
    skipped = state.prompted
    state = shoot(do(state, Act.SKIP), world_of(left=off(12)), [0.0] * (3 - place))
    assert state.stand.stage is Stage.NUDGE
    assert skipped not in [shot.kind for shot in state.stand.judged]
    assert error_of(state, LEFT).side_mm == pytest.approx(12, abs=0.01)


def test_what_the_others_cannot_do_without_is_asked_for_again() -> None:
    order = BEGUN.stand.todo
    state = shoot(do(BEGUN, Act.SKIP, Act.SKIP), WORLD, [0.0, 0.0])
    assert state.side is LEFT
    assert state.stand.stage is Stage.MEASURE
    assert state.stand.todo == order[:2]
    assert "without this shot the others do not fix the cabinet" in guide(state).details
    state = shoot(state, WORLD, [0.0, 0.0])
    assert state.stands.left.stage is Stage.SETTLED


def test_a_cabinet_skipped_altogether_is_left_for_later() -> None:
    state = do(BEGUN, *[Act.SKIP] * 4)
    assert state.side is RIGHT
    assert state.stands.left == BEGUN.stands.left
    state = walk_round(state, WORLD)
    assert (state.side, state.finished) == (LEFT, False)
    assert do(state, *[Act.SKIP] * 4).side is LEFT


def test_skip_drops_a_question_and_lets_go_of_a_held_shot() -> None:
    questioned = shoot(do(BEGUN, Act.HOLD), WORLD, [800.0])
    state = do(questioned, Act.SKIP)
    assert (state.question, state.gathered) == (None, None)
    assert state.prompted == BEGUN.stand.todo[1]


def test_skipping_the_first_shot_after_a_nudge_counts_the_nudge() -> None:
    state = do(walk_round(BEGUN, world_of(left=off(30))), Act.SKIP)
    assert (state.stand.stage, state.stand.nudges) == (Stage.MEASURE, 1)
    assert state.prompted == BEGUN.stand.todo[1]


# --- back


def test_back_asks_for_the_shot_before_again_and_its_new_reading_replaces_it() -> None:
    state = shoot(BEGUN, WORLD, [0.0, 1.0])
    second = kinds(state)[-1]
    back = do(state, Act.BACK)
    assert back.prompted == second
    assert kinds(back) == kinds(state)
    again = shoot(back, WORLD, [0.4])
    assert kinds(again) == kinds(state)
    assert again.stand.shots[-1].reading_mm == pytest.approx(WORLD.true_distance(second) + 0.4)
    assert again.prompted == state.prompted


def test_back_before_the_first_shot_and_after_the_walk_changes_nothing() -> None:
    assert do(BEGUN, Act.BACK) == BEGUN
    nudge = walk_round(BEGUN, world_of(left=off(30)))
    assert do(nudge, Act.BACK).prompted == nudge.prompted


# --- hold


def test_a_held_shot_stays_and_its_last_reading_is_taken_when_it_is_let_go() -> None:
    state = shoot(do(BEGUN, Act.HOLD), WORLD, [0.0, 1.0, 0.5])
    assert state.prompted == BEGUN.prompted
    assert state.stand.shots == ()
    assert taken(state).reading_mm == pytest.approx(WORLD.true_distance(BEGUN.prompted) + 0.5)
    state = do(state, Act.HOLD)
    assert not state.hold
    assert kinds(state) == [BEGUN.prompted]
    assert state.stand.shots[0].reading_mm == taken(state).reading_mm
    assert state.prompted == BEGUN.stand.todo[1]


def test_a_held_shot_let_go_without_a_reading_is_still_to_be_taken() -> None:
    assert do(BEGUN, Act.HOLD).hold
    state = do(BEGUN, Act.HOLD, Act.HOLD)
    assert not state.hold
    assert state.prompted == BEGUN.prompted
    again = msgspec.structs.replace(SETUP, meter=Meter(1.0, 0.1, 0.0))
    state = walk_round(Round.begin(again), world_of(again, off(2.2)))
    assert (state.stand.stage, state.stand.walks) == (Stage.MEASURE, 1)
    assert do(state, Act.HOLD, Act.HOLD).prompted == state.prompted


def test_a_cabinet_moved_under_the_held_meter_is_measured_afresh() -> None:
    state = shoot(BEGUN, world_of(left=off(40)), [0.0] * 2)
    held = state.prompted
    state = do(state, Act.HOLD)
    for setback_mm in (120.0, 80.0, 30.0, 0.0):
        state = shoot(state, world_of(left=off(0, setback_mm)))
        assert state.question is None
    assert gathered(state) == pytest.approx(
        [world_of(left=off(0, setback)).true_distance(held) for setback in (120, 80, 30, 0)]
    )
    state = do(state, Act.HOLD)
    assert kinds(state) == [held]
    assert set(state.stand.todo) == {*BEGUN.stand.todo} - {held}
    state = shoot(state, WORLD, [0.0] * 3)
    assert state.stands.left.stage is Stage.SETTLED


def test_a_held_shot_after_a_nudge_counts_the_nudge_once() -> None:
    nudge = walk_round(BEGUN, world_of(left=off(30)))
    state = do(nudge, Act.HOLD)
    for side_mm in (30.0, 12.0, 1.0):
        state = shoot(state, world_of(left=off(side_mm)))
    assert state.stand.stage is Stage.NUDGE
    state = do(state, Act.HOLD)
    assert (state.stand.stage, state.stand.nudges) == (Stage.MEASURE, 1)


def test_a_held_reading_out_of_all_reason_is_questioned() -> None:
    state = shoot(do(BEGUN, Act.HOLD), WORLD, [0.0, 900.0])
    assert state.question is not None
    assert state.hold
    kept = do(state, Act.KEEP)
    assert kept.hold
    assert len(gathered(kept)) == 2


def test_holding_after_the_end_leaves_it_finished_until_it_is_let_go() -> None:
    state = shoot(do(finished(), Act.HOLD), WORLD, [0.0, 0.0])
    assert state.finished
    assert guide(state).headline.figure.endswith("0.0 mm")
    assert not do(state, Act.HOLD).finished


# --- sweep


def on_the_wall(**changes: object) -> Round:
    """A round of shots that are held square to the wall, with other things changed as well."""
    return Round.begin(msgspec.structs.replace(SETUP, held=Held.WALL, **changes))


def test_a_sweep_takes_the_shortest_of_five_readings_for_the_prompted_shot() -> None:
    begun = on_the_wall()
    state = shoot(do(begun, Act.SWEEP), WORLD, [6.0, 1.0, 0.0, 2.0])
    assert state.prompted == begun.prompted
    assert state.stand.shots == ()
    assert guide(state).headline.figure == "L SWEEP 4/5"
    state = shoot(state, WORLD, [7.0])
    assert kinds(state) == [begun.prompted]
    shot, true_mm = state.stand.shots[0], WORLD.true_distance(begun.prompted)
    assert shot.reading_mm == pytest.approx(true_mm, abs=0.6)
    assert shot.sigma_mm is not None
    assert 0.2 < shot.sigma_mm < 0.6
    assert state.gathered is None
    assert state.prompted == begun.stand.todo[1]


def test_a_sweep_may_be_ended_early_but_not_with_less_than_three_readings() -> None:
    begun = on_the_wall()
    three = do(shoot(do(begun, Act.SWEEP), WORLD, [3.0, 0.0, 1.0]), Act.SWEEP)
    assert kinds(three) == [begun.prompted]
    two = do(shoot(do(begun, Act.SWEEP), WORLD, [3.0, 0.0]), Act.SWEEP)
    assert (two.gathered, two.stand.shots) == (None, ())


def test_a_meter_on_the_cabinet_is_not_swept() -> None:
    assert do(BEGUN, Act.SWEEP).gathered is None


def test_where_walls_are_swept_each_shot_takes_five_readings() -> None:
    state = on_the_wall(sweeps=True)
    for place in range(4):
        assert len(kinds(state)) == place
        state = shoot(state, WORLD, [2.0, 0.0, 1.0, 4.0, 3.0])
    assert state.stands.left.stage is Stage.SETTLED
    assert state.side is RIGHT


def test_a_reading_that_no_sweep_explains_is_questioned() -> None:
    state = shoot(do(on_the_wall(), Act.SWEEP), WORLD, [2.0, -80.0])
    assert question_of(state).expected_mm == pytest.approx(gathered(state)[0])
    assert len(gathered(state)) == 1


def test_a_beam_that_is_off_square_reads_long_in_a_sweep_and_is_no_surprise() -> None:
    true_mm = WORLD.true_distance(on_the_wall().prompted)
    state = shoot(do(on_the_wall(), Act.SWEEP), WORLD, [0.0, 0.009 * true_mm])
    assert state.question is None


# --- tilt


def test_a_tilt_is_known_from_when_it_was_taken_and_can_be_undone() -> None:
    leaned = Leaned(LEFT, PlumbReadings(low_mm=300.0, high_mm=321.0, apart_mm=800.0), AT)
    state = BEGUN.feed(leaned)
    tilt = state.tilts.left
    assert tilt is not None
    assert tilt.tilt_deg == pytest.approx(1.5037, abs=1e-3)
    assert state.tilts.right is None
    assert do(state, Act.UNDO).tilts.left is None
    assert state.stands == BEGUN.stands


def test_tilts_of_both_take_part_in_the_symmetry_and_are_judged() -> None:
    setup = msgspec.structs.replace(SETUP, tilt_targets_deg=Pair[float | None](1.0, None))
    state = settle(Round.begin(setup), world_of(setup))
    for side, angle in ((LEFT, 1.6), (RIGHT, 1.0)):
        state = state.feed(Leaned(side, AngleReading(angle), AT))
    guidance = guide(state)
    left, right = guidance.cabinets.left.tilt, guidance.cabinets.right.tilt
    assert left is not None
    assert right is not None
    assert left.error_deg == pytest.approx(0.6)
    assert left.verdict is Verdict.OUT
    assert any("spikes" in words for words in left.words)
    assert right.verdict is None
    assert guidance.symmetry is not None
    assert guidance.symmetry.tilt is not None
    assert guidance.symmetry.tilt.tilt_deg == pytest.approx(0.6)
    assert guidance.symmetry.verdict["tilt"] is Verdict.OUT


def test_a_tilt_that_makes_no_sense_changes_nothing() -> None:
    assert BEGUN.feed(Leaned(LEFT, AngleReading(80.0), AT)).tilts.left is None


# --- moved, other


def test_moved_measures_a_cabinet_afresh_wherever_it_is_now() -> None:
    state = walk_round(BEGUN, WORLD)
    state = do(state, Act.OTHER, Act.MOVED)
    assert (state.side, state.stand.stage) == (LEFT, Stage.MEASURE)
    assert (state.stand.shots, state.stand.nudges) == ((), 0)
    assert guide(state).cabinets.left.stale
    assert shoot(state, world_of(left=off(400))).question is None


def test_moved_after_being_asked_to_counts_as_the_nudge() -> None:
    state = do(walk_round(BEGUN, world_of(left=off(30))), Act.MOVED)
    assert (state.stand.stage, state.stand.nudges) == (Stage.MEASURE, 1)
    assert shoot(state, WORLD, [300.0]).question is not None


def test_moved_in_mid_walk_forgets_its_shots() -> None:
    state = do(shoot(BEGUN, WORLD, [0.0] * 3), Act.MOVED)
    assert state.stand.shots == ()
    assert state.prompted == BEGUN.prompted


def test_other_goes_across_and_back_without_losing_a_shot() -> None:
    state = shoot(BEGUN, WORLD, [0.0] * 2)
    across = do(state, Act.OTHER)
    assert across.side is RIGHT
    assert across.stands == state.stands
    assert do(across, Act.OTHER).prompted == state.prompted


# --- doubtful shots


def test_shots_that_contradict_each_other_are_asked_for_once_more() -> None:
    state = shoot(BEGUN, WORLD, [12.0, 0.0, 0.0, -4.0])
    assert state.stand.stage is Stage.MEASURE
    assert set(state.stand.todo) == {*BEGUN.stand.todo}
    guidance = guide(state)
    assert guidance.prompt.again
    assert "this shot and the others do not agree: once more, please" in guidance.details
    assert known(state, LEFT).suspects
    state = walk_round(state, WORLD)
    assert state.stands.left.stage is Stage.SETTLED
    assert not known(state, LEFT).suspects


def test_shots_that_contradict_each_other_again_are_judged_as_they_are() -> None:
    state = shoot(BEGUN, WORLD, [12.0, 0.0, 0.0, -4.0] * 2)
    assert state.stand.stage is Stage.NUDGE
    assert len(state.stand.judged) == 4
    guidance = guide(state)
    assert known(state, LEFT).suspects
    assert any("contradict" in words for words in guidance.details)


def test_shots_that_no_pose_fits_are_all_asked_for_again() -> None:
    setup = msgspec.structs.replace(SETUP, held=Held.WALL)
    state = Round.begin(setup)
    for distance_mm in (50.0, 4000.0, 100.0, 6000.0):
        state = do(state.feed(reading(distance_mm)), Act.KEEP)
    assert state.side is LEFT
    assert state.stand.shots == ()
    assert state.stand.todo == Round.begin(setup).stand.todo
    assert guide(state).prompt.again
    assert walk_round(state, world_of(setup)).stands.left.stage is Stage.SETTLED


def test_a_shot_that_was_repeated_twice_over_is_asked_for_once() -> None:
    scattering = msgspec.structs.replace(SETUP, meter=Meter(1.6, 0.1, 0.0))
    state = walk_round(Round.begin(scattering), world_of(scattering, off(0.5)))
    assert state.stand.walks == 1
    state = shoot(state, world_of(scattering, off(0.5)), [11.0, 0.0, 0.0, -11.0])
    assert state.stand.todo
    assert len(set(state.stand.todo)) == len(state.stand.todo)


# --- another setup in mid-round


def test_new_targets_judge_the_shots_that_there_are() -> None:
    state = finished()
    elsewhere = with_targets(off(20), TARGET)
    revised = state.feed(Revised(elsewhere, AT))
    assert revised.setup == elsewhere
    assert (revised.readings, revised.side) == (state.readings, LEFT)
    assert revised.stands.left.stage is Stage.NUDGE
    assert revised.stands.right.stage is Stage.SETTLED
    assert error_of(revised, LEFT).side_mm == pytest.approx(-20, abs=0.01)
    assert do(revised, Act.UNDO) == revised


def test_new_targets_in_mid_walk_leave_its_shots_out_for_the_cabinet_is_moved_on() -> None:
    elsewhere = with_targets(off(0, 300), off(0, 300))
    begun = shoot(BEGUN, WORLD, [0.0] * 2).feed(Revised(elsewhere, AT))
    assert (begun.stand.stage, begun.stand.shots) == (Stage.MEASURE, ())
    known_before = shoot(finished(), WORLD, [0.0] * 2)
    assert known_before.stand.shots
    revised = known_before.feed(Revised(elsewhere, AT))
    assert (revised.stand.stage, revised.stand.shots) == (Stage.NUDGE, ())
    assert error_of(revised, LEFT).setback_mm == pytest.approx(-300, abs=0.01)


def test_a_wider_tolerance_settles_and_keeps_the_count_of_nudges() -> None:
    state = walk_round(BEGUN, world_of(left=off(30)))
    state = walk_round(state, world_of(left=off(5)))
    assert (state.stand.stage, state.stand.nudges) == (Stage.NUDGE, 1)
    wide = msgspec.structs.replace(SETUP, tolerance=Tolerance(10.0, 1.0))
    state = state.feed(Revised(wide, AT))
    assert state.stands.left.stage is Stage.SETTLED
    assert state.stands.left.nudges == 1
    assert state.side is RIGHT


def test_shots_held_otherwise_than_from_now_on_still_count() -> None:
    state = shoot(BEGUN, world_of(left=off(30)), [0.0] * 3)
    on_the_wall = msgspec.structs.replace(SETUP, held=Held.WALL)
    state = state.feed(Revised(on_the_wall, AT))
    assert len(state.stand.shots) == 3
    state = walk_round(state, world_of(on_the_wall, off(30)))
    assert len(state.stand.judged) == 7
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
    revised = state.feed(Revised(corrected, AT))
    assert (revised.finished, revised.stand.shots, revised.stand.judged) == (False, (), ())
    assert revised.readings == state.readings


def test_an_edge_without_an_offset_changes_no_shot() -> None:
    state = shoot(BEGUN, WORLD, [0.0] * 2)
    named = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 0.7, edge=Edge.THREAD))
    assert len(state.feed(Revised(named, AT)).stand.shots) == 2


# --- the end


def test_a_shot_after_the_end_begins_a_check_of_both() -> None:
    state = shoot(finished(), WORLD)
    assert not state.finished
    assert state.side is RIGHT
    state = shoot(state, WORLD, [0.0] * 3)
    assert (state.side, state.finished) == (LEFT, False)
    state = walk_round(state, WORLD)
    assert state.finished
    assert [state.stands[side].nudges for side in (LEFT, RIGHT)] == [0, 0]


def test_a_check_finds_a_cabinet_that_was_moved() -> None:
    state = walk_round(finished(), world_of(right=off(0, 8)))
    assert (state.side, state.stand.stage) == (RIGHT, Stage.NUDGE)


def test_without_targets_the_pair_is_only_measured() -> None:
    setup = with_targets(None, None)
    state = Round.begin(setup)
    state = walk_round(walk_round(state, world_of(left=off(50))), world_of(right=off(0, 70)))
    assert state.finished
    guidance = guide(state)
    assert guidance.headline.figure == "DONE"
    assert guidance.symmetry is not None
    assert guidance.symmetry.error.side_mm == pytest.approx(50, abs=0.01)
    assert guidance.symmetry.error.setback_mm == pytest.approx(-70, abs=0.01)
    assert known(state, LEFT).verdict is None
    assert guidance.prompt.on_target_mm is None


@pytest.mark.parametrize("side", [LEFT, RIGHT])
def test_one_target_alone_is_not_called_both_in(side: Side) -> None:
    setup = with_targets(TARGET, None) if side is LEFT else with_targets(None, TARGET)
    headline = guide(finished(setup)).headline
    assert headline.figure == "DONE"
    assert f"{side} cabinet: in, within the tolerance" in headline.words
    assert "measured; no target is set" in headline.words
