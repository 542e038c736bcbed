"""Which shots a cabinet needs: the fewest whose covariance lets it be called in on its target.

The covariance is that of the adjustment itself, foretold from the same derivatives at the pose in
question. A cabinet that stands on its target can be called in when U <= tolerance; a share of the
tolerance is asked for, so that something is left for where hands have put it.

Among sets of as few shots those are taken that need the fewest ways of holding the meter, then the
fewest places to go to, then the shortest walk.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import IntArray
from witnessmark.model import STRAIGHTEDGE_POINTS, Held, OneCabinet, Placement, ShotKind, Side, Wall
from witnessmark.shots.candidates import Candidates, Goal, candidates
from witnessmark.shots.selection import Ranked
from witnessmark.shots.walking_order import WalkingOrder
from witnessmark.shots.what_would_help import NOT_FIXED, what_would_help

LEAST_SHOTS = 3
"""A pose has three unknowns."""

_WALKED = 60
"""So many sets that are as good otherwise are compared by walking."""
_WORTH_IT = 0.9
"""Where nothing reaches, one more shot is worth its while that narrows the worst by a tenth."""


class ShotPlan(msgspec.Struct, frozen=True):
    """The shots to take of one cabinet, in walking order, and what they will tell.

    ``expanded`` are the uncertainties (k = 2) that they are foretold to leave. Where ``reaches`` is
    false no set of shots is good enough: these are then as good as is worth the walk, or none, and
    ``expanded`` None, where no set fixes the cabinet at all.
    """

    shots: tuple[ShotKind, ...]
    expanded: Placement | None
    reaches: bool
    """Whether these shots can bring a verdict ``in``."""
    fewest: int | None
    """How many shots are needed at least; None where no number is enough."""
    words: str


def planned_shots(
    cabinet: OneCabinet,
    standing: Mapping[Side, Placement] | None = None,
    *,
    holds: Collection[Held] | None = None,
    walls: Collection[Wall] | None = None,
) -> ShotPlan:
    """Return the fewest shots that can bring a verdict ``in`` for a cabinet on its target.

    On a display coarser than the meter, shots that happen to read alike share their rounding and
    leave more uncertainty than is foretold here.

    Args:
        cabinet: which one, of which setup.
        standing: where the cabinets stand, this one at least; without it, on their targets.
        holds: how the meter may be held; without it, as the setup says. The ends of a straightedge
            are used when the cabinet has one.
        walls: to which walls; without it, to the front wall and the cabinet's own side wall, from
            which setback and side are counted. The others tell as much only where the size of the
            room is known to the millimetre.

    Raises:
        BadInput: when nothing is known of where the cabinet stands, or no shot can be taken of it.
    """
    setup, side = cabinet.setup, cabinet.side
    where = standing or setup.known_targets
    if side not in where:
        raise BadInput(f"target.{side}: it is needed to tell which shots the cabinet needs")
    goal = Goal(
        cabinet,
        where,
        tuple(held for held in Held if held in (holds or (setup.held,))),
        tuple(wall for wall in Wall if wall in (walls or (Wall.FRONT, Wall.beside(side)))),
    )
    offered = candidates(goal)
    found = _fewest(offered)
    if not found[-1].does:
        why = what_would_help(offered, found[-1].best)
        return _as_good_as_it_gets(offered, found, why)
    best = _best_walk(offered, found[-1])
    shots, _ = WalkingOrder(cabinet, where).in_order([offered.kinds[one] for one in best])
    expanded = offered.expanded(best)
    return ShotPlan(shots, expanded, True, found[-1].size, _settles(side, len(shots), expanded))


def _as_good_as_it_gets(offered: Candidates, found: list[Ranked], why: str) -> ShotPlan:
    best = _worth_it(found)
    if found[-1].shortfall[0] > NOT_FIXED:
        return ShotPlan((), None, False, None, why)
    order = WalkingOrder(offered.goal.cabinet, offered.goal.standing)
    shots, _ = order.in_order([offered.kinds[one] for one in best])
    return ShotPlan(shots, offered.expanded(best), False, None, why)


def _fewest(offered: Candidates) -> list[Ranked]:
    """Sets of each size in turn, until one does what is wanted or there may be no more shots."""
    found = [offered.selection.of_size(LEAST_SHOTS)]
    for size in range(LEAST_SHOTS + 1, offered.most + 1):
        if found[-1].does:
            break
        found.append(offered.selection.of_size(size, found[-1]))
    return found


def _worth_it(found: list[Ranked]) -> IntArray:
    """The best set of the size beyond which more shots hardly help."""
    enough = next(
        (
            ranked
            for ranked, larger in itertools.pairwise(found)
            if larger.shortfall[0] > _WORTH_IT * ranked.shortfall[0]
        ),
        found[-1],
    )
    return enough.best


def _best_walk(offered: Candidates, ranked: Ranked) -> IntArray:
    """Of the sets that do, the one that is easiest to take."""
    order = WalkingOrder(offered.goal.cabinet, offered.goal.standing)
    good = ranked.sets[ranked.shortfall <= 1.0]
    ways = np.array([_ways(offered, one) for one in good])
    good = good[ways == ways.min()]
    places = np.array([order.places([offered.kinds[shot] for shot in one]) for one in good])
    easiest = good[places == places.min()][:_WALKED]
    walks = [round(order.in_order([offered.kinds[shot] for shot in one])[1]) for one in easiest]
    best: IntArray = easiest[int(np.argmin(walks))]
    return best


def _ways(offered: Candidates, chosen: IntArray) -> int:
    """How many ways of holding the meter a set needs; a straightedge is one more."""
    kinds = [offered.kinds[shot] for shot in chosen]
    straightedge = any(kind.point in STRAIGHTEDGE_POINTS for kind in kinds)
    return len({kind.held for kind in kinds}) + straightedge


def _settles(side: Side, count: int, expanded: Placement) -> str:
    return (
        f"{count} shots settle the {side} cabinet: side to ±{expanded.side_mm:.1f} mm, setback to "
        f"±{expanded.setback_mm:.1f} mm, toe-in to ±{expanded.toe_in_deg:.2f}°"
    )
