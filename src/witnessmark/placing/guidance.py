"""What a person is told: the one record that every view shows and adds nothing to.

Arrows are those of the plan with the front wall at the top: up is toward the front wall, left is
toward the left wall, and a turn is as seen from above.
"""

from __future__ import annotations

import msgspec

from witnessmark.geometry.symmetry import Symmetry
from witnessmark.model import Pair, Placement, ShotKind, Side
from witnessmark.placing.appraise import Appraisal, PairAppraisal, appraise
from witnessmark.placing.expect import expect, fixed_by_shots, on_target
from witnessmark.placing.round import Question, Round
from witnessmark.placing.stand import Stage
from witnessmark.placing.walk import walk
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


class Guidance(msgspec.Struct, frozen=True):
    """Everything that a view shows."""

    side: Side
    stage: Stage
    headline: Headline
    details: tuple[str, ...]
    """Further sentences, the most useful first."""
    prompt: Prompt
    hold: bool
    question: Question | None
    cabinets: Pair[CabinetStatus]
    symmetry: Symmetry | None
    symmetry_stale: bool
    readings: int
    finished: bool


def guide(state: Round) -> Guidance:
    """What to tell a person in this state of the round."""
    pair = _appraise(state)
    cabinets = Pair(_status(state, Side.LEFT, pair), _status(state, Side.RIGHT, pair))
    own = cabinets[state.side].appraisal
    return Guidance(
        side=state.side,
        stage=state.stand.stage,
        headline=headline(state, own),
        details=details(state, own, pair.symmetry),
        prompt=_prompt(state),
        hold=state.hold,
        question=state.question,
        cabinets=cabinets,
        symmetry=pair.symmetry,
        symmetry_stale=any(cabinets[side].stale for side in Side),
        readings=state.readings,
        finished=state.finished,
    )


def _appraise(state: Round) -> PairAppraisal:
    """Both cabinets, each from its present walk where that fixes it, else from its last."""
    shots = [
        shot
        for side in Side
        for shot in (
            state.stands[side].shots
            if fixed_by_shots(state.setup, side, state.stands[side])
            else state.stands[side].judged
        )
    ]
    return appraise(state.setup, shots) if shots else PairAppraisal({}, None)


def _status(state: Round, side: Side, pair: PairAppraisal) -> CabinetStatus:
    stand = state.stands[side]
    under_way = stand.stage is Stage.MEASURE and stand.walks == 0
    return CabinetStatus(
        stage=stand.stage,
        target=state.setup.targets[side],
        appraisal=pair.cabinets.get(side),
        stale=under_way and not fixed_by_shots(state.setup, side, stand),
        nudges=stand.nudges,
    )


def _prompt(state: Round) -> Prompt:
    kind, order = state.prompted, walk(state.setup, state.side)
    return Prompt(
        kind=kind,
        number=order.index(kind) + 1,
        count=len(order),
        expected_mm=expect(state.setup, state.side, state.stand).reading_mm,
        on_target_mm=on_target(state.setup, kind),
        again=kind in state.stand.repeated,
    )
