"""What is known and asked for now: the one record that every view shows and adds nothing to.

Arrows are those of the plan with the front wall at the top: up is toward the front wall, left is
toward the left wall, and a turn is as seen from above.
"""

from __future__ import annotations

import enum
from collections.abc import Iterator

import msgspec

from witnessmark.errors import BadInput, TooFewShots
from witnessmark.geometry.verdict import Verdict, verdict
from witnessmark.locate.blunders import explain
from witnessmark.locate.compare import Comparison, compare
from witnessmark.locate.nudge import Nudge
from witnessmark.locate.pose import Located, poses_of
from witnessmark.locate.spikes import SpikePlan, spike_plan
from witnessmark.locate.symmetry import Symmetry, symmetry
from witnessmark.locate.tilt import AxisHeight, axis_height
from witnessmark.model import (
    Act,
    Held,
    Onward,
    Pair,
    Placement,
    Poses,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tilt,
)
from witnessmark.placing.alike import SettlingShot, is_as_they_stand
from witnessmark.placing.cabinet_work import CabinetWork, Stage, Watch
from witnessmark.placing.expectation import Gather, Gathering, expect, near_mm, on_target
from witnessmark.placing.judge import Appraisal, known, leading_move, may_be_enough
from witnessmark.placing.nudge_watch import first_watch
from witnessmark.placing.round import QuestionedReading, Round
from witnessmark.shots.narrowing import Narrowed, what_would_narrow

_FAR_MM = 100.0
"""A longer nudge is walked rather than pushed; common practice, no source."""


class Task(enum.Enum):
    """What a person is to do now."""

    ANSWER = "say what becomes of a reading that was not expected"
    SWEEP = "go on sweeping the meter across the square"
    WATCH = "move the cabinet and shoot, until the reading is the one on target"
    NUDGE = "move the cabinet as asked"
    SHOOT = "take the shot that is prompted"
    NOTHING = "nothing: both cabinets are done"


class Prompt(msgspec.Struct, frozen=True):
    """The shot to take next."""

    kind: ShotKind
    number: int
    """Which of the walk's shots it is, from 1."""
    count: int
    expected_mm: float
    """What it will read if the cabinet stands where it is thought to."""
    on_target_mm: float | None
    """What it would read with the cabinet on its target."""
    again: bool
    """It was taken before, and is asked for once more because it did not fit the others."""
    once_more: bool
    """It was taken before since the cabinet was last moved, for whatever reason it is asked for."""


class TiltStatus(msgspec.Struct, frozen=True):
    """The tilt of one cabinet, degrees, positive when the baffle leans back.

    Without a target, error and verdict are None; without readings, tilt as well.
    """

    tilt: Tilt | None
    target_deg: float | None
    error_deg: float | None
    """Measured minus target."""
    verdict: Verdict | None
    axis: AxisHeight | None = None
    """Where the axis passes the seat; None where that is not known."""
    spikes: SpikePlan | None = None
    """Which spikes to turn how far; None where the tilt is in, or that cannot be worked out."""
    no_spikes: str = ""
    """Why no turn of spikes can be worked out."""


class CabinetStatus(msgspec.Struct, frozen=True):
    """One cabinet as it is known now."""

    stage: Stage
    target: Placement | None
    appraisal: Appraisal | None
    stale: bool
    """The appraisal is from before the cabinet was last moved."""
    nudges: int
    tilt: TiltStatus | None
    """None where it is neither known nor asked for."""


