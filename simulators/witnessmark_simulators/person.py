"""The person with the meter in the simulated room: shoots what is prompted, nudges as asked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import numpy as np
from numpy.random import Generator

from witnessmark.model import AimedAt, Pair, Placement, ShotKind, Side
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

    def push(self, kind: ShotKind, by_mm: float, about: str | None = None) -> None:
        """Move a cabinet, watching one shot, so that it comes to read about so much more.

        It is pushed toward or away from the shot's wall, or turned about one of its touch points.
        Hands miss that by their share and a slip, and lead the rest astray by their share of it.

        Raises:
            ImpossibleShot: when that shot cannot be taken in this room.
        """
        hands, rng, side = self.hands, self._rng, kind.cabinet
        standing = self.truth[side]
        made_mm = by_mm * rng.normal(1.0, hands.gain) + rng.normal(0.0, hands.position_mm)
        aside_mm, askew_mm = rng.normal(0.0, hands.gain * abs(made_mm), 2).tolist()
        if about is None:
            turn_deg = math.degrees(askew_mm / self.world.cabinets[side].depth_mm)
            is_along = kind.to in (AimedAt.FRONT, AimedAt.BACK)
            toward = -1.0 if kind.to is AimedAt.BACK or kind.to.value == side.other.value else 1.0
            along_mm = toward * made_mm
            move = (aside_mm, along_mm) if is_along else (along_mm, aside_mm)
        else:
            per_deg = self._read_after(kind, self._turned(side, about, 1.0)) - self._read_after(
                kind, standing
            )
            turn_deg, move = 0.0, (aside_mm, askew_mm)
            standing = self._turned(side, about, made_mm / per_deg)
        reached = Placement(
            standing.side_mm + move[0],
            standing.setback_mm + move[1],
            standing.toe_in_deg + turn_deg,
        )
        self.world = self.world.moved(side, reached)

    def _read_after(self, kind: ShotKind, standing: Placement) -> float:
        return self.world.moved(kind.cabinet, standing).true_distance(kind)

    def _turned(self, side: Side, about: str, by_deg: float) -> Placement:
        """Where a cabinet stands once it is turned about a touch point, which stays where it is."""
        standing = self.truth[side]
        toe_in_deg = standing.toe_in_deg + by_deg
        steps = [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)]
        still = complex(*self.world.plan_point(side, about))
        there = [
            complex(
                *self.world.moved(
                    side,
                    Placement(standing.side_mm + one, standing.setback_mm + other, toe_in_deg),
                ).plan_point(side, about)
            )
            for one, other in steps
        ]
        gone, inward, back = there[0] - still, there[1] - there[0], there[2] - there[0]
        grid = np.array([[inward.real, back.real], [inward.imag, back.imag]])
        side_mm, setback_mm = np.linalg.solve(grid, [-gone.real, -gone.imag]).tolist()
        return Placement(standing.side_mm + side_mm, standing.setback_mm + setback_mm, toe_in_deg)

    def walk(self, kinds: Iterable[ShotKind]) -> Iterator[tuple[ShotKind, Answer]]:
        """Take one shot after another, each again until it brings a distance."""
        for kind in kinds:
            answer = self.shoot(kind)
            yield kind, answer
            while answer.distance_mm is None:
                answer = self.shoot(kind)
                yield kind, answer
