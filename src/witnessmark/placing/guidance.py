"""What a person is told: the one record that every view shows and adds nothing to.

Arrows are those of the plan with the front wall at the top: up is toward the front wall, left is
toward the left wall, and a turn is as seen from above.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from witnessmark.cautions import FAR_MM, MOVING
from witnessmark.errors import TooFewShots
from witnessmark.locate.blunders import explain
from witnessmark.locate.nudge import Nudge
from witnessmark.locate.pose import Located, poses_of
from witnessmark.locate.symmetry import Symmetry, symmetry
from witnessmark.model import Act, Held, Pair, Placement, Poses, Setup, Shot, ShotKind, Side
from witnessmark.placing.appraise import Appraisal, appraise
from witnessmark.placing.cabinet_work import CabinetWork, Stage
from witnessmark.placing.expect import expect, on_target
from witnessmark.placing.round import Question, Round
from witnessmark.placing.tilt_status import TiltStatus, tilt_status
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
    """What to tell a person in this state of the round."""
    known = {side: _known(state.setup, side, state.stands[side]) for side in Side}
    _, own = known[state.side]
    left, right = (shots for shots, _ in known.values())
    located = _together(state.setup, left, right)
    pair = None if located is None else _symmetry(state, located)
    poses = None if located is None else poses_of(located, state.tilts)
    cabinets = Pair(*(_status(state, side, *known[side]) for side in Side))
    asked = own.nudge if state.stand.stage is Stage.NUDGE and own else None
    return Guidance(
        side=state.side,
        stage=state.stand.stage,
        headline=headline(state, own, poses),
        details=details(state, own, pair, poses),
        remark=state.stand.route.remark,
        asked=asked.move if asked else None,
        caution=MOVING if asked and _takes_care(state, asked) else "",
        prompt=_prompt(state),
        hold=state.hold,
        question=state.question,
        cabinets=cabinets,
        symmetry=pair,
        symmetry_stale=any(cabinet.stale for cabinet in cabinets),
        poses=poses,
        shots=left + right if poses else (),
        readings=state.readings,
        finished=state.finished,
        offered=frozenset(_offered(state)),
    )


def _takes_care(state: Round, asked: Nudge) -> bool:
    """Whether a move is one that a person is cautioned about."""
    is_first = not any(stand.nudges for stand in state.stands)
    return is_first or max(foot.distance_mm for foot in asked.feet.values()) > FAR_MM


def _offered(state: Round) -> Iterator[Act]:
    yield from (Act.SKIP, Act.HOLD, Act.OTHER, Act.MOVED)
    if state.past:
        yield Act.UNDO
    if state.stand.before is not None:
        yield Act.BACK
    if state.prompted.held is Held.WALL:
        yield Act.SWEEP
    if state.question is not None:
        yield from (Act.KEEP, Act.DROP)
        if state.question.instead is not None:
            yield Act.THERE


def _known(
    setup: Setup, side: Side, stand: CabinetWork
) -> tuple[tuple[Shot, ...], Appraisal | None]:
    """The latest shots that fix a cabinet, and what they say of it.

    Each cabinet by its own shots, as it was judged, so that what is shown is what was decided on.
    """
    for shots in (stand.shots, stand.judged):
        if len(shots) >= 3:
            try:
                return shots, appraise(setup, shots).cabinets[side]
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
    stand = state.stands[side]
    standing = appraisal.measured if appraisal else state.setup.targets[side]
    under_way = stand.stage is Stage.MEASURE and stand.walks == 0
    return CabinetStatus(
        stage=stand.stage,
        target=state.setup.targets[side],
        appraisal=appraisal,
        stale=under_way and appraisal is not None and shots != stand.shots,
        nudges=stand.nudges,
        tilt=tilt_status(state.setup, side, state.tilts[side], standing),
    )


def _prompt(state: Round) -> Prompt:
    kind, order = state.prompted, state.stand.route.shots
    return Prompt(
        kind=kind,
        number=_number(state.stand),
        count=len(order),
        expected_mm=expect(state.setup, state.side, state.stand, kind).reading_mm,
        on_target_mm=on_target(state.setup, kind),
        again=kind in state.stand.repeated,
    )


def _number(stand: CabinetWork) -> int:
    """Which of the walk's shots is prompted, from 1; a shot may be in it twice."""
    order, left = stand.route.shots, len(stand.todo)
    if order[-left:] == stand.todo:
        return len(order) - left + 1
    return order.index(stand.todo[0]) + 1 if stand.todo[0] in order else len(order)
