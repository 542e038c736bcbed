"""The live round: which shot a reading is, and what comes next. Records in, records out.

A round changes only by ``feed``: a reading or a command and the old state give the new state, so
that the journal alone brings back any situation. One cabinet is worked on at a time::

    MEASURE  each reading goes to the prompted shot; when the walk is done the shots are judged
    NUDGE    the cabinet is to be moved; the next reading is the first after the move
    SETTLED  it stands in; the round goes on to the other cabinet
    BEST     as near as this meter can tell with this tolerance

A reading far from what was expected is not taken but questioned. The meter's button answers: the
same again confirms it, one that fits replaces it.
"""

from __future__ import annotations

import msgspec

from witnessmark.geometry.verdict import Verdict
from witnessmark.model import (
    Act,
    Command,
    Pair,
    Reading,
    Setup,
    Shot,
    ShotKind,
    Side,
)
from witnessmark.placing.appraise import Appraisal, appraise
from witnessmark.placing.expect import Expectation, agree, expect, gate_after_move, gate_at_rest
from witnessmark.placing.stand import Stage, Stand
from witnessmark.placing.walk import walk

Event = Reading | Command

MOST_WALKS = 3
"""Walks round a cabinet that stands still, before more of them are given up as useless."""
HOPELESS_SHARE = 0.9
"""An expanded uncertainty above this part of the tolerance leaves no room for an error."""


class Question(msgspec.Struct, frozen=True):
    """A reading that was not what the shot should give."""

    reading_mm: float
    expected_mm: float


class Round(msgspec.Struct, frozen=True):
    """The whole state of a live round."""

    setup: Setup
    stands: Pair[Stand]
    side: Side = Side.LEFT
    hold: bool = False
    question: Question | None = None
    readings: int = 0
    last: Shot | None = None
    """The shot that the last reading became; None when it was questioned or dropped."""
    before: Round | None = None
    """The state that an undo goes back to."""

    @classmethod
    def begin(cls, setup: Setup) -> Round:
        """A round in which nothing has been measured yet."""
        fresh = {side: Stand(todo=walk(setup, side)) for side in Side}
        return cls(setup, Pair(fresh[Side.LEFT], fresh[Side.RIGHT]))

    @property
    def stand(self) -> Stand:
        """The cabinet that is being worked on."""
        return self.stands[self.side]

    @property
    def prompted(self) -> ShotKind:
        """The shot that the next reading is taken for."""
        return self.stand.todo[0]

    @property
    def finished(self) -> bool:
        """Whether there is nothing left to do with either cabinet."""
        return all(self.stands[side].stage in (Stage.SETTLED, Stage.BEST) for side in Side)

    def feed(self, event: Event) -> Round:
        """The state after an event; faults and noise of a meter change nothing and are not fed."""
        if isinstance(event, Reading):
            return msgspec.structs.replace(
                _with_reading(self, event.distance_mm), readings=self.readings + 1, before=self
            )
        if event.act is Act.UNDO:
            return self.before or self
        changed = _DECISIONS[event.act](self)
        return self if changed is self else msgspec.structs.replace(changed, before=self)


def _with_reading(state: Round, reading_mm: float) -> Round:
    expected = expect(state.setup, state.side, state.stand)
    if _is_answer(state, reading_mm, expected) or expected.fits(reading_mm):
        return _take(state, reading_mm)
    return msgspec.structs.replace(
        state, question=Question(reading_mm, expected.reading_mm), last=None
    )


def _is_answer(state: Round, reading_mm: float, expected: Expectation) -> bool:
    """Whether a surprising reading only says again what the questioned one said."""
    question = state.question
    return (
        question is not None
        and not expected.fits(reading_mm)
        and agree(state.setup.meter, question.reading_mm, reading_mm)
    )


def _take(state: Round, reading_mm: float) -> Round:
    kind = state.prompted
    stand = state.stand
    if stand.stage is Stage.NUDGE:
        stand = _afresh(state.setup, state.side, stand, nudges=stand.nudges + 1)
    elif stand.stage is not Stage.MEASURE:
        stand = _afresh(state.setup, state.side, stand, nudges=stand.nudges)
    shot = Shot(kind, reading_mm)
    replaces = state.hold or kind in stand.repeated
    kept = tuple(old for old in stand.shots if not (replaces and old.kind == kind))
    stand = msgspec.structs.replace(stand, shots=(*kept, shot))
    if not state.hold:
        stand = msgspec.structs.replace(stand, todo=stand.todo[1:])
    state = msgspec.structs.replace(
        state, stands=state.stands.replacing(state.side, stand), question=None, last=shot
    )
    return state if stand.todo else _judge(state)


def _afresh(setup: Setup, side: Side, stand: Stand, nudges: int) -> Stand:
    """The cabinet may stand elsewhere now: what is known of it only says what to expect."""
    return Stand(
        todo=walk(setup, side),
        judged=stand.judged,
        nudges=nudges,
        belief=stand.belief,
        gate_mm=stand.gate_mm,
    )


