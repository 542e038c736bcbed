"""Whatever is fed to a round: it never raises, is the same when replayed, and can be undone."""

from __future__ import annotations

import re
from functools import cache

import msgspec
import pytest
from effort import examples
from exact_shots import AT, SETUP, TARGET, world_of
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.lengths import Units
from witnessmark.model import (
    Act,
    Cabinet,
    Decision,
    Held,
    Meter,
    Pair,
    Placement,
    Reading,
    Room,
    Setup,
    SetupChanged,
    Side,
    TouchPoint,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import Event, Round
from witnessmark.words.live import say

FIGURE = re.compile(r"(?:[A-Z0-9 +\-./'\"?%°±←→↑↓↔↺↻]|mm)+")
LONGEST_FIGURE = 19

Step = tuple[str, float] | Act | Setup
"""A decision; another setup; any reading; or one so far off the prompted shot, of the cabinet where
it was put first (``near``) or on its target (``home``)."""


def structs(**changes: object) -> Setup:
    return msgspec.structs.replace(SETUP, **changes)


SETUPS = {
    "both targets": SETUP,
    "no targets": structs(targets=Pair(None, None)),
    "one target": structs(targets=Pair(None, TARGET)),
    "held on the wall": structs(held=Held.WALL),
    "inches": structs(units=Units.INCH_32),
    "tenths": structs(units=Units.TENTH_MM),
    "a coarse meter": structs(meter=Meter(3.0, 5.0, 4.0, 200.0)),
    "a fine meter": structs(meter=Meter(0.05, 0.1, 0.0)),
    "a room out of square": structs(room=Room((0, 0), (5060, 60), (5100, 6580), (-40, 6510))),
    "feet of its own": structs(
        cabinets=Pair(
            Cabinet(268, 405, feet={"spike": TouchPoint(0, 30), "wheel": TouchPoint(40, 390)}),
            Cabinet(268, 405),
        )
    ),
}

steps = st.one_of(
    st.tuples(st.sampled_from(["near", "home", "home"]), st.floats(-1.0, 1.0)),
    st.tuples(st.sampled_from(["near", "home", "home"]), st.just(0.0)),
    st.tuples(st.just("home"), st.just(0.0)),
    st.tuples(st.just("near"), st.sampled_from([12.0, -16.0, 55.0, 320.0, -700.0])),
    st.tuples(st.just("any"), st.floats(0.0, 100_000.0)),
    st.sampled_from(Act),
    st.sampled_from(Act),
    st.sampled_from(list(SETUPS.values())),
)
walks = st.integers(0, 40).flatmap(lambda n: st.lists(steps, min_size=n, max_size=n))
standings = st.builds(
    Placement, st.floats(1330.0, 1510.0), st.floats(1720.0, 1900.0), st.floats(3.0, 15.0)
)


def event_for(state: Round, step: Step, left: Placement, right: Placement) -> Event:
    """The step as an event: what the meter would read in the room as it truly is."""
    if isinstance(step, Act):
        return Decision(step, AT)
    if isinstance(step, Setup):
        return SetupChanged(step, AT)
    how, distance_mm = step
    if how == "home":
        left = right = TARGET
    if how != "any":
        distance_mm += world_of(state.setup, left, right).true_distance(state.prompted)
    return Reading(max(distance_mm, 0.0), AT, "test")


@cache
def begun(name: str) -> Round:
    """A round with nothing fed to it; feeding makes another and leaves this one as it is."""
    return Round.begin(SETUPS[name])


def check_record(state: Round, guidance: Guidance) -> None:
    """What holds of every state and of what is told of it."""
    assert FIGURE.fullmatch(say(guidance).headline.figure), say(guidance).headline.figure
    assert len(say(guidance).headline.figure) <= LONGEST_FIGURE, say(guidance).headline.figure
    assert all(words.strip() for words in (say(guidance).headline.words, *say(guidance).details))
    assert guidance.question is None or (guidance.question.expected_mm or 1) > 0
    assert guidance.prompt.kind == state.prompted
    assert guidance.prompt.kind.cabinet is guidance.side
    assert 1 <= guidance.prompt.number <= guidance.prompt.count
    for side in Side:
        status = guidance.cabinets[side]
        if status.stage is Stage.NUDGE:
            assert status.appraisal is not None
            assert status.appraisal.against_target is not None
            assert status.appraisal.against_target.nudge.asked
            assert not status.stale
        if status.stage is Stage.SETTLED:
            assert status.appraisal is not None
            assert status.appraisal.verdict in {None, "in"}
        if status.target is None:
            assert status.stage in {Stage.MEASURE, Stage.SETTLED}
    assert guidance.finished == (
        {guidance.cabinets[side].stage for side in Side} <= {Stage.SETTLED, Stage.BEST}
    )


@pytest.mark.parametrize("name", SETUPS)
@examples(3, 60)
@given(walk=walks, left=standings, right=standings)
def test_any_events_at_all(name: str, walk: list[Step], left: Placement, right: Placement) -> None:
    state = begun(name)
    check_record(state, guide(state))
    events: list[Event] = []
    for step in walk:
        before = state
        events.append(event_for(state, step, left, right))
        state = state.feed(events[-1])
        guidance = guide(state)
        check_record(state, guidance)
        if isinstance(step, Setup):
            assert state.setup == step
            assert state.feed(Decision(Act.UNDO, AT)) is state
        elif step is not Act.UNDO and state is not before:
            assert state.feed(Decision(Act.UNDO, AT)) == before
        if isinstance(step, tuple):
            assert state.readings == before.readings + 1
    replayed = begun(name)
    for event in events:
        replayed = replayed.feed(event)
    assert replayed == state
    assert guide(replayed) == guide(state)


@examples(6, 100)
@given(walk=walks, left=standings, right=standings)
def test_undoing_everything_goes_back_to_the_beginning(
    walk: list[Step], left: Placement, right: Placement
) -> None:
    state = Round.begin(SETUP)
    for step in walk:
        if not isinstance(step, Setup):
            state = state.feed(event_for(state, step, left, right))
    for _ in walk:
        state = state.feed(Decision(Act.UNDO, AT))
    assert state == Round.begin(SETUP)


@examples(4, 100)
@given(walk=walks, left=standings, right=standings)
def test_a_state_is_not_changed_by_what_is_fed_to_it(
    walk: list[Step], left: Placement, right: Placement
) -> None:
    state = Round.begin(SETUP)
    for step in walk:
        written = msgspec.json.encode(state)
        after = state.feed(event_for(state, step, left, right))
        guide(after)
        assert msgspec.json.encode(state) == written
        state = after


@examples(8, 150)
@given(left=standings, right=standings, side=st.sampled_from(Side))
def test_a_walk_of_true_readings_finds_the_cabinet_and_the_nudge_back(
    left: Placement, right: Placement, side: Side
) -> None:
    state = Round.begin(SETUP)
    if side is Side.RIGHT:
        state = state.feed(Decision(Act.OTHER, AT))
    for _ in range(4):
        state = state.feed(event_for(state, ("near", 0.0), left, right))
    appraisal = guide(state).cabinets[side].appraisal
    assert appraisal is not None
    truth = Pair(left, right)[side]
    assert appraisal.measured.side_mm == pytest.approx(truth.side_mm, abs=0.01)
    assert appraisal.measured.setback_mm == pytest.approx(truth.setback_mm, abs=0.01)
    assert appraisal.measured.toe_in_deg == pytest.approx(truth.toe_in_deg, abs=0.002)
    assert appraisal.against_target is not None
    assert appraisal.against_target.nudge.move.side_mm == pytest.approx(
        TARGET.side_mm - truth.side_mm, abs=0.01
    )
    assert not appraisal.suspects
