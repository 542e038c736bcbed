"""A pair in a room and a meter without error, for rounds whose every reading is known."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from datetime import UTC, datetime

import msgspec

from witnessmark.model import (
    Act,
    Cabinet,
    Decision,
    Mark,
    Meter,
    Pair,
    Placement,
    Reading,
    Room,
    Seat,
    Setup,
    Shot,
    Side,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import guide
from witnessmark.placing.judge import Appraisal
from witnessmark.placing.marks import mark_of
from witnessmark.placing.round import QuestionedReading, Round
from witnessmark_simulators.room import SimulatedRoom

AT = datetime(2026, 3, 8, 17, 5, tzinfo=UTC)
TARGET = Placement(1420.0, 1810.0, 9.0)
SETUP = Setup(
    room=Room.rectangular(5060.0, 6580.0),
    cabinets=Pair(Cabinet(268.0, 405.0, 930.0), Cabinet(268.0, 405.0, 930.0)),
    seat=Seat(4420.0, 2530.0, 1030.0),
    meter=Meter(repeatability_mm=0.4, resolution_mm=1.0, zero_mm=0.7),
    targets=Pair[Placement | None](TARGET, TARGET),
)
MOST_EVENTS = 200


def world_of(
    setup: Setup = SETUP, left: Placement = TARGET, right: Placement = TARGET
) -> SimulatedRoom:
    """Return the room of a setup with the cabinets truly standing so."""
    return SimulatedRoom(setup.room, setup.cabinets, setup.seat, Pair(left, right))


def off(side_mm: float = 0.0, setback_mm: float = 0.0, toe_in_deg: float = 0.0) -> Placement:
    """Return a placement that far off the target."""
    return Placement(
        TARGET.side_mm + side_mm, TARGET.setback_mm + setback_mm, TARGET.toe_in_deg + toe_in_deg
    )


def with_targets(left: Placement | None, right: Placement | None, setup: Setup = SETUP) -> Setup:
    """Return the setup with other targets or none."""
    return msgspec.structs.replace(setup, targets=Pair[Placement | None](left, right))


def reading(distance_mm: float) -> Reading:
    """Return a reading of the meter."""
    return Reading(distance_mm, AT, "test")


def command(act: Act) -> Decision:
    """Return a decision of the person."""
    return Decision(act, AT)


def do(state: Round, *acts: Act) -> Round:
    """Return the state after some decisions."""
    for act in acts:
        state = state.feed(command(act))
    return state


def shoot(state: Round, world: SimulatedRoom, errors_mm: Iterable[float] = (0.0,)) -> Round:
    """Return the state after a prompted shot for each error, that much too long."""
    for error_mm in errors_mm:
        state = state.feed(reading(world.true_distance(state.prompted) + error_mm))
    return state


def walk_round(state: Round, world: SimulatedRoom) -> Round:
    """Return the state after one more walk round the present cabinet."""
    return shoot(state, world, itertools.repeat(0.0, len(state.work.todo)))


def settle(state: Round, world: SimulatedRoom) -> Round:
    """Return the state once the round is finished, with hands that do just as they are asked."""
    for _ in range(MOST_EVENTS):
        if state.finished:
            return state
        if state.work.stage is Stage.NUDGE:
            target = state.setup.targets[state.side]
            assert target is not None
            world = world.moved(state.side, target)
        state = shoot(state, world)
    raise AssertionError("the round did not come to an end")


def known(state: Round, side: Side) -> Appraisal:
    """Return what is known of a cabinet, which must be something."""
    appraisal = guide(state).cabinets[side].appraisal
    assert appraisal is not None
    return appraisal


def error_of(state: Round, side: Side) -> Placement:
    """Return how far off its target a cabinet was found."""
    against = known(state, side).against_target
    assert against is not None
    return against.error


def taken(state: Round) -> Shot:
    """Return the shot that the last reading became."""
    assert state.last is not None
    return state.last


def question_of(state: Round) -> QuestionedReading:
    """Return the question that is open."""
    assert state.question is not None
    return state.question


def mark_in(state: Round, at: datetime, name: str) -> Mark:
    """Return a mark of where the pair stands in a round."""
    return mark_of(guide(state), at, name)


def finished(setup: Setup = SETUP) -> Round:
    """Return a finished round of a pair that stands on its targets."""
    return settle(Round.begin(setup), world_of(setup))


LEFT, RIGHT = Side.LEFT, Side.RIGHT