def _judge(state: Round) -> Round:
    """The walk round the present cabinet is done: decide what its shots call for."""
    setup, side, stand = state.setup, state.side, state.stand
    if not stand.shots:
        return _hand_over(_with_stand(state, _afresh(setup, side, stand, stand.nudges)))
    appraisal = appraise(setup, stand.shots).cabinets[side]
    doubtful = tuple(
        check.shot.kind for check in appraisal.suspects if check.shot.kind not in stand.repeated
    )
    if doubtful:
        repeated = (*stand.repeated, *doubtful)
        return _with_stand(state, msgspec.structs.replace(stand, todo=doubtful, repeated=repeated))
    walks = stand.walks + 1
    stage = _stage(setup, appraisal, walks)
    again = stage is Stage.MEASURE
    stand = Stand(
        stage=stage,
        shots=stand.shots if again else (),
        todo=walk(setup, side),
        judged=stand.shots,
        walks=walks,
        nudges=stand.nudges,
        belief=appraisal.measured,
        gate_mm=gate_at_rest(setup.meter),
    )
    if stage is Stage.NUDGE:
        assert appraisal.nudge is not None  # noqa: S101 - the stage is NUDGE only with a target
        stand = msgspec.structs.replace(
            stand,
            belief=setup.targets[side],
            gate_mm=gate_after_move(setup.meter, appraisal.nudge),
        )
    state = _with_stand(state, stand)
    return _hand_over(state) if stage in (Stage.SETTLED, Stage.BEST) else state


def _stage(setup: Setup, appraisal: Appraisal, walks: int) -> Stage:
    error, expanded = appraisal.error, appraisal.expanded
    if error is None:
        return Stage.SETTLED
    if appraisal.verdict is Verdict.IN:
        return Stage.SETTLED
    tolerance = setup.tolerance
    pairs = (
        (error.side_mm, expanded.side_mm, tolerance.position_mm),
        (error.setback_mm, expanded.setback_mm, tolerance.position_mm),
        (error.toe_in_deg, expanded.toe_in_deg, tolerance.toe_in_deg),
    )
    hopeless = any(width > HOPELESS_SHARE * limit for _, width, limit in pairs)
    # a nudge smaller than what the measuring can see would be a nudge by chance
    worth_moving = any(abs(off) > max(width, limit - width) for off, width, limit in pairs)
    if hopeless and not worth_moving:
        return Stage.MEASURE if walks < MOST_WALKS else Stage.BEST
    return Stage.NUDGE


def _with_stand(state: Round, stand: Stand) -> Round:
    return msgspec.structs.replace(state, stands=state.stands.replacing(state.side, stand))


def _hand_over(state: Round) -> Round:
    """Go on to the other cabinet if that is still to be done."""
    other = state.stands[state.side.other]
    if other.stage in (Stage.SETTLED, Stage.BEST):
        return state
    return msgspec.structs.replace(state, side=state.side.other, hold=False)


def _skip(state: Round) -> Round:
    stand = state.stand
    if stand.stage is not Stage.MEASURE:
        stand = _afresh(state.setup, state.side, stand, stand.nudges)
    stand = msgspec.structs.replace(stand, todo=stand.todo[1:])
    state = msgspec.structs.replace(_with_stand(state, stand), question=None, hold=False)
    return state if stand.todo else _judge(state)


def _hold(state: Round) -> Round:
    if not state.hold:
        return msgspec.structs.replace(state, hold=True)
    stand = state.stand
    state = msgspec.structs.replace(state, hold=False)
    # the held shot that was taken is done with; go on to the next
    if any(shot.kind == state.prompted for shot in stand.shots):
        stand = msgspec.structs.replace(stand, todo=stand.todo[1:])
        state = _with_stand(state, stand)
        return state if stand.todo else _judge(state)
    return state


def _keep(state: Round) -> Round:
    return state if state.question is None else _take(state, state.question.reading_mm)


def _drop(state: Round) -> Round:
    return state if state.question is None else msgspec.structs.replace(state, question=None)


def _moved(state: Round) -> Round:
    stand = state.stand
    nudges = stand.nudges + (stand.stage is Stage.NUDGE)
    afresh = _afresh(state.setup, state.side, stand, nudges)
    # moved by a hand that no one asked: it may stand anywhere, so nothing is expected of it
    if stand.stage is not Stage.NUDGE:
        afresh = msgspec.structs.replace(afresh, belief=None)
    return msgspec.structs.replace(_with_stand(state, afresh), question=None, hold=False)


def _other(state: Round) -> Round:
    return msgspec.structs.replace(state, side=state.side.other, question=None, hold=False)


_DECISIONS = {
    Act.SKIP: _skip,
    Act.HOLD: _hold,
    Act.KEEP: _keep,
    Act.DROP: _drop,
    Act.MOVED: _moved,
    Act.OTHER: _other,
}
