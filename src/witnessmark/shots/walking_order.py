"""The walk that takes a set of shots, as straight legs from place to place.

A meter held on the wall is read at the wall, one on the cabinet at its touch point; for a spot shot
one goes from there to the dot. Left to right, so that the walk leads on from one cabinet to the
other: the left one's ends near the right one, and the right one's begins near the left one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from witnessmark.geometry.frame import FramePoint, side_frame
from witnessmark.locate.sightlines import beam
from witnessmark.model import Held, OneCabinet, Placement, ShotKind, Side


class WalkingOrder:
    """Where each shot is taken, in the frame of its cabinet, and how far it is between them."""

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

    def _from(self, start: ShotKind, kinds: Sequence[ShotKind]) -> tuple[list[ShotKind], float]:
        walk, left = [start], [kind for kind in kinds if kind != start]
        length = self._within(start)
        while left:
            here = self._first_and_last(walk[-1])[1]
            following = min(left, key=lambda kind: round(self._leg_mm(here, kind), 3))
            length += self._leg_mm(here, following) + self._within(following)
            walk.append(following)
            left.remove(following)
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
            start, end = beam(self._setup, self._standing, kind)
            self._stops[kind] = {
                Held.WALL: (end, end),
                Held.CABINET: (start, start),
                Held.POINT: (start, start),
                Held.SPOT: (start, end),
            }[kind.held]
        return self._stops[kind]

    def _reference_of_the_other(self) -> FramePoint | None:
        placement = self._standing.get(self._side.other)
        if placement is None:
            return None
        own = side_frame(self._setup.room, self._side)
        other = side_frame(self._setup.room, self._side.other)
        return own.from_plan(other.to_plan(other.reference(placement)))