class Guidance(msgspec.Struct, frozen=True):
    """Everything that a view shows."""

    side: Side
    task: Task
    """What the person is to do now."""
    works: Pair[CabinetWork]
    """The work on each cabinet, the one in hand and the other."""
    held: Shot | None
    """The shot of a point that is being watched while the cabinet is moved."""
    watch: Watch | None
    """From where to where that point is on its way, or is to go by the nudge that is asked for;
    None where it has no target."""
    gathering: Gathering | None
    """The shot that several readings are gathered for."""
    gathered: Gathering | None
    """The one that the last reading was gathered for."""
    last: Shot | None
    """The shot that was accepted last."""
    arrived: Side | None
    """The cabinet that the last reading was the last of, when the other one is to be shot next."""
    gap: float | None
    """How far from its target that is which is to be moved, in tolerances; None for no move."""
    asked: Placement | None
    """The move that is asked for now (deltas), when one is."""
    is_risky: bool
    """A caution belongs to that move: it is the first of a round, or a long one."""
    is_less_than_hands_can: bool
    """Whether all of that move is less than hands can do."""
    narrowed: tuple[Narrowed, ...]
    """What would narrow what is known of the cabinet in hand, where nothing else is in doubt."""
    prompt: Prompt
    question: QuestionedReading | None
    cabinets: Pair[CabinetStatus]
    symmetry: Symmetry | None
    symmetry_stale: bool
    poses: Poses | None
    """Where both stand and lean, once both are measured."""
    against: Comparison | None
    """How that differs from the mark that is being put back or checked; None where none is."""
    settling: SettlingShot | None
    """The shot that would tell most of whether the pair match, where that is not known yet."""
    shots: tuple[Shot, ...]
    """The shots that say so."""
    readings: int
    finished: bool
    offered: frozenset[Act]
    """The decisions that make sense now."""

    @property
    def work(self) -> CabinetWork:
        """The work on the cabinet in hand."""
        return self.works[self.side]

    @property
    def setup(self) -> Setup:
        """Everything that was known before the first shot."""
        return self.work.setup

    @property
    def stage(self) -> Stage:
        """What is being done with the cabinet in hand."""
        return self.work.stage

    @property
    def remark(self) -> str | None:
        """Why no shots can bring this cabinet's verdict ``in``, and what would help."""
        return self.work.route.remark

    @property
    def hold(self) -> bool:
        """Whether the prompted shot is held, because the cabinet may be moving."""
        return self.gathered is not None and self.gathered.how is Gather.HOLD

    @property
    def own(self) -> Appraisal | None:
        """What is known of the cabinet in hand."""
        return self.cabinets[self.side].appraisal

    @property
    def is_found_moved(self) -> bool:
        """Whether a check against a mark has come to its end and found movement."""
        restoring = self.setup.restoring
        is_checked = restoring is not None and restoring.is_check and self.finished
        return is_checked and self.against is not None and self.against.seen

    @property
    def may_be_matched(self) -> bool:
        """Whether one cabinet can be brought to the mirror image of the other."""
        is_known = self.symmetry is not None and not self.symmetry_stale
        return is_known and is_as_they_stand(self.setup)

    @property
    def onward(self) -> tuple[Onward, ...]:
        """What the person has to choose from now that the shots are taken; empty while nothing."""
        if self.is_found_moved:
            return (Onward.PUT_BACK,)
        pair = self.symmetry
        if self.finished and self.may_be_matched and pair and pair.worst is not Verdict.IN:
            return (Onward.MOVE_LEFT, Onward.MOVE_RIGHT)
        return ()

    @property
    def measured(self) -> Pair[Placement | None]:
        """Where each cabinet stands: by the shots of both once there are, else by its own."""
        if self.poses is not None:
            return Pair(self.poses.placements.left, self.poses.placements.right)
        found = (cabinet.appraisal for cabinet in self.cabinets)
        return Pair(*(one.measured if one else None for one in found))


