"""The live round: which shot a reading is, and what comes next. Records in, records out.

A round changes only by ``feed``: a reading or a command and the old state give the new state, so
that the journal alone brings back any situation. One cabinet is worked on at a time::

    MEASURE  each reading goes to the prompted shot; when the walk is done the shots are judged
    NUDGE    the cabinet is to be moved; the next reading is the first after the move
    SETTLED  it stands in; the round goes on to the other cabinet
    BEST     as near as this meter can tell with this tolerance

A reading far from what was expected is not taken but questioned. The meter's button answers: the
same again confirms it, one that fits replaces it. Where a questioned reading fits another shot far
better it is offered there, and goes there only when the person says so; a steady repeat of the shot
before, which nothing else explains, is one more of that shot.

After a nudge was asked the first shot may be followed by more at the same point, with the meter at
rest there and the cabinet on its way. Those only say how far it is still to go; two alike in a row
are of where it has come to stand. A reading that fits the next shot goes on with the walk, so that
one who shoots once and walks on is not held up. While a shot is held its readings are only
watched, because the cabinet may be moving; the last one is taken when the shot is let go.
"""

from __future__ import annotations

import msgspec

from witnessmark.errors import TooFewShots, WitnessmarkError
from witnessmark.model import (
    Act,
    Command,
    Pair,
    Reading,
    Revised,
    Setup,
    Shot,
    ShotKind,
    Side,
)
from witnessmark.placing.expect import (
    FIRST_GATE_MM,
    Expectation,
    agree,
    expect,
    gate_at_rest,
    unmeasured,
)
from witnessmark.placing.judge import judge
from witnessmark.placing.resting import is_coming, still_there, still_there_before, watched
from witnessmark.placing.route import route
from witnessmark.placing.stand import Stage, Stand
from witnessmark.placing.which import elsewhere, is_repeat

Event = Reading | Command | Revised


class Question(msgspec.Struct, frozen=True):
    """A reading that was not what the shot should give."""

    reading_mm: float
    expected_mm: float
    instead: ShotKind | None = None
    """The one shot of this cabinet that it fits far better than the prompted one."""


class Round(msgspec.Struct, frozen=True):
    """The whole state of a live round."""

    setup: Setup
    stands: Pair[Stand]
    side: Side = Side.LEFT
    hold: bool = False
    held_mm: tuple[float, ...] = ()
    """What the held shot has read so far."""
    question: Question | None = None
    readings: int = 0
    last: Shot | None = None
    """The shot that the last reading became; None when it was questioned or dropped."""
    past: tuple[Round, ...] = ()
    """The states that undo goes back to, the latest last, each without a past of its own."""

    @classmethod
    def begin(cls, setup: Setup) -> Round:
        """A round in which nothing has been measured yet."""
        return cls(setup, Pair(*(unmeasured(setup, side, route(setup, side)) for side in Side)))

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
            changed = _with_reading(self, event.from_the_edge_mm(self.setup.meter))
            changed = msgspec.structs.replace(changed, readings=self.readings + 1)
        elif isinstance(event, Revised):
            return _revised(self, event.setup)
        elif event.act is Act.UNDO:
            return _undone(self)
        else:
            changed = _DECISIONS[event.act](self)
        if changed is self:
            return self
        bare = msgspec.structs.replace(self, past=())
        return msgspec.structs.replace(changed, past=(*self.past, bare))


def _revised(state: Round, setup: Setup) -> Round:
    """The cabinets stand where they stood; what that means is judged anew.

    Where something else is added to the meter's readings from now on, the shots before are not to
    be mixed with those to come: all is measured afresh. There is no undo past it: the states before
    are of another setup.
    """
    fresh = Round.begin(setup)
    if setup.meter.added_mm != state.setup.meter.added_mm:
        return msgspec.structs.replace(fresh, side=state.side, readings=state.readings)
    for side in Side:
        fresh = _rejudged(msgspec.structs.replace(fresh, side=side), state.stands[side])
    side = state.side if fresh.stands[state.side].stage is not Stage.SETTLED else state.side.other
    return msgspec.structs.replace(fresh, side=side, readings=state.readings)


