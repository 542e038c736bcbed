"""The live round: which shot a reading is, and what comes next. Records in, records out.

A round changes only by ``feed``: a reading or a command and the old state give the new state, so
that the journal alone brings back any situation. One cabinet is worked on at a time::

    MEASURE  each reading goes to the prompted shot; when the walk is done the shots are judged
    NUDGE    the cabinet is to be moved; the next reading is the first after the move
    SETTLED  it stands in; the round goes on to the other cabinet
    BEST     as near as this meter can tell with this tolerance
    ENOUGH   not sure to be in, and called good enough by the person

A reading far from what was expected is not taken but questioned. The meter's button answers: the
same again confirms it, one that fits replaces it. Where a questioned reading fits another shot far
better it is offered there, and goes there only when the person says so; a steady repeat of the shot
before, which nothing else explains, is one more of that shot.

After a nudge was asked the shots that tell most of it come first, and each may be followed by more
at the same point, with the meter at rest there and the cabinet on its way. Those only say how far
it is still to go. A reading that fits the next shot goes on with the walk, so that one who shoots
once and walks on is not held up. Several readings of one shot are gathered while it is held,
because the cabinet may be moving, or swept across the square to a wall.
"""

from __future__ import annotations

import msgspec

from witnessmark.errors import BadInput, TooFewShots, WitnessmarkError
from witnessmark.locate.rivals import TwoAnswers
from witnessmark.locate.tilt import tilt_of
from witnessmark.model import (
    Act,
    Decision,
    Held,
    OneCabinet,
    Pair,
    Reading,
    Setup,
    SetupChanged,
    Shot,
    ShotKind,
    Side,
    Tilt,
    TiltTaken,
)
from witnessmark.placing.alike import SettlingShot, is_as_they_stand, settling_shot
from witnessmark.placing.cabinet_work import CabinetWork, Stage
from witnessmark.placing.expectation import (
    LEAST_READINGS,
    Expectation,
    Gather,
    Gathering,
    agree,
    expect,
    gate_at_rest,
    is_repeat,
    misdirected_shot,
    unmeasured,
)
from witnessmark.placing.judge import called_enough, judge
from witnessmark.placing.nudge_watch import (
    reread_as_same_point,
    still_there,
    walked_as_usual,
    watched,
    with_repeat,
)
from witnessmark.placing.shot_list import route

UNDO_STEPS = 200
"""Events that can be undone at most: each takes memory as long as the round lasts."""

Event = Reading | Decision | TiltTaken | SetupChanged
"""All that changes a round."""


class QuestionedReading(msgspec.Struct, frozen=True):
    """A reading that was not what the shot should give."""

    reading_mm: float
    expected_mm: float | None
    """None where nothing was expected, and the reading is no distance in this room."""
    instead: ShotKind | None = None
    """The one shot of this cabinet that it fits far better than the prompted one."""


