"""What a person decides in a round: skip, back, hold, sweep, tilt, moved, other."""

from __future__ import annotations

import msgspec
import pytest
from exact_shots import (
    AT,
    LEFT,
    RIGHT,
    SETUP,
    do,
    error_of,
    finished,
    off,
    question_of,
    settle,
    shoot,
    taken,
    walk_round,
    world_of,
)

from witnessmark.geometry.verdict import Verdict
from witnessmark.model import (
    Act,
    AngleReading,
    Held,
    Meter,
    Pair,
    PlumbReadings,
    ShotKind,
    TiltTaken,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.words.live import say
from witnessmark.words.tilt import tilt_words

BEGUN = Round.begin(SETUP)
WORLD = world_of()


def gathered(state: Round) -> tuple[float, ...]:
    assert state.gathered is not None
    return state.gathered.readings_mm


def kinds(state: Round) -> list[ShotKind]:
    return [shot.kind for shot in state.work.shots]


# --- skip


@pytest.mark.parametrize("place", range(4))
def test_any_one_shot_can_be_left_out(place: int) -> None:
    state = shoot(BEGUN, world_of(left=off(12)), [0.0] * place)
    skipped = state.prompted
    state = shoot(do(state, Act.SKIP), world_of(left=off(12)), [0.0] * (3 - place))
    assert state.work.stage is Stage.NUDGE
    assert skipped not in [shot.kind for shot in state.work.judged]
    assert error_of(state, LEFT).side_mm == pytest.approx(12, abs=0.01)


def test_what_the_others_cannot_do_without_is_asked_for_again() -> None:
    order = BEGUN.work.todo
    state = shoot(do(BEGUN, Act.SKIP, Act.SKIP), WORLD, [0.0, 0.0])
    assert state.side is LEFT
    assert state.work.stage is Stage.MEASURE
    assert state.work.todo == order[:2]
    assert (
        "This shot is needed: without it the others do not fix the cabinet."
        in say(guide(state)).details
    )
    state = shoot(state, WORLD, [0.0, 0.0])
    assert state.works.left.stage is Stage.SETTLED


def test_a_cabinet_skipped_altogether_is_left_for_later() -> None:
    state = do(BEGUN, *[Act.SKIP] * 4)
    assert state.side is RIGHT
    assert state.works.left == BEGUN.works.left
    state = walk_round(state, WORLD)
    assert (state.side, state.finished) == (LEFT, False)
    assert do(state, *[Act.SKIP] * 4).side is LEFT


def test_skip_drops_a_question_and_lets_go_of_a_held_shot() -> None:
    questioned = shoot(do(BEGUN, Act.HOLD), WORLD, [800.0])
    state = do(questioned, Act.SKIP)
    assert (state.question, state.gathered) == (None, None)
    assert state.prompted == BEGUN.work.todo[1]


def test_skipping_the_first_shot_after_a_nudge_counts_the_nudge() -> None:
    nudged = walk_round(BEGUN, world_of(left=off(30)))
    state = do(nudged, Act.SKIP)
    assert (state.work.stage, state.work.nudges) == (Stage.MEASURE, 1)
    assert state.prompted == nudged.work.todo[1]


# --- back


def test_back_asks_for_the_shot_before_again_and_its_new_reading_replaces_it() -> None:
    state = shoot(BEGUN, WORLD, [0.0, 1.0])
    second = kinds(state)[-1]
    back = do(state, Act.BACK)
    assert back.prompted == second
    assert kinds(back) == kinds(state)
    again = shoot(back, WORLD, [0.4])
    assert kinds(again) == kinds(state)
    assert again.work.shots[-1].reading_mm == pytest.approx(WORLD.true_distance(second) + 0.4)
    assert again.prompted == state.prompted


def test_back_before_the_first_shot_and_after_the_walk_changes_nothing() -> None:
    assert do(BEGUN, Act.BACK) == BEGUN
    nudge = walk_round(BEGUN, world_of(left=off(30)))
    assert do(nudge, Act.BACK).prompted == nudge.prompted


# --- hold


def test_a_held_shot_stays_and_its_last_reading_is_taken_when_it_is_let_go() -> None:
    state = shoot(do(BEGUN, Act.HOLD), WORLD, [0.0, 1.0, 0.5])
    assert state.prompted == BEGUN.prompted
    assert state.work.shots == ()
    assert taken(state).reading_mm == pytest.approx(WORLD.true_distance(BEGUN.prompted) + 0.5)
    state = do(state, Act.HOLD)
    assert not state.hold
    assert kinds(state) == [BEGUN.prompted]
    assert state.work.shots[0].reading_mm == taken(state).reading_mm
    assert state.prompted == BEGUN.work.todo[1]


def test_a_held_shot_let_go_without_a_reading_is_still_to_be_taken() -> None:
    assert do(BEGUN, Act.HOLD).hold
    state = do(BEGUN, Act.HOLD, Act.HOLD)
    assert not state.hold
    assert state.prompted == BEGUN.prompted
    again = msgspec.structs.replace(SETUP, meter=Meter(1.0, 0.1, 0.0))
    state = walk_round(Round.begin(again), world_of(again, off(2.2)))
    assert (state.work.stage, state.work.walks) == (Stage.MEASURE, 1)
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
    assert set(state.work.todo) == {*BEGUN.work.todo} - {held}
    state = shoot(state, WORLD, [0.0] * 3)
    assert state.works.left.stage is Stage.SETTLED


def test_a_held_shot_after_a_nudge_counts_the_nudge_once() -> None:
    nudge = walk_round(BEGUN, world_of(left=off(30)))
    state = do(nudge, Act.HOLD)
    for side_mm in (30.0, 12.0, 1.0):
        state = shoot(state, world_of(left=off(side_mm)))
    assert state.work.stage is Stage.NUDGE
    state = do(state, Act.HOLD)
    assert (state.work.stage, state.work.nudges) == (Stage.MEASURE, 1)


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
    assert say(guide(state)).headline.figure.endswith("0.0 mm")
    assert not do(state, Act.HOLD).finished


# --- sweep


def on_the_wall(**changes: object) -> Round:
    """A round of shots that are held square to the wall, with other things changed as well."""
    return Round.begin(msgspec.structs.replace(SETUP, held=Held.WALL, **changes))


def test_a_sweep_takes_the_shortest_of_five_readings_for_the_prompted_shot() -> None:
    begun = on_the_wall()
    state = shoot(do(begun, Act.SWEEP), WORLD, [6.0, 1.0, 0.0, 2.0])
    assert state.prompted == begun.prompted
    assert state.work.shots == ()
    assert say(guide(state)).headline.figure == "L SWEEP 4/5"
    state = shoot(state, WORLD, [7.0])
    assert kinds(state) == [begun.prompted]
    shot, true_mm = state.work.shots[0], WORLD.true_distance(begun.prompted)
    assert shot.reading_mm == pytest.approx(true_mm, abs=0.6)
    assert shot.sigma_mm is not None
    assert 0.2 < shot.sigma_mm < 0.6
    assert state.gathered is None
    assert state.prompted == begun.work.todo[1]


def test_a_sweep_may_be_ended_early_but_not_with_less_than_three_readings() -> None:
    begun = on_the_wall()
    three = do(shoot(do(begun, Act.SWEEP), WORLD, [3.0, 0.0, 1.0]), Act.SWEEP)
    assert kinds(three) == [begun.prompted]
    two = do(shoot(do(begun, Act.SWEEP), WORLD, [3.0, 0.0]), Act.SWEEP)
    assert (two.gathered, two.work.shots) == (None, ())


def test_a_meter_on_the_cabinet_is_not_swept() -> None:
    assert do(BEGUN, Act.SWEEP).gathered is None


def test_where_walls_are_swept_each_shot_takes_five_readings() -> None:
    state = on_the_wall(sweeps=True)
    for place in range(4):
        assert len(kinds(state)) == place
        state = shoot(state, WORLD, [2.0, 0.0, 1.0, 4.0, 3.0])
    assert state.works.left.stage is Stage.SETTLED
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
    leaned = TiltTaken(LEFT, PlumbReadings(low_mm=300.0, high_mm=321.0, apart_mm=800.0), AT)
    state = BEGUN.feed(leaned)
    tilt = state.tilts.left
    assert tilt is not None
    assert tilt.tilt_deg == pytest.approx(1.5037, abs=1e-3)
    assert state.tilts.right is None
    assert do(state, Act.UNDO).tilts.left is None
    assert state.works == BEGUN.works


def test_tilts_of_both_take_part_in_the_symmetry_and_are_judged() -> None:
    setup = msgspec.structs.replace(SETUP, tilt_targets_deg=Pair[float | None](1.0, None))
    state = settle(Round.begin(setup), world_of(setup))
    for side, angle in ((LEFT, 1.6), (RIGHT, 1.0)):
        state = state.feed(TiltTaken(side, AngleReading(angle), AT))
    guidance = guide(state)
    left, right = guidance.cabinets.left.tilt, guidance.cabinets.right.tilt
    assert left is not None
    assert right is not None
    assert left.error_deg == pytest.approx(0.6)
    assert left.verdict is Verdict.OUT
    assert any("spikes" in words for words in tilt_words(setup, left))
    assert right.verdict is None
    assert guidance.symmetry is not None
    assert guidance.symmetry.tilt is not None
    assert guidance.symmetry.tilt.tilt_deg == pytest.approx(0.6)
    assert guidance.symmetry.verdict["tilt"] is Verdict.OUT


def test_a_tilt_that_makes_no_sense_changes_nothing() -> None:
    assert BEGUN.feed(TiltTaken(LEFT, AngleReading(80.0), AT)).tilts.left is None


# --- moved, other


def test_moved_measures_a_cabinet_afresh_wherever_it_is_now() -> None:
    state = walk_round(BEGUN, WORLD)
    state = do(state, Act.OTHER, Act.MOVED)
    assert (state.side, state.work.stage) == (LEFT, Stage.MEASURE)
    assert (state.work.shots, state.work.nudges) == ((), 0)
    assert guide(state).cabinets.left.stale
    assert shoot(state, world_of(left=off(400))).question is None


def test_moved_after_being_asked_to_counts_as_the_nudge() -> None:
    state = do(walk_round(BEGUN, world_of(left=off(30))), Act.MOVED)
    assert (state.work.stage, state.work.nudges) == (Stage.MEASURE, 1)
    assert shoot(state, WORLD, [300.0]).question is not None


def test_moved_in_mid_walk_forgets_its_shots() -> None:
    state = do(shoot(BEGUN, WORLD, [0.0] * 3), Act.MOVED)
    assert state.work.shots == ()
    assert state.prompted == BEGUN.prompted


def test_other_goes_across_and_back_without_losing_a_shot() -> None:
    state = shoot(BEGUN, WORLD, [0.0] * 2)
    across = do(state, Act.OTHER)
    assert across.side is RIGHT
    assert across.works == state.works
    assert do(across, Act.OTHER).prompted == state.prompted