def _rejudged(state: Round, stand: Stand) -> Round:
    """The present cabinet with the shots of its last finished walk judged in this setup."""
    if stand.stage is Stage.MEASURE and stand.shots:
        present = msgspec.structs.replace(state.stand, shots=stand.shots, judged=stand.judged)
    elif stand.judged:
        present = msgspec.structs.replace(state.stand, shots=stand.judged)
        try:
            present = judge(state.setup, state.side, present)
        except WitnessmarkError:  # a touch point that is no more, or one shot too few for the rest
            return state
    else:
        return state
    nudged = msgspec.structs.replace(present, nudges=stand.nudges)
    return msgspec.structs.replace(state, stands=state.stands.replacing(state.side, nudged))


def _undone(state: Round) -> Round:
    if not state.past:
        return state
    *past, before = state.past
    return msgspec.structs.replace(before, past=tuple(past))


def _with_reading(state: Round, reading_mm: float) -> Round:
    if not state.hold and still_there(state.setup, state.side, state.stand, reading_mm):
        return _watched(state, watched(state.setup, state.stand, reading_mm))
    expected = _expected(state)
    if expected.fits(reading_mm):
        return _accept(state, reading_mm)
    stand, before = state.stand, state.question
    if not state.hold:
        since = still_there_before(state.setup, state.side, stand, reading_mm)
        if since is not None:
            return _watched(state, since)
    instead = None if state.hold else elsewhere(state.setup, state.side, stand, reading_mm)
    if instead is not None and is_repeat(state.setup, stand, instead, reading_mm):
        return _take(state, Shot(instead, reading_mm))
    question = Question(reading_mm, expected.reading_mm, instead)
    state = msgspec.structs.replace(state, question=question, last=None)
    confirmed = before and agree(state.setup.meter, before.reading_mm, reading_mm)
    return _keep(state) if confirmed else state


def _expected(state: Round) -> Expectation:
    if state.held_mm:
        return Expectation(state.held_mm[-1], FIRST_GATE_MM)
    return expect(state.setup, state.side, state.stand, state.prompted)


def _accept(state: Round, reading_mm: float) -> Round:
    if not state.hold:
        return _take(state, Shot(state.prompted, reading_mm))
    return msgspec.structs.replace(
        state,
        held_mm=(*state.held_mm, reading_mm),
        question=None,
        last=Shot(state.prompted, reading_mm),
    )


def _take(state: Round, shot: Shot) -> Round:
    """The last reading is this shot."""
    if state.finished:
        state = _checking_both(state)
    state = msgspec.structs.replace(state, last=shot)
    stand = _with_shot(_under_way(state), shot)
    stand = msgspec.structs.replace(stand, coming=is_coming(state.setup, state.side, stand))
    return _judge_when_done(_settled_on(state, stand))


def _watched(state: Round, stand: Stand) -> Round:
    """The meter rests where it was, and the cabinet comes nearer or has come to stand."""
    return msgspec.structs.replace(_settled_on(state, stand), last=stand.shots[-1])


def _with_shot(stand: Stand, shot: Shot) -> Stand:
    """The cabinet with a shot that was asked for, or with one more of a kind that it has."""
    if shot.kind not in stand.todo:
        return msgspec.structs.replace(stand, shots=(*stand.shots, shot))
    again = shot.kind in stand.repeated
    kept = tuple(old for old in stand.shots if not (again and old.kind == shot.kind))
    place = stand.todo.index(shot.kind)
    todo = stand.todo[:place] + stand.todo[place + 1 :]
    return msgspec.structs.replace(stand, shots=(*kept, shot), todo=todo)


def _under_way(state: Round) -> Stand:
    """The present cabinet as it is being measured, begun afresh where it was not."""
    stand = state.stand
    return stand if stand.stage is Stage.MEASURE else _afresh(stand)


def _afresh(stand: Stand) -> Stand:
    """The cabinet may stand elsewhere now: what is known of it only says what to expect."""
    return Stand(
        route=stand.route,
        todo=stand.route.shots,
        belief=stand.belief,
        gate_mm=stand.gate_mm,
        judged=stand.judged,
        nudged_from=stand.nudged_from if stand.stage is Stage.NUDGE else None,
        nudges=stand.nudges + (stand.stage is Stage.NUDGE),
    )


def _checking_both(state: Round) -> Round:
    """A shot after the end begins a check, which the other cabinet takes part in."""
    other = state.side.other
    stand = _afresh(state.stands[other])
    return msgspec.structs.replace(state, stands=state.stands.replacing(other, stand))


