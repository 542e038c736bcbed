"""Which cue belongs to which change of a round, and what it sounds like."""

from __future__ import annotations

from itertools import pairwise

import pytest
from exact_shots import SETUP, TARGET, command, do, off, reading, shoot, with_targets, world_of
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.model import Act, Placement
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.cues import Cue, Sign, cue
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Event, Round

gaps = st.floats(0.0, 1000.0)
BEGUN = Round.begin(SETUP)
AWAY = world_of(left=off(setback_mm=30.0))


def heard(before: Round, *events: Event) -> Cue | None:
    """What is to be heard once these have come in together."""
    after = before
    for event in events:
        after = after.feed(event)
    return cue(guide(before), guide(after))


def next_reading(state: Round, error_mm: float = 0.0) -> Event:
    return reading(AWAY.true_distance(state.prompted) + error_mm)


def to_be_nudged() -> Round:
    state = shoot(BEGUN, AWAY, [0.0] * 4)
    assert state.work.stage is Stage.NUDGE
    return state


def test_nothing_is_heard_of_what_is_seen_first() -> None:
    assert cue(None, guide(to_be_nudged())) is None


def test_a_reading_of_the_walk_is_taken() -> None:
    assert heard(BEGUN, next_reading(BEGUN)) == Cue(Sign.TAKEN)


def test_the_walks_last_reading_tells_how_far_there_is_to_nudge() -> None:
    last_but_one = shoot(BEGUN, AWAY, [0.0] * 3)
    found = heard(last_but_one, next_reading(last_but_one))
    assert found is not None
    assert found.sign is Sign.NUDGE
    assert found.gap == pytest.approx(30.0 / SETUP.tolerance.position_mm, abs=0.01)


def test_a_turn_is_told_in_tolerances_of_the_toe_in() -> None:
    world = world_of(left=off(toe_in_deg=-4.0))
    gap = guide(shoot(BEGUN, world, [0.0] * 4)).gap
    assert gap == pytest.approx(4.0 / SETUP.tolerance.toe_in_deg, abs=0.05)


def test_a_held_shot_moves_the_tone_with_the_cabinet() -> None:
    state = do(to_be_nudged(), Act.HOLD)
    far = shoot(state, AWAY)
    near = shoot(far, world_of(left=off(setback_mm=10.0)))
    first, then = (guide(one).gap for one in (far, near))
    assert first is not None
    assert then is not None
    assert first - then == pytest.approx(20.0 / SETUP.tolerance.position_mm, abs=0.1)
    assert cue(guide(far), guide(near)) == Cue(Sign.NUDGE, then)


def test_a_watched_point_is_heard_to_come_nearer_and_to_be_there() -> None:
    states = [to_be_nudged()]
    for setback_mm in (20.0, 5.0, 0.5):
        states.append(shoot_same(states[-1], off(setback_mm=setback_mm)))
    found = [cue(guide(one), guide(other)) for one, other in pairwise(states)]
    assert [one.sign for one in found if one] == [Sign.NUDGE, Sign.NUDGE, Sign.STOP]
    assert found[0] is not None
    assert found[1] is not None
    assert found[0].gap > found[1].gap
    alike = shoot_same(states[-1], off(setback_mm=0.5))
    assert cue(guide(states[-1]), guide(alike)) == Cue(Sign.TAKEN)


def shoot_same(state: Round, standing: Placement) -> Round:
    """One more reading of the shot that is watched, or of the first after a nudge."""
    kind = state.work.watch.kind if state.work.watch else state.prompted
    return state.feed(reading(world_of(left=standing).true_distance(kind)))


def test_a_cabinet_that_stands_in_is_heard_once() -> None:
    world = world_of(left=TARGET)
    last_but_one = shoot(BEGUN, world, [0.0] * 3)
    settled = shoot(last_but_one, world)
    assert settled.works.left.stage is Stage.SETTLED
    assert cue(guide(last_but_one), guide(settled)) == Cue(Sign.IN)
    assert cue(guide(settled), guide(shoot(settled, world))) == Cue(Sign.TAKEN)


def test_a_cabinet_without_a_target_is_measured_and_never_in() -> None:
    state = Round.begin(with_targets(None, None))
    signs = set()
    while not state.finished:
        after = shoot(state, AWAY)
        found = cue(guide(state), guide(after))
        signs.add(found.sign if found else None)
        state = after
    assert signs == {Sign.TAKEN}


def test_a_question_is_heard_each_time_another_reading_is_questioned() -> None:
    odd = BEGUN.feed(reading(9000.0))
    assert heard(BEGUN, reading(9000.0)) == Cue(Sign.QUESTION)
    assert heard(odd, reading(9500.0)) == Cue(Sign.QUESTION)
    assert heard(odd, next_reading(odd)) == Cue(Sign.TAKEN)


def test_decisions_are_not_heard_save_for_what_follows_from_them() -> None:
    state = shoot(BEGUN, AWAY)
    for act in (Act.UNDO, Act.BACK, Act.SKIP, Act.HOLD, Act.OTHER, Act.MOVED, Act.SWEEP):
        assert heard(state, command(act)) is None
    odd = state.feed(reading(9000.0))
    assert heard(odd, command(Act.DROP)) is None


def test_a_held_shot_that_is_let_go_brings_the_cabinet_in() -> None:
    world = world_of(left=TARGET)
    held = shoot(do(shoot(BEGUN, world, [0.0] * 3), Act.HOLD), world)
    assert heard(held, command(Act.HOLD)) == Cue(Sign.IN)


def test_what_comes_together_is_heard_as_one() -> None:
    state = shoot(BEGUN, AWAY)
    assert heard(BEGUN, next_reading(BEGUN), next_reading(state)) == Cue(Sign.TAKEN)


def test_the_bell_tells_taken_in_and_question_apart() -> None:
    taken, nudge, stop, is_in, question = (Cue(sign).bells for sign in Sign)
    assert (taken, nudge, stop, is_in, question) == (1, 1, 1, 2, 3)


@given(gaps, gaps)
def test_the_nearer_the_higher_and_the_faster(one: float, other: float) -> None:
    near, far = (Cue(Sign.NUDGE, gap).tones for gap in sorted((one, other)))
    assert near.notes_hz >= far.notes_hz
    assert near.every_s <= far.every_s
    assert near.times >= far.times


@given(gaps)
def test_a_nudge_lasts_about_three_seconds_and_a_small_loudspeaker_can_give_it(gap: float) -> None:
    tones = Cue(Sign.NUDGE, gap).tones
    assert tones.times * tones.every_s == pytest.approx(3.0, abs=tones.every_s)
    assert all(300.0 < note < 1400.0 for note in tones.notes_hz)


def test_in_is_a_chord_of_its_own_and_a_question_is_low() -> None:
    is_in, question, taken = (
        Cue(sign).tones.notes_hz for sign in (Sign.IN, Sign.QUESTION, Sign.TAKEN)
    )
    assert len(is_in) == 3
    assert max(question) < min(*is_in, *taken)
    assert max(question) < Cue(Sign.NUDGE, 1e9).tones.notes_hz[0]