def guide(state: Round) -> Guidance:
    """Return what is known and asked for in this state of the round."""
    found = {side: known(state.works[side]) for side in Side}
    _, own = found[state.side]
    left, right = (shots for shots, _ in found.values())
    located = _together(state.setup, left, right)
    pair = None if located is None else _symmetry(state, located)
    poses = None if located is None else poses_of(located, state.tilts)
    against = None if poses is None else _against_the_mark(state.setup, poses)
    cabinets = Pair(*(_status(state, side, *found[side]) for side in Side))
    against_target = own and own.against_target
    asked = against_target.nudge if against_target and state.work.stage is Stage.NUDGE else None
    task = _task(state, own)
    held = _held(state) if task is Task.WATCH else None
    watch = first_watch(state.work) if task is Task.NUDGE else _watch(state, held)
    return Guidance(
        side=state.side,
        task=task,
        works=state.works,
        held=held,
        watch=watch,
        gathering=state.gathering,
        gathered=state.gathered,
        last=state.last,
        arrived=_arrived(state),
        gap=_gap(state, own, held, watch) if task in (Task.WATCH, Task.NUDGE) else None,
        asked=asked.move if asked else None,
        is_risky=asked is not None and _is_risky(state, asked),
        is_less_than_hands_can=asked is not None and asked.is_less_than_hands_can,
        narrowed=_narrowed(state.work, own),
        prompt=_prompt(state),
        question=state.question,
        cabinets=cabinets,
        symmetry=pair,
        symmetry_stale=any(cabinet.stale for cabinet in cabinets),
        poses=poses,
        against=against,
        settling=state.settling,
        shots=left + right if poses else (),
        readings=state.readings,
        finished=state.finished,
        offered=frozenset(_offered(state, own)),
    )


def _against_the_mark(setup: Setup, now: Poses) -> Comparison | None:
    return None if setup.restoring is None else compare(setup, setup.restoring.poses, now)


def _task(state: Round, own: Appraisal | None) -> Task:
    if state.question is not None:
        return Task.ANSWER
    if state.gathered is not None and state.gathered.readings_mm:
        return Task.WATCH if state.gathered.how is Gather.HOLD else Task.SWEEP
    if state.work.coming and not state.hold:
        return Task.WATCH
    if state.finished:
        return Task.NOTHING
    if state.work.stage is Stage.NUDGE and own is not None and own.against_target is not None:
        return Task.NUDGE
    return Task.SHOOT


def _arrived(state: Round) -> Side | None:
    """Until something is read, or is begun, of the other cabinet."""
    if state.last is None or state.finished or state.question or state.gathered:
        return None
    side = state.last.kind.cabinet
    return side if side is not state.side and state.works[side].done else None


def _held(state: Round) -> Shot:
    """Return the shot that is being watched: the one held, or the last of a nudge under way."""
    gathered = state.gathered
    if gathered is not None and gathered.readings_mm:
        return Shot(state.prompted, gathered.shown_mm)
    return state.work.shots[-1]


def _watch(state: Round, held: Shot | None) -> Watch | None:
    """Return the way of the point that is watched, of a nudge or while a shot is held."""
    gathered = state.gathered
    if held is None:
        return None
    if gathered is None or not gathered.readings_mm:
        return state.work.watch
    stop_mm = on_target(state.setup, held.kind)
    return (
        None
        if stop_mm is None
        else Watch(held.kind, gathered.readings_mm[0], stop_mm, near_mm(state.setup))
    )


def _gap(
    state: Round, own: Appraisal | None, held: Shot | None, watch: Watch | None
) -> float | None:
    if held is not None:
        if watch is None:
            return None
        return abs(held.reading_mm - watch.stop_mm) / state.setup.tolerance.position_mm
    against_target = own and own.against_target
    return leading_move(state.setup, against_target)[0] if against_target else None


def _is_risky(state: Round, asked: Nudge) -> bool:
    """Return whether a move is one that a person is cautioned about."""
    is_first = not any(work.nudges for work in state.works)
    return is_first or max(foot.distance_mm for foot in asked.feet.values()) > _FAR_MM


def _narrowed(work: CabinetWork, own: Appraisal | None) -> tuple[Narrowed, ...]:
    is_judged = work.stage in (Stage.NUDGE, Stage.BEST)
    if not is_judged or own is None or own.verdict is not Verdict.UNSURE:
        return ()
    shots = [check.shot for check in own.checks if not check.left_out]
    return what_would_narrow(work.cabinet, own.measured, own.expanded, shots, work.route.shots)