class Round(msgspec.Struct, frozen=True):
    """The whole state of a live round."""

    works: Pair[CabinetWork]
    side: Side = Side.LEFT
    gathered: Gathering | None = None
    """What the prompted shot has read so far, while it is held or swept."""
    question: QuestionedReading | None = None
    tilts: Pair[Tilt | None] = Pair[Tilt | None](None, None)
    """How far each cabinet leans, as it was taken last."""
    readings: int = 0
    last: Shot | None = None
    """The shot that the last reading became; None when it was questioned or dropped."""
    settling: SettlingShot | None = None
    """The one more shot that is prompted because it is not known yet whether the pair match."""
    past: tuple[Round, ...] = ()
    """The states that undo goes back to, the latest last, each without a past of its own."""

    @classmethod
    def begin(cls, setup: Setup) -> Round:
        """Return a round in which nothing has been measured yet."""
        cabinets = [OneCabinet(setup, side) for side in Side]
        return cls(Pair(*(unmeasured(cabinet, route(cabinet)) for cabinet in cabinets)))

    @property
    def setup(self) -> Setup:
        """Everything that was known before the first shot."""
        return self.work.setup

    @property
    def work(self) -> CabinetWork:
        """The cabinet that is being worked on."""
        return self.works[self.side]

    @property
    def prompted(self) -> ShotKind:
        """The shot that the next reading is taken for."""
        return self.work.todo[0]

    @property
    def gathering(self) -> Gathering | None:
        """What the next reading is gathered in: none, a hold, or a sweep where walls are swept."""
        swept = self.setup.sweeps and self.prompted.held is Held.WALL
        return self.gathered or (Gathering(Gather.SWEEP) if swept else None)

    @property
    def hold(self) -> bool:
        """Whether the prompted shot is held, because the cabinet may be moving."""
        return self.gathered is not None and self.gathered.how is Gather.HOLD

    @property
    def finished(self) -> bool:
        """Whether there is nothing left to do with either cabinet."""
        return all(work.done for work in self.works)

    def feed(self, event: Event) -> Round:
        """Return the state after an event; faults and noise of a meter are not fed."""
        if isinstance(event, Reading):
            changed = _with_reading(self, event.from_the_edge_mm(self.setup.meter))
            changed = msgspec.structs.replace(changed, readings=self.readings + 1)
        elif isinstance(event, SetupChanged):
            return _revised(self, event.setup)
        elif isinstance(event, TiltTaken):
            changed = _leaned(self, event)
        elif event.act is Act.UNDO:
            return _undone(self)
        else:
            changed = _DECISIONS[event.act](self)
        if changed is self:
            return self
        bare = msgspec.structs.replace(self, past=())
        return msgspec.structs.replace(changed, past=(*self.past[1 - UNDO_STEPS :], bare))

    def packed(self) -> bytes:
        """Write this state, without those before it, as bytes from which it can be brought back."""
        # not JSON, which has no infinity
        return _PACKER.encode(msgspec.structs.replace(self, past=()))

    @classmethod
    def unpacked(cls, packed: bytes) -> Round:
        """Bring back the state that was packed.

        Raises:
            msgspec.MsgspecError: when it is none that this program knows.
        """
        return _UNPACKER.decode(packed)


_PACKER = msgspec.msgpack.Encoder(enc_hook=float)  # numpy's floats, which annotations let pass
_UNPACKER = msgspec.msgpack.Decoder(Round)


def _revised(state: Round, setup: Setup) -> Round:
    """Return the round in a changed setup: the cabinets stay where they are, and are judged again.

    Where something else is added to the meter's readings from now on, the shots before are not to
    be mixed with those to come: all is measured afresh. Where the targets are others, the cabinets
    are about to be moved, and the shots of a walk that is under way are not to be mixed with those
    to come either. There is no undo past it: the states before are of another setup.
    """
    fresh = msgspec.structs.replace(Round.begin(setup), tilts=state.tilts)
    if setup.meter.added_mm != state.setup.meter.added_mm:
        return msgspec.structs.replace(fresh, side=state.side, readings=state.readings)
    is_moved_on = setup.targets != state.setup.targets
    for side in Side:
        work = state.works[side]
        if is_moved_on and work.stage is Stage.MEASURE:
            work = msgspec.structs.replace(work, shots=())
        fresh = _rejudged(msgspec.structs.replace(fresh, side=side), work)
    side = state.side.other if _is_over(fresh, state.side) else state.side
    return msgspec.structs.replace(fresh, side=side, readings=state.readings)


def _leaned(state: Round, event: TiltTaken) -> Round:
    try:
        tilt = tilt_of(event.readings, state.setup)
    except BadInput:  # refused where it was entered; a journal of another day may hold one
        return state
    return msgspec.structs.replace(state, tilts=state.tilts.replacing(event.side, tilt))


def _rejudged(state: Round, work: CabinetWork) -> Round:
    """The present cabinet with the shots of its last finished walk judged in this setup."""
    if work.stage is Stage.MEASURE and work.shots:
        present = msgspec.structs.replace(state.work, shots=work.shots, judged=work.judged)
    elif work.judged:
        present = msgspec.structs.replace(state.work, shots=work.judged)
        try:
            present = judge(present)
        except WitnessmarkError:  # a touch point that is no more, or one shot too few for the rest
            return state
        if work.stage is Stage.ENOUGH and work.target == present.target:
            present = called_enough(present) or present
    else:
        return state
    nudged = msgspec.structs.replace(present, nudges=work.nudges)
    return msgspec.structs.replace(state, works=state.works.replacing(state.side, nudged))


def _undone(state: Round) -> Round:
    if not state.past:
        return state
    *past, before = state.past
    return msgspec.structs.replace(before, past=tuple(past))


