"""What the shots of a finished walk call for: another look, a nudge, or nothing more."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from witnessmark.geometry.verdict import Verdict
from witnessmark.locate.nudge import farthest_move_mm
from witnessmark.model import Placement, Setup, Shot, Side
from witnessmark.placing.appraise import Appraisal, appraise
from witnessmark.placing.cabinet_work import CabinetWork, Stage
from witnessmark.placing.expect import gate_at_rest

MOST_WALKS = 3
"""Walks round a cabinet that stands still, before more of them are given up as useless."""
HOPELESS_SHARE = 0.85
"""An expanded uncertainty above this part of the tolerance leaves hands too little to hit."""


def judge(setup: Setup, side: Side, stand: CabinetWork) -> CabinetWork:
    """The cabinet with the stage that its shots call for, or with suspects to be taken once more.

    Raises:
        TooFewShots: when the shots do not fix it.
    """
    appraisal = appraise(setup, stand.shots).cabinets[side]
    suspects = {check.shot.kind for check in appraisal.suspects}.difference(stand.repeated)
    doubtful = tuple(kind for kind in dict.fromkeys(stand.route.shots) if kind in suspects)
    if doubtful:
        repeated = (*stand.repeated, *doubtful)
        return msgspec.structs.replace(stand, todo=doubtful, repeated=repeated)
    walks = stand.walks + 1
    stage = _stage(setup, side, appraisal, stand.shots, MOST_WALKS - walks)
    target = setup.targets[side]
    if stage is Stage.NUDGE and _went_astray(setup, side, stand, appraisal.measured):
        off_mm = farthest_move_mm(setup, side, appraisal.measured, stand.belief)
        return stand.in_doubt(off_mm + gate_at_rest(setup.meter))
    is_nudged = stage is Stage.NUDGE and target is not None
    return CabinetWork(
        route=stand.route,
        todo=stand.route.shots,
        belief=target if is_nudged and target is not None else appraisal.measured,
        gate_mm=gate_at_rest(setup.meter),
        stage=stage,
        shots=stand.shots if stage is Stage.MEASURE else (),
        judged=stand.shots,
        walks=walks,
        nudged_from=appraisal.measured if is_nudged else None,
        nudges=stand.nudges,
    )


def _went_astray(setup: Setup, side: Side, stand: CabinetWork, measured: Placement) -> bool:
    """Whether a nudge seems to have led away from the target: rather, a shot was of another point.

    Hands miss by a part of what they were asked for, and hardly ever make it worse.
    """
    before, target = stand.nudged_from, setup.targets[side]
    if before is None or target is None or stand.walks:
        return False
    was_mm = farthest_move_mm(setup, side, before, target)
    return farthest_move_mm(setup, side, measured, target) > was_mm + gate_at_rest(setup.meter)


def _stage(
    setup: Setup, side: Side, now: Appraisal, shots: Sequence[Shot], walks_left: int
) -> Stage:
    """The stage after a walk, from what is known now and what more walks could bring to light."""
    is_check = setup.restoring is not None and setup.restoring.is_check
    if is_check or now.verdict in (None, Verdict.IN):
        return Stage.SETTLED
    last = {shot.kind: shot for shot in shots}
    in_the_end = appraise(setup, (*shots, *walks_left * tuple(last.values()))).cabinets[side]
    if in_the_end.verdict is Verdict.IN:
        return Stage.MEASURE
    if _is_hopeless(setup, now) and not _is_worth_moving(setup, now):
        return Stage.BEST if _is_hopeless(setup, in_the_end) else Stage.MEASURE
    return Stage.NUDGE


def _is_hopeless(setup: Setup, one: Appraisal) -> bool:
    """Whether not even a cabinet that stands on its target could be called in."""
    return any(width > HOPELESS_SHARE * limit for _, width, limit in _quantities(setup, one))


def _is_worth_moving(setup: Setup, one: Appraisal) -> bool:
    """Whether a nudge would be more than one by chance, smaller than the measuring can see."""
    return any(
        abs(off) > max(width, limit - width) for off, width, limit in _quantities(setup, one)
    )


def _quantities(setup: Setup, one: Appraisal) -> list[tuple[float, float, float]]:
    """Error, its expanded uncertainty and the tolerance of side, setback and toe-in."""
    error, expanded, tolerance = one.error, one.expanded, setup.tolerance
    if error is None:
        return []
    return [
        (error.side_mm, expanded.side_mm, tolerance.position_mm),
        (error.setback_mm, expanded.setback_mm, tolerance.position_mm),
        (error.toe_in_deg, expanded.toe_in_deg, tolerance.toe_in_deg),
    ]