def _offered(state: Round, own: Appraisal | None) -> Iterator[Act]:
    yield from (Act.SKIP, Act.HOLD, Act.OTHER, Act.MOVED)
    if state.past:
        yield Act.UNDO
    if state.work.before is not None:
        yield Act.BACK
    if state.prompted.held is Held.WALL:
        yield Act.SWEEP
    is_quiet = state.question is None and state.gathered is None
    if is_quiet and own is not None and may_be_enough(state.work, own):
        yield Act.ENOUGH
    if state.question is not None:
        yield from (Act.KEEP, Act.DROP)
        if state.question.instead is not None:
            yield Act.THERE


def _together(setup: Setup, left: tuple[Shot, ...], right: tuple[Shot, ...]) -> Located | None:
    if not left or not right:
        return None
    try:
        return explain(setup, left + right).located
    except TooFewShots:
        return None


def _symmetry(state: Round, located: Located) -> Symmetry:
    pair, tilts = symmetry(state.setup, located), state.tilts
    if tilts.left is None or tilts.right is None:
        return pair
    return pair.with_tilts(tilts.left, tilts.right, state.setup.tolerance.tilt_deg)


def _status(
    state: Round, side: Side, shots: tuple[Shot, ...], appraisal: Appraisal | None
) -> CabinetStatus:
    work = state.works[side]
    standing = appraisal.measured if appraisal else state.setup.targets[side]
    under_way = work.stage is Stage.MEASURE and work.walks == 0
    return CabinetStatus(
        stage=work.stage,
        target=state.setup.targets[side],
        appraisal=appraisal,
        stale=under_way and appraisal is not None and shots != work.shots,
        nudges=work.nudges,
        tilt=tilt_status(state.setup, side, state.tilts[side], standing),
    )


def _prompt(state: Round) -> Prompt:
    kind, order = state.prompted, state.work.route.shots
    is_held = state.gathered is not None and bool(state.gathered.readings_mm)
    return Prompt(
        kind=kind,
        number=_number(state.work),
        count=len(order),
        expected_mm=expect(state.work, kind).reading_mm,
        on_target_mm=on_target(state.setup, kind),
        again=kind in state.work.repeated,
        once_more=is_held or any(shot.kind == kind for shot in state.work.shots),
    )


def _number(work: CabinetWork) -> int:
    """Return which of the walk's shots is prompted, from 1; a shot may be in it twice."""
    order, left = work.route.shots, len(work.todo)
    if order[-left:] == work.todo or (work.watches and not work.repeated):
        return max(len(order) - left + 1, 1)
    return order.index(work.todo[0]) + 1 if work.todo[0] in order else len(order)


def tilt_status(
    setup: Setup, side: Side, tilt: Tilt | None, standing: Placement | None
) -> TiltStatus | None:
    """Return the tilt of a cabinet that stands so; None where it is neither known nor asked for."""
    target = setup.tilt_targets_deg[side]
    if tilt is None:
        return None if target is None else TiltStatus(None, target, None, None)
    axis = None
    if standing is not None and setup.cabinets[side].acoustic_height_mm is not None:
        axis = axis_height(setup, side, standing, tilt)
    if target is None:
        return TiltStatus(tilt, None, None, None, axis)
    error = tilt.tilt_deg - target
    found = verdict(error, tilt.expanded_deg, setup.tolerance.tilt_deg)
    if found is Verdict.IN:
        return TiltStatus(tilt, target, error, found, axis)
    try:
        plan = spike_plan(setup.cabinets[side], tilt.tilt_deg, target)
    except BadInput as problem:
        return TiltStatus(tilt, target, error, found, axis, no_spikes=str(problem))
    return TiltStatus(tilt, target, error, found, axis, plan)