def _with_reading(state: Round, reading_mm: float) -> Round:
    if state.gathering is None and still_there(state.work, reading_mm):
        return _watched(state, with_repeat(state.work, reading_mm))
    if state.gathering is None and (as_usual := walked_as_usual(state.work, reading_mm)):
        state = msgspec.structs.replace(state, works=state.works.replacing(state.side, as_usual))
    expected = _expected(state)
    if expected.fits(reading_mm):
        return _accept(state, reading_mm)
    work, before = state.work, state.question
    if state.gathering is None:
        since = reread_as_same_point(work, reading_mm)
        if since is not None:
            return _watched(state, since)
    is_single = state.gathering is None
    instead = misdirected_shot(work, reading_mm) if is_single else None
    if instead is not None and is_repeat(work, instead, reading_mm):
        return _take(state, Shot(instead, reading_mm))
    expected_mm = expected.reading_mm if expected.tells else None
    question = QuestionedReading(reading_mm, expected_mm, instead)
    state = msgspec.structs.replace(state, question=question, last=None)
    confirmed = before and agree(state.setup.meter, before.reading_mm, reading_mm)
    return _keep(state) if confirmed else state


def _expected(state: Round) -> Expectation:
    single = expect(state.work, state.prompted)
    return state.gathering.expects(state.setup.meter, single) if state.gathering else single


def _accept(state: Round, reading_mm: float) -> Round:
    if state.gathering is None:
        return _take(state, Shot(state.prompted, reading_mm))
    gathering = state.gathering.with_reading(reading_mm)
    state = msgspec.structs.replace(
        state, gathered=gathering, question=None, last=Shot(state.prompted, reading_mm)
    )
    is_full = gathering.how is Gather.SWEEP and not gathering.missing
    return _take(state, gathering.shot(state.prompted, state.setup)) if is_full else state


def _take(state: Round, shot: Shot) -> Round:
    """The last reading is this shot."""
    if state.settling is not None and shot.kind == state.settling.kind:
        state = _adding_to_both(state)
    elif state.finished:
        state = _checking_both(state)
    state = msgspec.structs.replace(state, last=shot)
    work = watched(state.work.under_way().with_shot(shot))
    return _judge_when_done(_settled_on(state, work))


def _watched(state: Round, work: CabinetWork) -> Round:
    """The meter rests where it was, and the cabinet comes nearer or has come to stand."""
    return msgspec.structs.replace(_settled_on(state, work), last=work.shots[-1])


def _checking_both(state: Round) -> Round:
    """A shot after the end begins a check, which the other cabinet takes part in."""
    other = state.side.other
    work = state.works[other].afresh()
    return msgspec.structs.replace(state, works=state.works.replacing(other, work))


def _adding_to_both(state: Round) -> Round:
    """The shot that settles whether the pair match is one more of those that there are."""
    work = state.work
    work = msgspec.structs.replace(work, stage=Stage.MEASURE, shots=work.judged, todo=work.todo[:1])
    return msgspec.structs.replace(state, works=state.works.replacing(state.side, work))


def _settled_on(state: Round, work: CabinetWork) -> Round:
    """The state with this work on the present cabinet, nothing questioned and nothing held."""
    return msgspec.structs.replace(
        state,
        works=state.works.replacing(state.side, work),
        question=None,
        gathered=None,
        settling=None,
    )


def _judge_when_done(state: Round) -> Round:
    """Once the walk round the present cabinet is done, decide what its shots call for."""
    work = state.work
    if work.todo:
        return state
    if not work.shots:
        return _hand_over(_settled_on(state, work.afresh()))
    try:
        judged = judge(work)
    except TooFewShots as why:
        telling = why.telling if isinstance(why, TwoAnswers) else None
        asked = work.short_of_shots() if telling is None else work.wanting(telling)
        if telling is not None or not asked.wanted:  # else shots were only skipped
            asked = msgspec.structs.replace(asked, no_answer=str(why))
        return _settled_on(state, asked)
    state = _settled_on(state, judged)
    return _hand_over(state) if judged.done else state


def _hand_over(state: Round) -> Round:
    """Go on to the other cabinet if that is still to be done, else to what is in doubt of both."""
    other = state.works[state.side.other]
    if not other.done:
        return _at_the_other(state)
    if not is_as_they_stand(state.setup):
        return state
    settling = settling_shot(state.setup, (*state.works.left.judged, *state.works.right.judged))
    if settling is None:
        return state
    side = settling.kind.cabinet
    work = msgspec.structs.replace(state.works[side], todo=(settling.kind,))
    works = state.works.replacing(side, work)
    return msgspec.structs.replace(state, works=works, side=side, settling=settling)


