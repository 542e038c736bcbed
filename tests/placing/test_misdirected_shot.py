"""Readings that were taken elsewhere than prompted: offered there, never put there unasked."""

from __future__ import annotations

import msgspec
import pytest
from exact_shots import (
    LEFT,
    SETUP,
    do,
    error_of,
    off,
    question_of,
    reading,
    shoot,
    taken,
    walk_round,
    world_of,
)

from witnessmark.model import Act, Meter, Setup, ShotKind
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.words.live import say

BEGUN = Round.begin(SETUP)
WORLD = world_of()
FRONT_OUTER, REAR_OUTER, REAR_OUTER_TO_FRONT, REAR_INNER = BEGUN.work.todo
THREE_TAKEN = shoot(BEGUN, WORLD, [0.0] * 3)
SCATTERING: Setup = msgspec.structs.replace(SETUP, meter=Meter(1.0, 0.1, 0.0))
UNSURE = off(2.2)


def measuring_again() -> Round:
    """A cabinet that stands still, measured once and to be measured once more."""
    state = walk_round(Round.begin(SCATTERING), world_of(SCATTERING, UNSURE))
    assert (state.side, state.work.stage, state.work.walks) == (LEFT, Stage.MEASURE, 1)
    return state


def read_at(state: Round, kind: ShotKind, error_mm: float = 0.0, *, setback: float = 0.0) -> Round:
    """The state after a reading taken there, whatever was prompted."""
    world = world_of(state.setup, off(2.2 if state.setup is SCATTERING else 0.0, setback))
    return state.feed(reading(world.true_distance(kind) + error_mm))


@pytest.mark.parametrize("error_mm", [-1.0, 0.0, 1.0])
def test_a_steady_repeat_of_the_last_shot_is_one_more_of_it(error_mm: float) -> None:
    state = read_at(THREE_TAKEN, REAR_OUTER_TO_FRONT, error_mm)
    assert state.question is None
    assert state.prompted == REAR_INNER
    assert [shot.kind for shot in state.work.shots] == [
        FRONT_OUTER,
        REAR_OUTER,
        REAR_OUTER_TO_FRONT,
        REAR_OUTER_TO_FRONT,
    ]
    assert taken(state).kind == REAR_OUTER_TO_FRONT
    state = shoot(state, WORLD)
    assert state.works.left.stage is Stage.SETTLED
    # the two of them are averaged, so half of it is left of what one of them was off
    assert abs(error_of(state, LEFT).setback_mm) < 0.6 * abs(error_mm) + 0.01


def test_an_unsteady_one_is_offered_there() -> None:
    state = read_at(THREE_TAKEN, REAR_OUTER_TO_FRONT, 7.0)
    assert question_of(state).instead == REAR_OUTER_TO_FRONT
    assert state.work == THREE_TAKEN.work
    there = do(state, Act.THERE)
    assert there.question is None
    assert len(there.work.shots) == 4
    assert taken(there).kind == REAR_OUTER_TO_FRONT
    assert there.prompted == REAR_INNER


def test_a_reading_of_another_open_shot_is_offered_there_and_taken_when_told_to() -> None:
    state = measuring_again()
    prompted, wanted = state.prompted, REAR_OUTER
    assert prompted == FRONT_OUTER
    state = read_at(state, wanted)
    assert question_of(state).instead == wanted
    words = say(guide(state)).details[0]
    assert words.startswith("This fits rear-outer to left wall. Press t to use it for that.")
    assert "the same reading is accepted for front-outer to left wall" in words
    there = do(state, Act.THERE)
    assert taken(there).kind == wanted
    assert there.prompted == prompted
    assert there.work.todo.count(wanted) == state.work.todo.count(wanted) - 1
    assert len(there.work.todo) == len(state.work.todo) - 1
    assert do(there, Act.UNDO) == state


def test_one_that_fits_the_prompt_afterwards_drops_the_questioned_one() -> None:
    questioned = read_at(measuring_again(), REAR_OUTER)
    prompted = questioned.prompted
    state = read_at(questioned, prompted)
    assert state.question is None
    assert len(state.work.shots) == len(questioned.work.shots) + 1
    assert taken(state).kind == prompted


def test_the_same_again_is_taken_for_the_prompted_shot() -> None:
    state = measuring_again()
    prompted = state.prompted
    state = read_at(read_at(state, REAR_OUTER), REAR_OUTER, 1.0)
    assert state.question is None
    assert taken(state).kind == prompted


def test_a_repeat_of_the_shot_that_ended_a_walk_counts_for_the_next_one() -> None:
    state = measuring_again()
    last = state.work.shots[-1].kind
    again = read_at(state, last)
    assert taken(again).kind == last
    assert again.prompted == state.prompted
    assert len(again.work.todo) == len(state.work.todo) - 1


def test_what_could_be_either_of_two_is_only_questioned() -> None:
    """Of the front wall nothing is known yet: both shots to it could read this."""
    assert question_of(read_at(shoot(BEGUN, WORLD), REAR_INNER, 600.0)).instead is None


def test_what_fits_the_prompted_shot_nearly_as_well_is_only_questioned() -> None:
    between = (WORLD.true_distance(REAR_INNER) + WORLD.true_distance(REAR_OUTER_TO_FRONT)) / 2
    state = THREE_TAKEN.feed(reading(between))
    assert question_of(state).instead is None


def test_a_held_shot_stays_the_held_one() -> None:
    state = read_at(do(THREE_TAKEN, Act.HOLD), REAR_OUTER_TO_FRONT)
    assert question_of(state).instead is None


def test_there_without_an_offer_changes_nothing() -> None:
    assert do(THREE_TAKEN, Act.THERE) is THREE_TAKEN
    questioned = shoot(BEGUN, WORLD, [0.0, 700.0])
    assert question_of(questioned).instead is None
    assert do(questioned, Act.THERE) is questioned


def test_keep_and_drop_answer_an_offer_too() -> None:
    questioned = read_at(THREE_TAKEN, REAR_OUTER_TO_FRONT, 7.0)
    assert taken(do(questioned, Act.KEEP)).kind == REAR_INNER
    assert do(questioned, Act.DROP).work == THREE_TAKEN.work
