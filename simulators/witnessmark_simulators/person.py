"""The person with the meter in the simulated room: shoots what is prompted, nudges as asked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from numpy.random import Generator

from witnessmark.model import Pair, Placement, ShotKind, Side
from witnessmark_simulators.hands import Hands
from witnessmark_simulators.meter import Answer, ImperfectMeter
from witnessmark_simulators.room import SimulatedRoom

HANDS = Hands()
"""Hands of the usual clumsiness."""


class Person:
    """Someone who stands in ``world`` with a meter and moves its cabinets with clumsy hands."""

    def __init__(
        self, world: SimulatedRoom, meter: ImperfectMeter, rng: Generator, hands: Hands = HANDS
    ) -> None:
        self.world = world
        self.meter = meter
        self.hands = hands
        self._rng = rng

    @property
    def truth(self) -> Pair[Placement]:
        """Where the cabinets truly stand."""
        return self.world.standing

    def shoot(self, kind: ShotKind) -> Answer:
        """Press the meter's button for a prompted shot.

        Raises:
            ImpossibleShot: when that shot cannot be taken in this room.
        """
        return self.meter.press(self.world.true_distance(kind, self.meter.off_square_deg()))

    def nudge(self, side: Side, asked: Placement) -> None:
        """Move a cabinet by about ``asked`` (deltas)."""
        reached = self.hands.nudge(self.truth[side], asked, self._rng)
        self.world = self.world.moved(side, reached)

    def walk(self, kinds: Iterable[ShotKind]) -> Iterator[tuple[ShotKind, Answer]]:
        """Take one shot after another, each again until it brings a distance."""
        for kind in kinds:
            answer = self.shoot(kind)
            yield kind, answer
            while answer.distance_mm is None:
                answer = self.shoot(kind)
                yield kind, answer
