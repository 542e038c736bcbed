"""The shots that can be taken of a cabinet, weighed by what each would tell of its pose."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import IntArray
from witnessmark.geometry.rounding import repeats_help, rounding_kept_mm2
from witnessmark.locate.observe import ShotModel
from witnessmark.locate.sightlines import possible_shots
from witnessmark.model import Held, Placement, Setup, ShotKind, Side, Tolerance, Wall
from witnessmark.shots.selection import Selection


class Goal(msgspec.Struct, frozen=True):
    """What a set of shots should do.

    Every expanded uncertainty (k = 2) should be no more than ``share`` of its tolerance, with at
    most ``most`` shots to ``walls``, held in the ways of ``holds``. Where ``blunder_mm`` is given,
    an error of that size in any one of them should be laid to that one.

    Raises:
        BadInput: when a figure makes no sense.
    """

    holds: tuple[Held, ...]
    walls: tuple[Wall, ...]
    share: float
    most: int
    blunder_mm: float | None = None

    def __post_init__(self) -> None:
        if not (0 < self.share <= 1 and 3 <= self.most <= 30):
            raise BadInput("plan: share must lie above 0, to 1, and most between 3 and 30 shots")
        if self.blunder_mm is not None and not 0 < self.blunder_mm <= 10_000:
            raise BadInput(f"plan.blunder: {self.blunder_mm:g} mm must lie above 0, to 10 m")

    def limits(self, tolerance: Tolerance) -> tuple[float, float, float]:
        """The largest expanded uncertainty of side, setback (mm) and toe-in (degrees)."""
        position = self.share * tolerance.position_mm
        return position, position, self.share * tolerance.toe_in_deg


class Candidates(NamedTuple):
    """The shots that can be taken, and how sets of them are weighed.

    ``naming`` weighs them by how a blunder would show as well, where that is wished for.
    """

    kinds: tuple[ShotKind, ...]
    selection: Selection
    naming: Selection | None
    most: int

    def expanded(self, chosen: IntArray) -> Placement:
        """Expanded uncertainties (k = 2) that a set of the shots is foretold to leave."""
        return Placement(*self.selection.expanded(chosen[None, :])[0].tolist())


def offer(setup: Setup, side: Side, standing: Mapping[Side, Placement], wish: Goal) -> Candidates:
    """What can be shot of a cabinet that stands so.

    Raises:
        BadInput: when there is nothing that could be shot, or too little for a pose.
    """
    kinds = possible_shots(setup, side, standing, wish.holds, wish.walls)
    repeated = repeats_help(setup.meter)
    if not kinds or (not repeated and len(kinds) < 3):
        held = " or ".join(wish.holds)
        few = f"only {len(kinds)} different shots" if kinds else "no shot"
        raise BadInput(
            f'held: {few} of the {side} cabinet can be taken with the meter held "{held}" where it '
            "stands; allow another way of holding it, or more walls"
        )
    model = ShotModel(setup, kinds)
    unknowns = np.zeros(model.unknowns)
    placement = standing[side]
    unknowns[:3] = placement.side_mm, placement.setback_mm, np.radians(placement.toe_in_deg)
    _, jacobian = model(unknowns)
    jacobian[:, :3] /= model.to_degrees
    weighted = jacobian / model.sigma[:, None]
    selection = Selection(
        weighted[: len(kinds)],
        weighted[len(kinds) :],
        np.array(wish.limits(setup.tolerance)),
        kept=rounding_kept_mm2(setup.meter) / setup.meter.shot_sigma_mm**2 if repeated else None,
    )
    most = wish.most if repeated else min(wish.most, len(kinds))
    if wish.blunder_mm is None:
        return Candidates(kinds, selection, None, most)
    naming = selection.naming(wish.blunder_mm / setup.meter.shot_sigma_mm)
    return Candidates(kinds, selection, naming, most)
