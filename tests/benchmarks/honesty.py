"""Rounds of every kind in rooms of every shape, to see how honest the verdicts are.

The distances are those of the simulated room's own ray casting; rooms are out of square, cabinets
have odd corners and a straightedge, and shots are held in all four ways. Every round is solved
clean, and once more with a blunder of 15 mm planted in one of its shots.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import msgspec
import numpy as np
from numpy.random import Generator

from witnessmark.errors import TooFewShots
from witnessmark.geometry.verdict import Verdict
from witnessmark.locate.arrival import arrival_us, level_db
from witnessmark.locate.sightlines import why_impossible
from witnessmark.locate.symmetry import SymmetryError, path_to_seat_mm
from witnessmark.model import (
    STRAIGHTEDGE_POINTS,
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
    TouchPoint,
)
from witnessmark.placing.judge import PairAppraisal, appraise
from witnessmark_simulators.meter import ImperfectMeter
from witnessmark_simulators.room import ImpossibleShot, SimulatedRoom

METERS = {
    "a laser in millimetres": Meter(0.4, 1.0, 0.7),
    "a laser in sixteenths": Meter(0.6, 25.4 / 16, 0.8, scale_ppm=50.0),
    "a tape": Meter(1.0, 1.0, 0.5, scale_ppm=200.0),
}
BLUNDER_MM = 15.0
WALL_SHOTS, OTHER_SHOTS = 7, 2
"""Shots of each cabinet: six beyond the three that fix it, so that a blunder can be named."""
_FLUSH_OR_SQUARE = (Held.CABINET, Held.WALL)
_OWN = {
    side: list(itertools.product((AimedAt.FRONT, AimedAt(side.value)), _FLUSH_OR_SQUARE))
    for side in Side
}
"""To the walls that side and setback are counted from."""
_OTHERS = {
    side: [
        *itertools.product((AimedAt.BACK, AimedAt(side.other.value)), _FLUSH_OR_SQUARE),
        (AimedAt.SEAT, Held.POINT),
        (AimedAt.LEFT, Held.SPOT),
        (AimedAt.RIGHT, Held.SPOT),
    ]
    for side in Side
}
NAMES = ("side_mm", "setback_mm", "toe_in_deg")


class World(NamedTuple):
    """What is known of a room, and where its cabinets truly stand."""

    setup: Setup
    truth: SimulatedRoom
    meter: ImperfectMeter


class Outcome(NamedTuple):
    """What one round was worth."""

    held: dict[str, bool]
    """Whether the interval of each quantity held the truth."""
    called_in: int
    wrongly_in: int
    accused: bool
    """Whether a shot of the clean round was suspected."""
    named: bool
    """Whether the planted blunder was laid to its shot, and to no other."""


def outcomes(count: int, seed: int, meter: Meter) -> Iterator[Outcome]:
    """Yield ``count`` rounds with a meter of this kind."""
    rng = np.random.default_rng(seed)
    while count:
        world = _world(rng, meter)
        kinds = _kinds(rng, world)
        if kinds is None:
            continue
        count -= 1
        yield _outcome(rng, world, kinds)


def _world(rng: Generator, meter: Meter) -> World:
    room = _room(rng)
    cabinets = Pair(random_cabinet(rng), random_cabinet(rng))
    seat = Seat(room.length_mm * 0.66, room.width_mm * float(rng.uniform(0.46, 0.54)), 1000.0)
    base = Placement(
        room.width_mm * float(rng.uniform(0.24, 0.34)),
        room.length_mm * float(rng.uniform(0.24, 0.4)),
        float(rng.uniform(-4, 20)),
    )
    standing = Pair(near(rng, base, 40.0, 3.0), near(rng, base, 40.0, 3.0))
    setup = Setup(room=room, cabinets=cabinets, seat=seat, meter=meter)
    limit = setup.tolerance
    targets = Pair[Placement | None](
        *(near(rng, standing[s], 1.5 * limit.position_mm, 1.5 * limit.toe_in_deg) for s in Side)
    )
    setup = msgspec.structs.replace(setup, targets=targets)
    return World(setup, SimulatedRoom(room, cabinets, seat, standing), ImperfectMeter(meter, rng))


def _room(rng: Generator) -> Room:
    width, length = float(rng.uniform(3800, 6200)), float(rng.uniform(5000, 8200))
    skew = rng.uniform(-180, 180, size=5).tolist()
    return Room(
        (0.0, 0.0),
        (width, 0.0),
        (width + skew[0], length + skew[1]),
        (skew[2], length + skew[3]),
    )


def random_cabinet(rng: Generator) -> Cabinet:
    """A box of some size with a touch point behind it and a straightedge."""
    width, depth = float(rng.uniform(190, 420)), float(rng.uniform(280, 560))
    plinth = TouchPoint(float(rng.uniform(-20, 20)), depth + float(rng.uniform(5, 40)), 20.0)
    return Cabinet(
        width, depth, 950.0, points={"plinth-rear": plinth}, straightedge_mm=width + 400.0
    )


def near(rng: Generator, at: Placement, position_mm: float, toe_in_deg: float) -> Placement:
    """A placement within these limits of another in each quantity."""
    most = (position_mm, position_mm, toe_in_deg)
    side, setback, turn = (rng.uniform(-1, 1, 3) * most).tolist()
    return Placement(at.side_mm + side, at.setback_mm + setback, at.toe_in_deg + turn)


def _kinds(rng: Generator, world: World) -> list[ShotKind] | None:
    """Shots of both cabinets that can be taken, drawn from all ways of holding."""
    chosen: list[ShotKind] = []
    for side in Side:
        own = list(itertools.islice(_drawn(rng, world, side, _OWN[side]), WALL_SHOTS))
        others = list(itertools.islice(_drawn(rng, world, side, _OTHERS[side]), OTHER_SHOTS))
        if len(own) < WALL_SHOTS or len(others) < OTHER_SHOTS:
            return None
        chosen += own + others
    if rng.random() < 0.3:
        chosen.append(ShotKind(Side.LEFT, "front-inner", AimedAt.CABINET, Held.POINT))
    return chosen


def _drawn(
    rng: Generator, world: World, side: Side, ways: Sequence[tuple[AimedAt, Held]]
) -> Iterator[ShotKind]:
    """Shots of these ways that can be taken, in any order."""
    points = list(world.setup.cabinets[side].touch_points)
    kinds = [
        ShotKind(side, point, to, held)
        for point, (to, held) in itertools.product(points, ways)
        if point not in STRAIGHTEDGE_POINTS or to is AimedAt.FRONT
    ]
    for place in rng.permutation(len(kinds)).tolist():
        if can_be_taken(world, kinds[place]):
            yield kinds[place]


def can_be_taken(world: World, kind: ShotKind) -> bool:
    """Whether nothing stands in the beam and the distance is one that a meter can show."""
    standing = {side: world.truth.standing[side] for side in Side}
    if why_impossible(world.setup, standing, kind) is not None:
        return False
    try:
        return world.truth.true_distance(kind) > 80.0
    except ImpossibleShot:
        return False


def _outcome(rng: Generator, world: World, kinds: list[ShotKind]) -> Outcome:
    answers = [world.meter.press(world.truth.true_distance(kind)) for kind in kinds]
    shots = [
        Shot(kind, answer.distance_mm or 0.0) for kind, answer in zip(kinds, answers, strict=True)
    ]
    clean = appraise(world.setup, shots)
    called_in, wrongly_in = verdicts_against(world, clean)
    place = int(rng.integers(len(shots)))
    wrong = math.copysign(BLUNDER_MM, rng.random() - 0.5)
    spoilt = list(shots)
    spoilt[place] = Shot(shots[place].kind, shots[place].reading_mm + wrong)
    return Outcome(
        _held(world, clean),
        called_in,
        wrongly_in,
        bool(suspects(clean)),
        _named(world.setup, spoilt) == [spoilt[place]],
    )


def _named(setup: Setup, shots: list[Shot]) -> list[Shot]:
    """Return the shots that are suspected; none where the answer is a question about several."""
    try:
        return suspects(appraise(setup, shots))
    except TooFewShots:
        return []


def suspects(appraisal: PairAppraisal) -> list[Shot]:
    """The shots of both cabinets that do not fit the others."""
    return [check.shot for one in appraisal.cabinets.values() for check in one.suspects]


def verdicts_against(world: World, appraisal: PairAppraisal) -> tuple[int, int]:
    """How many quantities were called in, and how many of these are not."""
    called, wrong = 0, 0
    limit = dict(zip(NAMES, limits(world.setup), strict=True))
    for side, one in appraisal.cabinets.items():
        target, against = world.setup.targets[side], one.against_target
        if target is None or against is None:
            continue
        error = world.truth.standing[side].minus(target)
        for name, verdict in zip(NAMES, against.verdicts.values(), strict=True):
            if verdict is Verdict.IN:
                called += 1
                wrong += abs(getattr(error, name)) > limit[name]
    return called, wrong


def limits(setup: Setup) -> tuple[float, float, float]:
    """The tolerances of side, setback and toe-in."""
    position = setup.tolerance.position_mm
    return position, position, setup.tolerance.toe_in_deg


def _held(world: World, appraisal: PairAppraisal) -> dict[str, bool]:
    held = {}
    for side, one in appraisal.cabinets.items():
        off = one.measured.minus(world.truth.standing[side])
        for name in NAMES:
            held[f"{side} {name}"] = abs(getattr(off, name)) <= getattr(one.expanded, name)
    pair, truth = appraisal.symmetry, _true_symmetry(world)
    assert pair is not None
    for name in SymmetryError.__struct_fields__:
        off_by = abs(getattr(pair.error, name) - getattr(truth, name))
        held[f"symmetry {name}"] = off_by <= getattr(pair.expanded, name)
    return held


def _true_symmetry(world: World) -> SymmetryError:
    standing = world.truth.standing
    left, right = (path_to_seat_mm(world.setup, side, standing[side]) for side in Side)
    off = standing.left.minus(standing.right)
    return SymmetryError(
        off.side_mm,
        off.setback_mm,
        off.toe_in_deg,
        left - right,
        arrival_us(left - right, world.setup.temperature_c),
        level_db(left, right),
    )
