"""Rounds for the study of honest answers: what is told of a room, what is true, and the shots.

The distances are those of the simulated room's own ray casting. A regime says what its rounds have
in common; everything else of a round is drawn from the generator that is handed in.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

import msgspec
from honesty import METERS, World, can_be_taken, near, random_cabinet
from numpy.random import Generator

from witnessmark.model import (
    BOX_POINTS,
    AimedAt,
    Cabinet,
    Held,
    Meter,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
)
from witnessmark_simulators.meter import ImperfectMeter
from witnessmark_simulators.room import SimulatedRoom
from witnessmark_simulators.scenario import wall_shots

LASER = METERS["a laser in millimetres"]
EITHER = (Held.CABINET, Held.WALL)
SEAT_AND_SPOT = ((AimedAt.SEAT, Held.POINT), (AimedAt.LEFT, Held.SPOT))
_NEAREST_MM = 80.0
"""A shorter distance is not measured by a laser; common practice, no source."""


class Slipped(NamedTuple):
    """Shots of which some were read or written down wrongly."""

    shots: list[Shot]
    wrong: frozenset[int] = frozenset()
    """Places of the wrong ones."""
    band: str = ""
    """A name for slips of about this size, to be counted apart."""


Draw = Callable[[Generator, World, Side, "Regime"], Iterator[ShotKind]]
Slip = Callable[[Generator, list[Shot]], Slipped]


def no_slip(_rng: Generator, shots: list[Shot]) -> Slipped:
    """Every shot as it was read."""
    return Slipped(shots)


def the_walk(_rng: Generator, world: World, side: Side, regime: Regime) -> Iterator[ShotKind]:
    """The usual four shots: two of one face to the front wall, two of another to the side wall."""
    for kind in wall_shots(side):
        shot = msgspec.structs.replace(kind, held=regime.holds[0])
        if can_be_taken(world, shot):
            yield shot


def from_one_face(rng: Generator, world: World, side: Side, regime: Regime) -> Iterator[ShotKind]:
    """Two shots of one face to its wall and one to the other near wall; then any to all walls.

    None where these three cannot be taken.
    """
    faces = [(("rear-inner", "rear-outer"), AimedAt.FRONT)]
    faces.append((("front-outer", "rear-outer"), AimedAt(side.value)))
    (points, to), (_, other) = (faces[place] for place in rng.permutation(2))
    held = regime.holds[int(rng.integers(len(regime.holds)))]
    pair = [ShotKind(side, point, to, held) for point in points]
    third = [*itertools.islice(_drawn(rng, world, side, regime.holds, (other,)), 1)]
    if not third or not all(can_be_taken(world, kind) for kind in pair):
        return
    yield from (*pair, *third)
    yield from _drawn(rng, world, side, regime.holds, (to, other))
    yield from _drawn(rng, world, side, regime.holds, (AimedAt.BACK, AimedAt(side.other.value)))


def from_anywhere(rng: Generator, world: World, side: Side, regime: Regime) -> Iterator[ShotKind]:
    """A shot to each near wall from any point, then any more to the same two walls.

    None where there is none to one of them.
    """
    near_walls = (AimedAt.FRONT, AimedAt(side.value))
    for to in near_walls:
        one = [*itertools.islice(_drawn(rng, world, side, regime.holds, (to,)), 1)]
        if not one:
            return
        yield from one
    yield from _drawn(rng, world, side, regime.holds, near_walls)


def across_the_room(rng: Generator, world: World, side: Side, regime: Regime) -> Iterator[ShotKind]:
    """A shot to each near wall, one to each far wall, then any to all four walls."""
    walls = [AimedAt(side.value), AimedAt.FRONT, AimedAt(side.other.value), AimedAt.BACK]
    for to in walls:
        yield from itertools.islice(_drawn(rng, world, side, regime.holds, (to,)), 1)
    yield from _drawn(rng, world, side, regime.holds, walls)


class Regime(NamedTuple):
    """What the rounds of one kind have in common."""

    name: str
    shots: int = 4
    """Shots to walls of each cabinet."""
    holds: tuple[Held, ...] = EITHER
    draw: Draw = from_one_face
    more: tuple[tuple[AimedAt, Held], ...] = ()
    """Shots of each cabinet to something else, beyond those."""
    toe_in_deg: tuple[float, float] = (-4.0, 20.0)
    skew: float = 0.0
    """By what share of its length the far end of a side wall lies to one side."""
    told_square: bool = False
    """Whether that room is told as a rectangle."""
    width_error_mm: float = 0.0
    """How much wider or narrower than told both cabinets are."""
    targets: bool = True
    meter: Meter = LASER
    slip: Slip = no_slip
    weight: int = 1
    """How many times the usual number of rounds it gets."""


class Case(NamedTuple):
    """One round: what is told and true, and its shots, some of them wrong."""

    world: World
    shots: list[Shot]
    wrong: frozenset[int]
    band: str


def draw_case(regime: Regime, rng: Generator) -> Case:
    """The next round of a regime whose shots can all be taken."""
    while True:
        world = _world(rng, regime)
        shots = _shots(rng, world, regime)
        if shots is not None:
            return Case(world, *regime.slip(rng, shots))


def _world(rng: Generator, regime: Regime) -> World:
    width, length = float(rng.uniform(3800, 6200)), float(rng.uniform(5000, 8200))
    told = true = Room.rectangular(width, length)
    if regime.skew:
        true = skewed(told, rng.choice((-1.0, 1.0), 3) * regime.skew)
    cabinets = Pair(random_cabinet(rng), random_cabinet(rng))
    seat = Seat(length * 0.66, width * float(rng.uniform(0.46, 0.54)), 1000.0)
    low, high = regime.toe_in_deg
    beside, before = float(rng.uniform(0.24, 0.34)), float(rng.uniform(0.24, 0.4))
    base = Placement(width * beside, length * before, 0.0)
    standing = Pair(*(_turned(rng, near(rng, base, 40.0, 0.0), low, high) for _ in Side))
    setup = Setup(
        room=told if regime.told_square else true, cabinets=cabinets, seat=seat, meter=regime.meter
    )
    limit = setup.tolerance
    if regime.targets:
        targets = Pair[Placement | None](
            *(near(rng, standing[s], 1.5 * limit.position_mm, 1.5 * limit.toe_in_deg) for s in Side)
        )
        setup = msgspec.structs.replace(setup, targets=targets)
    wider = float(rng.choice((-1.0, 1.0))) * regime.width_error_mm
    built = Pair(*(with_width_error(cabinets[side], wider) for side in Side))
    truth = SimulatedRoom(true, built, seat, standing)
    return World(setup, truth, ImperfectMeter(regime.meter, rng))


def skewed(room: Room, shares: Sequence[float]) -> Room:
    """A room whose far corners lie aside by shares of its length: the right, the left one.

    A third share moves the far right corner along the room.
    """
    right, left, along = (float(share) * room.length_mm for share in shares)
    (x, y), (x_left, y_left) = room.back_right, room.back_left
    return msgspec.structs.replace(
        room, back_right=(x + right, y + along), back_left=(x_left + left, y_left)
    )


def with_width_error(cabinet: Cabinet, wider_mm: float) -> Cabinet:
    """A cabinet that is wider than it is told to be."""
    straightedge = cabinet.straightedge_mm
    return msgspec.structs.replace(
        cabinet,
        width_mm=cabinet.width_mm + wider_mm,
        straightedge_mm=None if straightedge is None else straightedge + abs(wider_mm),
    )


def _turned(rng: Generator, at: Placement, low_deg: float, high_deg: float) -> Placement:
    return msgspec.structs.replace(at, toe_in_deg=float(rng.uniform(low_deg, high_deg)))


def _shots(rng: Generator, world: World, regime: Regime) -> list[Shot] | None:
    """The readings of both cabinets, that of the meter's errors included."""
    kinds: list[ShotKind] = []
    for side in Side:
        own = _different(regime.draw(rng, world, side, regime), regime.shots)
        for to, held in regime.more:
            own += itertools.islice(_drawn(rng, world, side, (held,), (to,)), 1)
        if len(own) < regime.shots + len(regime.more):
            return None
        kinds += own
    answers = [world.meter.press(world.truth.true_distance(kind)) for kind in kinds]
    read = [answer.distance_mm or 0.0 for answer in answers]
    return [*map(Shot, kinds, read)] if min(read) > _NEAREST_MM else None


def _different(kinds: Iterator[ShotKind], most: int) -> list[ShotKind]:
    found: list[ShotKind] = []
    while len(found) < most and (kind := next(kinds, None)) is not None:
        if kind not in found:
            found.append(kind)
    return found


def _drawn(
    rng: Generator, world: World, side: Side, holds: Sequence[Held], aims: Sequence[AimedAt]
) -> Iterator[ShotKind]:
    """Shots of this kind that can be taken, in any order."""
    points = [*BOX_POINTS, *world.setup.cabinets[side].points]
    kinds = [ShotKind(side, *one) for one in itertools.product(points, aims, holds)]
    for place in rng.permutation(len(kinds)).tolist():
        if can_be_taken(world, kinds[place]):
            yield kinds[place]
