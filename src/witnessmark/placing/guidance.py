"""What is known and asked for now: the one record that every view shows and adds nothing to.

Arrows are those of the plan with the front wall at the top: up is toward the front wall, left is
toward the left wall, and a turn is as seen from above.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from witnessmark.cautions import FAR_MM, MOVING, SPIKES
from witnessmark.errors import BadInput, TooFewShots
from witnessmark.geometry.verdict import Verdict, verdict
from witnessmark.locate.blunders import explain
from witnessmark.locate.compare import Comparison, compare
from witnessmark.locate.nudge import Nudge
from witnessmark.locate.pose import Located, poses_of
from witnessmark.locate.spikes import spike_plan
from witnessmark.locate.symmetry import Symmetry, symmetry
from witnessmark.locate.tilt import axis_height, axis_words
from witnessmark.model import Act, Held, Pair, Placement, Poses, Setup, Shot, ShotKind, Side, Tilt
from witnessmark.placing.cabinet_work import CabinetWork, Stage
from witnessmark.placing.expectation import expect, on_target
from witnessmark.placing.judge import Appraisal, appraise
from witnessmark.placing.round import Question, Round
from witnessmark.placing.wording import Headline, details, headline


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


class TiltStatus(msgspec.Struct, frozen=True):
    """The tilt of one cabinet, degrees, positive when the baffle leans back.

    Without a target, error and verdict are None; without readings, tilt as well.
    """

    tilt: Tilt | None
    target_deg: float | None
    error_deg: float | None
    """Measured minus target."""
    verdict: Verdict | None
    words: tuple[str, ...]
    """Where the axis passes the seat, and which spikes to turn how far."""


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
    stage: Stage
    headline: Headline
    details: tuple[str, ...]
    """Further sentences, the most useful first."""
    remark: str | None
    """Why no shots can bring this cabinet's verdict ``in``, and what would help."""
    asked: Placement | None
    """The move that is asked for now (deltas), when one is."""
    caution: str
    """What can hurt at that move: before the first of a round, and before a long one."""
    prompt: Prompt
    hold: bool
    question: Question | None
    cabinets: Pair[CabinetStatus]
    symmetry: Symmetry | None
    symmetry_stale: bool
    poses: Poses | None
    """Where both stand and lean, once both are measured."""
    against: Comparison | None
    """How that differs from the mark that is being put back or checked; None where none is."""
    shots: tuple[Shot, ...]
    """The shots that say so."""
    readings: int
    finished: bool
    offered: frozenset[Act]
    """The decisions that make sense now."""

    @property
    def measured(self) -> Pair[Placement | None]:
        """Where each cabinet stands: by the shots of both once there are, else by its own."""
        if self.poses is not None:
            return Pair(self.poses.placements.left, self.poses.placements.right)
        found = (cabinet.appraisal for cabinet in self.cabinets)
        return Pair(*(one.measured if one else None for one in found))


def guide(state: Round) -> Guidance:
    """Return what to tell a person in this state of the round."""
    known = {side: _known(state.works[side]) for side in Side}
    _, own = known[state.side]
    left, right = (shots for shots, _ in known.values())
    located = _together(state.setup, left, right)
    pair = None if located is None else _symmetry(state, located)
    poses = None if located is None else poses_of(located, state.tilts)
    against = None if poses is None else _against_the_mark(state.setup, poses)
    cabinets = Pair(*(_status(state, side, *known[side]) for side in Side))
    against_target = own and own.against_target
    asked = against_target.nudge if against_target and state.work.stage is Stage.NUDGE else None
    return Guidance(
        side=state.side,
        stage=state.work.stage,
        headline=headline(state, own, against),
        details=details(state, own, pair, against),
        remark=state.work.route.remark,
        asked=asked.move if asked else None,
        caution=MOVING if asked and _takes_care(state, asked) else "",
        prompt=_prompt(state),
        hold=state.hold,
        question=state.question,
        cabinets=cabinets,
        symmetry=pair,
        symmetry_stale=any(cabinet.stale for cabinet in cabinets),
        poses=poses,
        against=against,
        shots=left + right if poses else (),
        readings=state.readings,
        finished=state.finished,
        offered=frozenset(_offered(state)),
    )


def _against_the_mark(setup: Setup, now: Poses) -> Comparison | None:
    return None if setup.restoring is None else compare(setup, setup.restoring.poses, now)


def _takes_care(state: Round, asked: Nudge) -> bool:
    """Whether a move is one that a person is cautioned about."""
    is_first = not any(work.nudges for work in state.works)
    return is_first or max(foot.distance_mm for foot in asked.feet.values()) > FAR_MM


def _offered(state: Round) -> Iterator[Act]:
    yield from (Act.SKIP, Act.HOLD, Act.OTHER, Act.MOVED)
    if state.past:
        yield Act.UNDO
    if state.work.before is not None:
        yield Act.BACK
    if state.prompted.held is Held.WALL:
        yield Act.SWEEP
    if state.question is not None:
        yield from (Act.KEEP, Act.DROP)
        if state.question.instead is not None:
            yield Act.THERE


def _known(work: CabinetWork) -> tuple[tuple[Shot, ...], Appraisal | None]:
    """The latest shots that fix a cabinet, and what they say of it.

    Each cabinet by its own shots, as it was judged, so that what is shown is what was decided on.
    """
    for shots in (work.shots, work.judged):
        if len(shots) >= 3:
            try:
                return shots, appraise(work.setup, shots).cabinets[work.side]
            except TooFewShots:
                continue
    return (), None


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
    return Prompt(
        kind=kind,
        number=_number(state.work),
        count=len(order),
        expected_mm=expect(state.work, kind).reading_mm,
        on_target_mm=on_target(state.setup, kind),
        again=kind in state.work.repeated,
    )


def _number(work: CabinetWork) -> int:
    """Which of the walk's shots is prompted, from 1; a shot may be in it twice."""
    order, left = work.route.shots, len(work.todo)
    if order[-left:] == work.todo:
        return len(order) - left + 1
    return order.index(work.todo[0]) + 1 if work.todo[0] in order else len(order)


def tilt_status(
    setup: Setup, side: Side, tilt: Tilt | None, standing: Placement | None
) -> TiltStatus | None:
    """Return the tilt of a cabinet that stands so; None where it is neither known nor asked for."""
    target = setup.tilt_targets_deg[side]
    if tilt is None:
        return None if target is None else TiltStatus(None, target, None, None, ())
    words = tuple(_axis(setup, side, tilt, standing))
    if target is None:
        return TiltStatus(tilt, None, None, None, words)
    error = tilt.tilt_deg - target
    found = verdict(error, tilt.expanded_deg, setup.tolerance.tilt_deg)
    if found is not Verdict.IN:
        words += tuple(_spikes(setup, side, tilt, target))
    return TiltStatus(tilt, target, error, found, words)


def _axis(setup: Setup, side: Side, tilt: Tilt, standing: Placement | None) -> Iterator[str]:
    if standing is not None and setup.cabinets[side].acoustic_height_mm is not None:
        yield axis_words(axis_height(setup, side, standing, tilt), setup.units)


def _spikes(setup: Setup, side: Side, tilt: Tilt, target_deg: float) -> Iterator[str]:
    try:
        plan = spike_plan(setup.cabinets[side], tilt.tilt_deg, target_deg, setup.units.finer)
    except BadInput as error:
        yield str(error)
        return
    yield from plan.words
    if plan.words:
        yield SPIKES
