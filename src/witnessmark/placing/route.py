"""The shots that are taken of a cabinet in this setup, and what is to be said of them.

The usual walk has a shot to spare that checks the others, so it is kept wherever it is enough;
where more shots are needed, or one of its shots cannot be taken, the planned ones are taken.
"""

from __future__ import annotations

import msgspec

from witnessmark.errors import BadInput
from witnessmark.geometry.planning import ShotPlan, planned_shots
from witnessmark.geometry.sightlines import why_impossible
from witnessmark.model import Setup, ShotKind, Side
from witnessmark.placing.walk import walk


class Route(msgspec.Struct, frozen=True):
    """The shots of one cabinet in walking order; a shot that is taken twice is in it twice."""

    shots: tuple[ShotKind, ...]
    remark: str | None = None
    """Why no shots can bring the verdict ``in``; None where they can, or without a target."""


def route(setup: Setup, side: Side) -> Route:
    """The shots to take of a cabinet, worked out once for a setup.

    Without a target there is nothing to be called in on, and the usual walk is taken.
    """
    usual = walk(setup, side)
    standing = {one: target for one in Side if (target := setup.targets[one]) is not None}
    if side not in standing:
        return Route(usual)
    try:
        plan = planned_shots(setup, side, standing)
        possible = all(why_impossible(setup, standing, kind) is None for kind in usual)
    except BadInput as error:
        return Route(usual, str(error))
    shots = usual if possible and _is_enough(plan, usual) else plan.shots or usual
    return Route(shots, None if plan.reaches else plan.words)


def _is_enough(plan: ShotPlan, usual: tuple[ShotKind, ...]) -> bool:
    """Whether more shots than the usual ones would not bring anything within reach."""
    return plan.fewest is None or plan.fewest <= len(usual)
