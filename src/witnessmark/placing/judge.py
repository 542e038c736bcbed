"""What the shots say of the pair, and what a finished walk calls for.

``appraise`` gives pose, error, verdict and nudge of each cabinet, and the symmetry; ``judge``
decides from that: another look, a nudge, or nothing more.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from witnessmark.errors import TooFewShots
from witnessmark.geometry.conformity import probability_all_within
from witnessmark.geometry.verdict import Verdict, verdict, worst
from witnessmark.locate.blunders import ShotCheck, explain
from witnessmark.locate.nudge import Nudge, farthest_move_mm, nudge
from witnessmark.locate.pose import Located
from witnessmark.locate.symmetry import Symmetry, symmetry
from witnessmark.model import (
    OF_CABINET,
    OneCabinet,
    Pair,
    Placement,
    Quantity,
    Setup,
    Shot,
    ShotKind,
    Side,
)
from witnessmark.placing.cabinet_work import CabinetWork, Stage
from witnessmark.placing.expectation import gate_at_rest, near_mm
from witnessmark.placing.shot_list import nudge_walk, watched_shots

MOST_WALKS = 3
"""Walks round a cabinet that stands still, after which more are given up as useless."""
ENOUGH_PROBABILITY = 0.8
"""Probability to be within tolerance from which on a cabinet may be called good enough: the least
of those that JCGM 106:2012 tabulates (7.3, Table 1; from memory)."""
_ASTRAY = 0.15
"""Part of a move by which hands lead astray what should stay; common practice, no source."""
HOPELESS_SHARE = 0.85
"""Part of the tolerance above which an expanded uncertainty leaves hands too little to hit."""


class AgainstTarget(msgspec.Struct, frozen=True):
    """How a cabinet stands against its target, and the move that brings it there.

    ``error`` is measured minus target.
    """

    error: Placement
    verdicts: dict[Quantity, Verdict]
    nudge: Nudge
    window: Placement
    """How far off each quantity may be found and still be called in: the tolerance less the
    expanded uncertainty. What is 0 or less cannot be called in, wherever it stands."""
    within: float | None
    """The probability that all three are within their tolerances; None where the verdicts say more,
    or where the shots could be accounted for otherwise."""


class Appraisal(msgspec.Struct, frozen=True):
    """What is known of one cabinet; ``expanded`` is the expanded uncertainty (k = 2)."""

    measured: Placement
    expanded: Placement
    against_target: AgainstTarget | None
    """None where no target is chosen."""
    checks: tuple[ShotCheck, ...]

    @property
    def verdict(self) -> Verdict | None:
        """The worst of the verdicts; None without a target."""
        if self.against_target is None:
            return None
        return worst(list(self.against_target.verdicts.values()))

    @property
    def suspects(self) -> tuple[ShotCheck, ...]:
        """The shots that do not fit the others."""
        return tuple(check for check in self.checks if check.suspect)


class PairAppraisal(msgspec.Struct, frozen=True):
    """The cabinets that have shots, and the symmetry of the pair when both have."""

    cabinets: dict[Side, Appraisal]
    symmetry: Symmetry | None

    @property
    def measured(self) -> Pair[Placement | None]:
        """Where each cabinet stands; None for one without shots."""
        left, right = (self.cabinets.get(side) for side in Side)
        return Pair(left.measured if left else None, right.measured if right else None)


def appraise(setup: Setup, shots: Sequence[Shot]) -> PairAppraisal:
    """Locate every cabinet that has shots and compare it with its target and its twin.

    Raises:
        TooFewShots: naming the shots that are missing, or that contradict one another so much that
            no pose fits.
        BadInput: when a shot's point or aim does not exist.
    """
    explained = explain(setup, shots)
    located, checks = explained.located, explained.checks
    return PairAppraisal(
        {
            side: _appraise_one(OneCabinet(setup, side), located, checks)
            for side in located.placements
        },
        symmetry(setup, located) if len(located.placements) == len(Side) else None,
    )


def _appraise_one(cabinet: OneCabinet, located: Located, checks: Sequence[ShotCheck]) -> Appraisal:
    side = cabinet.side
    measured, expanded = located.placements[side], located.expanded(side)
    own = tuple(check for check in checks if check.shot.kind.cabinet is side)
    if cabinet.target is None:
        return Appraisal(measured, expanded, None, own)
    error = measured.minus(cabinet.target)
    verdicts = {
        quantity: verdict(
            quantity.of(error),
            quantity.of(expanded),
            quantity.tolerance(cabinet.setup),
            settled=located.settled,
        )
        for quantity in OF_CABINET
    }
    against = AgainstTarget(
        error=error,
        verdicts=verdicts,
        nudge=nudge(cabinet, measured, verdicts),
        window=Placement(*(one.tolerance(cabinet.setup) - one.of(expanded) for one in OF_CABINET)),
        within=_within(cabinet, error, located, list(verdicts.values())),
    )
    return Appraisal(measured, expanded, against, own)


def known(work: CabinetWork) -> tuple[tuple[Shot, ...], Appraisal | None]:
    """Return the latest shots that fix a cabinet, and what they say of it.

    Each cabinet by its own shots, as it was judged, so that what is shown is what was decided on.
    """
    for shots in (work.shots, work.judged):
        if len(shots) >= 3:
            try:
                return shots, appraise(work.setup, shots).cabinets[work.side]
            except TooFewShots:
                continue
    return (), None


def _within(
    cabinet: OneCabinet, error: Placement, located: Located, verdicts: list[Verdict]
) -> float | None:
    if not located.settled or worst(verdicts) is not Verdict.UNSURE:
        return None
    return probability_all_within(
        [one.of(error) for one in OF_CABINET],
        located.covariance_of(cabinet.side),
        [one.tolerance(cabinet.setup) for one in OF_CABINET],
    )


def may_be_enough(work: CabinetWork, now: Appraisal) -> bool:
    """Return whether a cabinet may be called good enough by what is known of it now.

    It is measured since it was last moved, not sure to be in, and probable enough to be.
    """
    within = None if now.against_target is None else now.against_target.within
    is_open = work.walks > 0 and work.stage not in (Stage.SETTLED, Stage.ENOUGH)
    return is_open and within is not None and within >= ENOUGH_PROBABILITY


def called_enough(work: CabinetWork) -> CabinetWork | None:
    """Return the work on a cabinet that is called good enough; None where it may not be."""
    shots, appraisal = known(work)
    if appraisal is None or not may_be_enough(work, appraisal):
        return None
    return CabinetWork(
        cabinet=work.cabinet,
        route=work.route,
        todo=work.route.shots,
        belief=appraisal.measured,
        gate_mm=gate_at_rest(work.setup.meter),
        stage=Stage.ENOUGH,
        judged=shots,
        walks=work.walks,
        nudges=work.nudges,
    )


def leading_move(setup: Setup, against: AgainstTarget) -> tuple[float, Quantity]:
    """Return what to move first, and how far that is out, in tolerances.

    It is the quantity farthest out for its tolerance, those that are not in before those that are;
    the toe-in where the whole correction is one turn about a foot.

    Args:
        setup: the tolerances.
        against: how a cabinet stands against its target.
    """
    move, verdicts = against.nudge.move, against.verdicts

    def out(one: Quantity) -> float:
        return abs(one.of(move)) / one.tolerance(setup)

    if against.nudge.hold is not None:
        return out(Quantity.TOE_IN), Quantity.TOE_IN
    first = max(OF_CABINET, key=lambda one: (verdicts[one] != Verdict.IN, out(one)))
    return out(first), first


def judge(work: CabinetWork) -> CabinetWork:
    """Return the work at the stage that its shots call for, or asking for suspects again.

    Raises:
        TooFewShots: when the shots do not fix it.
    """
    appraisal = appraise(work.setup, work.shots).cabinets[work.side]
    suspects = {check.shot.kind for check in appraisal.suspects}.difference(work.repeated)
    doubtful = tuple(kind for kind in dict.fromkeys(work.route.shots) if kind in suspects)
    if doubtful:
        repeated = (*work.repeated, *doubtful)
        return msgspec.structs.replace(work, todo=doubtful, repeated=repeated)
    walks = work.walks + 1
    stage = _stage(work.cabinet, appraisal, work.shots, MOST_WALKS - walks)
    target, gate_mm = work.target, gate_at_rest(work.setup.meter)
    if stage is Stage.NUDGE and _went_astray(work, appraisal.measured):
        off_mm = farthest_move_mm(work.cabinet, appraisal.measured, work.belief)
        return work.in_doubt(off_mm + gate_mm)
    is_nudged = stage is Stage.NUDGE and target is not None
    watches, nudged_to = _way(work, appraisal) if is_nudged else ((), None)
    return CabinetWork(
        cabinet=work.cabinet,
        route=work.route,
        todo=nudge_walk(work.cabinet, watches, work.route.shots),
        belief=target if is_nudged and target is not None else appraisal.measured,
        gate_mm=gate_mm,
        stage=stage,
        shots=work.shots if stage is Stage.MEASURE else (),
        judged=work.shots,
        walks=walks,
        nudged_from=appraisal.measured if is_nudged else None,
        nudged_to=nudged_to,
        watches=watches,
        nudges=work.nudges,
    )


def _way(work: CabinetWork, now: Appraisal) -> tuple[tuple[ShotKind, ...], Placement | None]:
    """Return the shots to watch during the requested nudge, and where it leads."""
    against, target = now.against_target, work.target
    assert against is not None  # noqa: S101 - a nudge has a target
    assert target is not None  # noqa: S101
    _, leading = leading_move(work.setup, against)
    others = [one for one in OF_CABINET if against.verdicts[one] is not Verdict.IN]
    farthest_mm = max(foot.distance_mm for foot in against.nudge.feet.values())
    if _ASTRAY * farthest_mm > near_mm(work.setup):
        others = list(OF_CABINET)
    sought = tuple(dict.fromkeys((leading, *others)))
    watches = watched_shots(work.cabinet, work.route.shots, sought)
    if against.nudge.hold is not None:
        return watches, target
    # what is in already is not asked to move
    moved = {one.field: one.of(target) for one in sought}
    return watches, msgspec.structs.replace(now.measured, **moved)


def _went_astray(work: CabinetWork, measured: Placement) -> bool:
    """Whether a nudge seems to have led away from the target: rather, a shot was of another point.

    Hands miss by a part of what they were asked for, and hardly ever make it worse.
    """
    before, target = work.nudged_from, work.target
    if before is None or target is None or work.walks:
        return False
    was_mm = farthest_move_mm(work.cabinet, before, target)
    still_mm = farthest_move_mm(work.cabinet, measured, target)
    return still_mm > was_mm + gate_at_rest(work.setup.meter)


def _stage(cabinet: OneCabinet, now: Appraisal, shots: Sequence[Shot], walks_left: int) -> Stage:
    """The stage after a walk, from what is known now and what more walks could bring to light."""
    setup = cabinet.setup
    is_check = setup.restoring is not None and setup.restoring.is_check
    if is_check or now.verdict in (None, Verdict.IN):
        return Stage.SETTLED
    last = {shot.kind: shot for shot in shots}
    in_the_end = appraise(setup, (*shots, *walks_left * tuple(last.values()))).cabinets[
        cabinet.side
    ]
    if in_the_end.verdict is Verdict.IN:
        return Stage.MEASURE
    if _is_hopeless(setup, now) and not _is_worth_moving(setup, now):
        return Stage.BEST if _is_hopeless(setup, in_the_end) else Stage.MEASURE
    return Stage.NUDGE


def _is_hopeless(setup: Setup, one: Appraisal) -> bool:
    """Return whether not even a cabinet that stands on its target could be called in."""
    return any(width > HOPELESS_SHARE * limit for _, width, limit in _quantities(setup, one))


def _is_worth_moving(setup: Setup, one: Appraisal) -> bool:
    """Whether a nudge would be more than one by chance, smaller than the measuring can see."""
    return any(
        abs(off) > max(width, limit - width) for off, width, limit in _quantities(setup, one)
    )


def _quantities(setup: Setup, one: Appraisal) -> list[tuple[float, float, float]]:
    """Error, its expanded uncertainty and the tolerance of each quantity."""
    if one.against_target is None:
        return []
    error = one.against_target.error
    return [
        (quantity.of(error), quantity.of(one.expanded), quantity.tolerance(setup))
        for quantity in OF_CABINET
    ]
