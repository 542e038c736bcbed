"""The shots that can be taken of a cabinet, weighed by what each would tell of its pose."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray, IntArray
from witnessmark.geometry.rounding import repeats_help, rounding_kept_mm2
from witnessmark.locate.observe import ShotModel
from witnessmark.locate.sightlines import possible_shots
from witnessmark.model import OF_CABINET, Held, OneCabinet, Placement, Setup, ShotKind, Side, Wall
from witnessmark.shots.selection import Selection

SHARE = 0.6
"""Part of the tolerance that the uncertainty may take; hands need the rest."""
MOST_SHOTS = 12
"""Most shots of one cabinet that anybody takes between two nudges; common practice, no source."""


class Goal(msgspec.Struct, frozen=True):
    """What a set of shots of a cabinet that stands so should do.

    Every expanded uncertainty (k = 2) should be no more than ``SHARE`` of its tolerance, by shots
    to ``walls``, held in the ways of ``holds``.
    """

    cabinet: OneCabinet
    standing: Mapping[Side, Placement]
    """Where the cabinets stand, this one at least."""
    holds: tuple[Held, ...]
    walls: tuple[Wall, ...]

    @property
    def setup(self) -> Setup:
        """The setup that the cabinet is of."""
        return self.cabinet.setup

    @property
    def limits(self) -> FloatArray:
        """(3,) the largest expanded uncertainty of side, setback (mm) and toe-in (degrees)."""
        return np.array([SHARE * quantity.tolerance(self.setup) for quantity in OF_CABINET])


class Candidates(NamedTuple):
    """The shots that can be taken, how sets of them are weighed, and how many a set may have."""

    goal: Goal
    kinds: tuple[ShotKind, ...]
    selection: Selection
    most: int

    def expanded(self, chosen: IntArray) -> Placement:
        """Return the expanded uncertainties (k = 2) that a set of shots is foretold to leave."""
        return Placement(*self.selection.expanded(chosen[None, :])[0].tolist())


def candidates(goal: Goal) -> Candidates:
    """Return what can be shot of the cabinet.

    Raises:
        BadInput: when there is nothing that could be shot, or too little for a pose.
    """
    setup, side = goal.setup, goal.cabinet.side
    kinds = possible_shots(setup, side, goal.standing, goal.holds, goal.walls)
    repeated = repeats_help(setup.meter)
    if not kinds or (not repeated and len(kinds) < 3):
        held = " or ".join(goal.holds)
        few = f"only {len(kinds)} different shots" if kinds else "no shot"
        raise BadInput(
            f'held: {few} of the {side} cabinet can be taken with the meter held "{held}" where it '
            "stands; allow another way of holding it, or more walls"
        )
    kept = rounding_kept_mm2(setup.meter) / setup.meter.shot_sigma_mm**2 if repeated else None
    selection = selection_from(setup, goal.standing[side], kinds, goal.limits, kept=kept)
    most = MOST_SHOTS if repeated else min(MOST_SHOTS, len(kinds))
    return Candidates(goal, kinds, selection, most)


def selection_from(
    setup: Setup,
    placement: Placement,
    kinds: Sequence[ShotKind],
    limits: FloatArray,
    *,
    kept: float | None,
) -> Selection:
    """Return how sets of shots of one cabinet are weighed, none of them to the other one.

    Args:
        setup: room, cabinets and meter.
        placement: where the cabinet stands.
        kinds: the shots on offer.
        limits: (3,) as ``Goal.limits``.
        kept: as ``Selection`` has it.
    """
    model = ShotModel(setup, kinds)
    unknowns = np.zeros(model.unknowns)
    unknowns[:3] = placement.side_mm, placement.setback_mm, np.radians(placement.toe_in_deg)
    _, jacobian = model(unknowns)
    jacobian[:, :3] /= model.to_degrees
    weighted = jacobian / model.sigma[:, None]
    return Selection(weighted[: len(kinds)], weighted[len(kinds) :], limits, kept=kept)