def _skip(state: Round) -> Round:
    if state.settling is not None:
        asked_for_no_more = msgspec.structs.replace(state.work, todo=state.work.route.shots)
        return _settled_on(state, asked_for_no_more)
    work = state.work.under_way()
    work = msgspec.structs.replace(work, todo=work.todo[1:], watch=None, coming=False)
    return _judge_when_done(_settled_on(state, work))


def _back(state: Round) -> Round:
    work = state.work
    return state if work.before is None else _settled_on(state, work.once_more(work.before))


def _hold(state: Round) -> Round:
    held = state.gathered
    if held is None or held.how is not Gather.HOLD:
        return msgspec.structs.replace(state, gathered=Gathering(Gather.HOLD))
    if not held.readings_mm:
        return _let_go(state)
    if not agree(state.setup.meter, min(held.readings_mm), max(held.readings_mm)):
        state = _moved_while_held(state)
    return _take(state, held.shot(state.prompted, state.setup))


def _let_go(state: Round) -> Round:
    return msgspec.structs.replace(state, gathered=None, question=None)


def _sweep(state: Round) -> Round:
    """Begin a sweep; end one with the readings that it has, where they are enough."""
    if state.prompted.held is not Held.WALL:
        return state
    sweep = state.gathered
    if sweep is None or sweep.how is not Gather.SWEEP:
        return msgspec.structs.replace(state, gathered=Gathering(Gather.SWEEP))
    if len(sweep.readings_mm) < LEAST_READINGS:
        return _let_go(state)
    return _take(state, sweep.shot(state.prompted, state.setup))


def _moved_while_held(state: Round) -> Round:
    """The cabinet was moved under the meter: only the held shot is of where it stands now."""
    work = state.work.afresh()
    others = (kind for kind in work.todo if kind != state.prompted)
    work = msgspec.structs.replace(work, todo=(state.prompted, *others))
    return _settled_on(state, work)


def _keep(state: Round) -> Round:
    question = state.question
    if question is None:
        return state
    if question.expected_mm is not None:
        # it stands off from where it was thought to, so its other shots may surprise as much
        surprise = abs(question.reading_mm - question.expected_mm) + gate_at_rest(state.setup.meter)
        work = msgspec.structs.replace(state.work, gate_mm=max(state.work.gate_mm, surprise))
        state = msgspec.structs.replace(state, works=state.works.replacing(state.side, work))
    return _accept(state, question.reading_mm)


def _drop(state: Round) -> Round:
    return state if state.question is None else msgspec.structs.replace(state, question=None)


def _there(state: Round) -> Round:
    question = state.question
    if question is None or question.instead is None:
        return state
    return _take(state, Shot(question.instead, question.reading_mm))


def _moved(state: Round) -> Round:
    work = state.work.afresh()
    if state.work.stage is not Stage.NUDGE:
        # moved without being asked, so the old placement says nothing about the new one
        anywhere = unmeasured(work.cabinet, work.route)
        work = msgspec.structs.replace(work, belief=anywhere.belief, gate_mm=anywhere.gate_mm)
    return _settled_on(state, work)


def _enough(state: Round) -> Round:
    if state.question is not None or state.gathered is not None:
        return state
    work = called_enough(state.work)
    if work is None:
        return state
    state = _settled_on(state, work)
    # the other one too, where it could only be brought as near as the meter can tell
    return state if _is_over(state, state.side.other) else _at_the_other(state)


def _is_over(state: Round, side: Side) -> bool:
    """Return whether there is nothing left to do or to decide about a cabinet."""
    return state.works[side].stage in (Stage.SETTLED, Stage.ENOUGH)


def _at_the_other(state: Round) -> Round:
    return msgspec.structs.replace(state, side=state.side.other)


def _other(state: Round) -> Round:
    return _at_the_other(_settled_on(state, state.work))


_DECISIONS = {
    Act.SKIP: _skip,
    Act.BACK: _back,
    Act.HOLD: _hold,
    Act.SWEEP: _sweep,
    Act.KEEP: _keep,
    Act.DROP: _drop,
    Act.THERE: _there,
    Act.MOVED: _moved,
    Act.ENOUGH: _enough,
    Act.OTHER: _other,
}