def _settled_on(state: Round, stand: Stand) -> Round:
    """The state with this stand of the present cabinet, nothing questioned and nothing held."""
    return msgspec.structs.replace(
        state,
        stands=state.stands.replacing(state.side, stand),
        question=None,
        hold=False,
        held_mm=(),
    )


def _judge_when_done(state: Round) -> Round:
    """Once the walk round the present cabinet is done, decide what its shots call for."""
    stand = state.stand
    if stand.todo:
        return state
    if not stand.shots:
        return _hand_over(_settled_on(state, _afresh(stand)))
    try:
        judged = judge(state.setup, state.side, stand)
    except TooFewShots:
        return _settled_on(state, _short_of_shots(state))
    state = _settled_on(state, judged)
    return _hand_over(state) if judged.stage in (Stage.SETTLED, Stage.BEST) else state


def _short_of_shots(state: Round) -> Stand:
    """Ask for what was skipped; where nothing was, the shots contradict each other: all again."""
    stand, order = state.stand, tuple(dict.fromkeys(state.stand.route.shots))
    taken = {shot.kind for shot in stand.shots}
    skipped = tuple(kind for kind in order if kind not in taken)
    if skipped:
        return msgspec.structs.replace(stand, todo=skipped, wanted=skipped)
    return msgspec.structs.replace(_afresh(stand), todo=order, repeated=order)


def _hand_over(state: Round) -> Round:
    """Go on to the other cabinet if that is still to be done."""
    other = state.stands[state.side.other]
    if other.stage in (Stage.SETTLED, Stage.BEST):
        return state
    return msgspec.structs.replace(state, side=state.side.other)


def _skip(state: Round) -> Round:
    stand = _under_way(state)
    stand = msgspec.structs.replace(stand, todo=stand.todo[1:], coming=False)
    return _judge_when_done(_settled_on(state, stand))


def _hold(state: Round) -> Round:
    if not state.hold:
        return msgspec.structs.replace(state, hold=True)
    if not state.held_mm:
        return msgspec.structs.replace(state, hold=False, question=None)
    reading_mm = state.held_mm[-1]
    if not agree(state.setup.meter, min(state.held_mm), max(state.held_mm)):
        state = _moved_while_held(state)
    shot = Shot(state.prompted, reading_mm)
    return _take(msgspec.structs.replace(state, hold=False, held_mm=()), shot)


def _moved_while_held(state: Round) -> Round:
    """The cabinet was moved under the meter: only the held shot is of where it stands now."""
    stand = _afresh(state.stand)
    others = (kind for kind in stand.todo if kind != state.prompted)
    stand = msgspec.structs.replace(stand, todo=(state.prompted, *others))
    return _settled_on(state, stand)


def _keep(state: Round) -> Round:
    question = state.question
    if question is None:
        return state
    # it stands off from where it was thought to, so its other shots may surprise as much
    surprise = abs(question.reading_mm - question.expected_mm) + gate_at_rest(state.setup.meter)
    stand = msgspec.structs.replace(state.stand, gate_mm=max(state.stand.gate_mm, surprise))
    state = msgspec.structs.replace(state, stands=state.stands.replacing(state.side, stand))
    return _accept(state, question.reading_mm)


def _drop(state: Round) -> Round:
    return state if state.question is None else msgspec.structs.replace(state, question=None)


def _there(state: Round) -> Round:
    question = state.question
    if question is None or question.instead is None:
        return state
    return _take(state, Shot(question.instead, question.reading_mm))


def _moved(state: Round) -> Round:
    stand = _afresh(state.stand)
    if state.stand.stage is not Stage.NUDGE:
        # by a hand that no one asked: it may stand anywhere
        anywhere = unmeasured(state.setup, state.side, stand.route)
        stand = msgspec.structs.replace(stand, belief=anywhere.belief, gate_mm=anywhere.gate_mm)
    return _settled_on(state, stand)


def _other(state: Round) -> Round:
    return msgspec.structs.replace(_settled_on(state, state.stand), side=state.side.other)


_DECISIONS = {
    Act.SKIP: _skip,
    Act.HOLD: _hold,
    Act.KEEP: _keep,
    Act.DROP: _drop,
    Act.THERE: _there,
    Act.MOVED: _moved,
    Act.OTHER: _other,
}
