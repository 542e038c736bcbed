"""Which shots a cabinet needs: the fewest whose covariance lets it be called in on its target.

The covariance is that of the adjustment itself, foretold from the same derivatives at the pose in
question. A cabinet that stands on its target can be called in when U <= tolerance; a share of the
tolerance is asked for, so that something is left for where hands have put it.

Among sets of as few shots those are taken that need the fewest ways of holding the meter, then the
fewest places to go to, then the shortest walk.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Mapping, Sequence

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import IntArray
from witnessmark.geometry.frame import FramePoint, side_frame
from witnessmark.locate.sightlines import beam
from witnessmark.model import STRAIGHTEDGE_POINTS, Held, OneCabinet, Placement, ShotKind, Side, Wall
from witnessmark.shots.candidates import Candidates, Goal, candidates
from witnessmark.shots.selection import Ranked
from witnessmark.shots.what_would_help import NOT_FIXED, what_would_help

LEAST_SHOTS = 3
"""Fewest shots of a cabinet: a pose has three unknowns."""
_WALKED = 60
"""Most sets, as good in all else, that are compared by the length of their walks."""
_WORTH_IT = 0.9
"""Part of the worst uncertainty to which one more shot must narrow it where nothing suffices."""


class WalkingOrder:
    """Where each shot is taken, in the frame of its cabinet, and how far it is between them.

    A meter held on the wall is read at the wall, one on the cabinet at its touch point; for a spot
    shot one goes from there to the dot. Left to right, so that the walk leads on from one cabinet
    to the other: the left one's ends near the right one, and the right one's begins near the left
    one.
    """

    def __init__(self, cabinet: OneCabinet, standing: Mapping[Side, Placement]) -> None:
        self._setup, self._side, self._standing = cabinet.setup, cabinet.side, standing
        self._stops: dict[ShotKind, tuple[FramePoint, FramePoint]] = {}
        self._other = self._reference_of_the_other()

    def places(self, kinds: Sequence[ShotKind]) -> int:
        """Return at how many places one stops, to the millimetre."""
        return len({(round(x), round(y)) for kind in kinds for x, y in self._first_and_last(kind)})

    def in_order(self, kinds: Sequence[ShotKind]) -> tuple[tuple[ShotKind, ...], float]:
        """Return the shots in walking order, repeats at once, and the length of the walk, mm.

        From every shot on always to the nearest that is left, the best of these walks.
        """
        left = sorted(set(kinds), key=str)
        walks = [self._from(start, left) for start in left]
        walk, length = min(walks, key=lambda one: round(one[1], 3))
        again = {kind: kinds.count(kind) for kind in left}
        return tuple(kind for kind in walk for _ in range(again[kind])), length

    def onward(self, start: ShotKind, kinds: Iterable[ShotKind]) -> list[ShotKind]:
        """Return a shot and then the others, from every shot on always to the nearest left."""
        walk, left = [start], [kind for kind in kinds if kind != start]
        while left:
            here = self._first_and_last(walk[-1])[1]
            following = min(left, key=lambda kind: round(self._leg_mm(here, kind), 3))
            walk.append(following)
            left.remove(following)
        return walk

    def _from(self, start: ShotKind, kinds: Sequence[ShotKind]) -> tuple[list[ShotKind], float]:
        walk = self.onward(start, kinds)
        length = sum(map(self._within, walk))
        for one, following in itertools.pairwise(walk):
            length += self._leg_mm(self._first_and_last(one)[1], following)
        if self._side is Side.RIGHT:
            walk.reverse()
        return walk, length + self._to_the_other(walk)

    def _leg_mm(self, here: FramePoint, kind: ShotKind) -> float:
        return math.dist(here, self._first_and_last(kind)[0])

    def _within(self, kind: ShotKind) -> float:
        return math.dist(*self._first_and_last(kind))

    def _to_the_other(self, walk: Sequence[ShotKind]) -> float:
        if self._other is None:
            return 0.0
        if self._side is Side.LEFT:
            return math.dist(self._first_and_last(walk[-1])[1], self._other)
        return math.dist(self._first_and_last(walk[0])[0], self._other)

    def _first_and_last(self, kind: ShotKind) -> tuple[FramePoint, FramePoint]:
        if kind not in self._stops:
            ends = beam(self._setup, self._standing, kind)
            first, last = kind.held.stops
            self._stops[kind] = ends[first], ends[last]
        return self._stops[kind]

    def _reference_of_the_other(self) -> FramePoint | None:
        placement = self._standing.get(self._side.other)
        if placement is None:
            return None
        own = side_frame(self._setup.room, self._side)
        other = side_frame(self._setup.room, self._side.other)
        return own.from_plan(other.to_plan(other.reference(placement)))


class ShotPlan(msgspec.Struct, frozen=True):
    """The shots to take of one cabinet, in walking order, and what they will tell.

    ``expanded`` are the uncertainties (k = 2) that they are foretold to leave. Where there is a
    ``shortfall`` no set of shots is good enough: these are then as good as is worth the walk, or
    none, and ``expanded`` None, where no set fixes the cabinet at all.
    """

    shots: tuple[ShotKind, ...]
    expanded: Placement | None
    fewest: int | None
    """How many shots are needed at least; None where no number is enough."""
    shortfall: str | None = None
    """Why no set of shots is good enough, and what would help."""

    @property
    def reaches(self) -> bool:
        """Whether these shots can bring a verdict ``in``."""
        return self.shortfall is None


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
        raise BadInput(f"target.{side}: it is needed to choose the shots the cabinet needs")
    goal = Goal(
        cabinet,
        where,
        tuple(held for held in Held if held in (holds or (setup.held,))),
        tuple(wall for wall in Wall if wall in (walls or (Wall.FRONT, Wall.beside(side)))),
    )
    offered = candidates(goal)
    found = _fewest(offered)
    if not found[-1].suffices:
        why = what_would_help(offered, found[-1].best)
        return _as_good_as_it_gets(offered, found, why)
    best = _best_walk(offered, found[-1])
    shots, _ = WalkingOrder(cabinet, where).in_order([offered.kinds[one] for one in best])
    return ShotPlan(shots, offered.expanded(best), found[-1].size)


def _as_good_as_it_gets(offered: Candidates, found: list[Ranked], why: str) -> ShotPlan:
    best = _worth_it(found)
    if found[-1].shortfall[0] > NOT_FIXED:
        return ShotPlan((), None, None, why)
    order = WalkingOrder(offered.goal.cabinet, offered.goal.standing)
    shots, _ = order.in_order([offered.kinds[one] for one in best])
    return ShotPlan(shots, offered.expanded(best), None, why)


def _fewest(offered: Candidates) -> list[Ranked]:
    """Return sets of each size in turn, until one is good enough or no more shots may be taken."""
    found = [offered.selection.of_size(LEAST_SHOTS)]
    for size in range(LEAST_SHOTS + 1, offered.most + 1):
        if found[-1].suffices:
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
    """Return the easiest to take of the sets that are good enough."""
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
    """Return how many ways of holding the meter a set needs; a straightedge is one more."""
    kinds = [offered.kinds[shot] for shot in chosen]
    straightedge = any(kind.point in STRAIGHTEDGE_POINTS for kind in kinds)
    return len({kind.held for kind in kinds}) + straightedge
