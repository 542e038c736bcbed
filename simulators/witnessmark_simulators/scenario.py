"""The invented room, pair and targets of the demo, and where its cabinets begin."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator

import msgspec
from numpy.random import Generator

from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Meter,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    ShotKind,
    Side,
    Wall,
)
from witnessmark_simulators.hands import Hands
from witnessmark_simulators.meter import Behaviour, ImperfectMeter
from witnessmark_simulators.person import HANDS, Person
from witnessmark_simulators.room import SimulatedRoom

DEMO_TARGETS = Pair(Placement(1310.0, 1750.0, 12.0), Placement(1310.0, 1750.0, 12.0))
"""Where the demo's cabinets should end up."""

DEMO_SETUP = Setup(
    room=Room.rectangular(4620.0, 6100.0, 2550.0),
    cabinets=Pair(Cabinet(248.0, 372.0, 910.0), Cabinet(248.0, 372.0, 910.0)),
    seat=Seat(from_front_mm=4070.0, from_left_mm=2310.0, ear_height_mm=1040.0),
    meter=Meter(repeatability_mm=0.4, resolution_mm=1.0, zero_mm=0.7),
    targets=Pair[Placement | None](DEMO_TARGETS.left, DEMO_TARGETS.right),
)
"""All that is known of the demo's room before the first shot."""


class Scenario(msgspec.Struct, frozen=True):
    """What is known of a room, and where the cabinets truly stand at first."""

    setup: Setup
    start: Pair[Placement]

    def person(
        self,
        rng: Generator,
        *,
        hands: Hands = HANDS,
        squareness_deg: float = 0.0,
        script: Iterable[Behaviour] = (),
    ) -> Person:
        """Return someone in this room with a meter of the kind that the setup describes."""
        setup = self.setup
        world = SimulatedRoom(setup.room, setup.cabinets, setup.seat, self.start)
        meter = ImperfectMeter(setup.meter, rng, squareness_deg=squareness_deg, script=script)
        return Person(world, meter, rng, hands)


def demo_scenario(rng: Generator) -> Scenario:
    """Return the demo's room with both cabinets up to 80 mm and 5 degrees off their targets."""
    return Scenario(DEMO_SETUP, start_near(DEMO_TARGETS, rng))


def start_near(
    targets: Pair[Placement],
    rng: Generator,
    *,
    position_mm: float = 80.0,
    toe_in_deg: float = 5.0,
) -> Pair[Placement]:
    """Draw a start for each cabinet, uniform within these limits of its target in each quantity."""
    limits = (position_mm, position_mm, toe_in_deg)

    def near(target: Placement) -> Placement:
        side, setback, toe_in = (float(rng.uniform(-limit, limit)) for limit in limits)
        return Placement(
            target.side_mm + side, target.setback_mm + setback, target.toe_in_deg + toe_in
        )

    return Pair(near(targets.left), near(targets.right))


def wall_shots(side: Side) -> tuple[ShotKind, ...]:
    """Return four shots held on the walls that fix one cabinet."""
    beside = AimedAt(Wall.beside(side))
    places = (
        ("rear-inner", AimedAt.FRONT),
        ("rear-outer", AimedAt.FRONT),
        ("front-outer", beside),
        ("rear-outer", beside),
    )
    return tuple(ShotKind(side, point, to, Held.WALL) for point, to in places)


def rounds() -> Iterator[ShotKind]:
    """Yield the shots round both cabinets, over and over."""
    return itertools.cycle(wall_shots(Side.LEFT) + wall_shots(Side.RIGHT))
