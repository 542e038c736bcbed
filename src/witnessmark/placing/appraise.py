"""What the shots say of the pair: pose, error, verdict and nudge of each cabinet, and symmetry."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from witnessmark.geometry.verdict import Verdict, verdict, worst
from witnessmark.locate.blunders import ShotCheck, explain
from witnessmark.locate.nudge import Nudge, nudge
from witnessmark.locate.pose import Located
from witnessmark.locate.symmetry import Symmetry, symmetry
from witnessmark.model import Pair, Placement, Setup, Shot, Side


class Appraisal(msgspec.Struct, frozen=True):
    """What is known of one cabinet. Without a target, error, verdicts and nudge are None.

    ``error`` is measured minus target, ``expanded`` the expanded uncertainty (k = 2) of both.
    """

    measured: Placement
    expanded: Placement
    error: Placement | None
    verdicts: dict[str, Verdict] | None
    """Of side, setback and toe_in."""
    nudge: Nudge | None
    checks: tuple[ShotCheck, ...]

    @property
    def verdict(self) -> Verdict | None:
        """The worst of the verdicts."""
        return None if self.verdicts is None else worst(list(self.verdicts.values()))

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
        {side: _appraise_one(setup, located, checks, side) for side in located.placements},
        symmetry(setup, located) if len(located.placements) == len(Side) else None,
    )


def _appraise_one(
    setup: Setup, located: Located, checks: Sequence[ShotCheck], side: Side
) -> Appraisal:
    measured, expanded = located.placements[side], located.expanded(side)
    own = tuple(check for check in checks if check.shot.kind.cabinet is side)
    target = setup.targets[side]
    if target is None:
        return Appraisal(measured, expanded, None, None, None, own)
    error = measured.minus(target)
    position, toe_in = setup.tolerance.position_mm, setup.tolerance.toe_in_deg
    verdicts = {
        "side": verdict(error.side_mm, expanded.side_mm, position, settled=located.settled),
        "setback": verdict(
            error.setback_mm, expanded.setback_mm, position, settled=located.settled
        ),
        "toe_in": verdict(error.toe_in_deg, expanded.toe_in_deg, toe_in, settled=located.settled),
    }
    move = nudge(setup, side, measured, verdicts)
    return Appraisal(measured, expanded, error, verdicts, move, own)
