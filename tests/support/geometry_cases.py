"""Rooms, pairs and shots for the tests of the geometry: drawn by hypothesis, shot by a simulator.

Every reading comes from the simulated room, which casts its own rays and shares no code with the
geometry.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping

import numpy as np
from effort import examples
from hypothesis import assume
from hypothesis import strategies as st

from witnessmark.locate.pose import Located
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
    Shot,
    ShotKind,
    Side,
    TouchPoint,
)
from witnessmark_simulators.room import ImpossibleShot, SimulatedRoom

SAME_MM = 1e-6
"""A nanometre: what is left when nothing but rounding differs."""
SAME_DEG = 1e-8

many = examples(30, 300)
some = examples(12, 100)

WALLS = (AimedAt.FRONT, AimedAt.BACK, AimedAt.LEFT, AimedAt.RIGHT)
POINTS = ("front-inner", "front-outer", "rear-inner", "rear-outer", "plinth")

CABINET = Cabinet(256.0, 384.0, 920.0, points={"plinth": TouchPoint(-15.0, 410.0)})
SETUP = Setup(
    room=Room.rectangular(4940.0, 6480.0),
    cabinets=Pair(CABINET, CABINET),
    seat=Seat(from_front_mm=4310.0, from_left_mm=2440.0, ear_height_mm=1030.0),
    meter=Meter(repeatability_mm=0.4, resolution_mm=1.0, zero_mm=0.7),
)
STANDING = Pair(Placement(1423.7, 1881.2, 8.6), Placement(1391.2, 1904.5, 7.1))

kinds = st.one_of(
    st.builds(
        ShotKind,
        st.sampled_from(Side),
        st.sampled_from(POINTS),
        st.sampled_from(WALLS),
        st.sampled_from((Held.WALL, Held.CABINET)),
    ),
    st.builds(
        ShotKind,
        st.sampled_from(Side),
        st.sampled_from(POINTS),
        st.sampled_from((AimedAt.SEAT, AimedAt.CABINET)),
        st.just(Held.POINT),
    ),
    st.builds(
        ShotKind,
        st.sampled_from(Side),
        st.sampled_from(POINTS),
        st.sampled_from((AimedAt.LEFT, AimedAt.RIGHT)),
        st.just(Held.SPOT),
    ),
)
"""Every kind of shot there is."""


@st.composite
def rooms(draw: st.DrawFn, *, square: bool | None = None) -> Room:
    """Draw rooms of common sizes, half of them out of square by up to 250 mm at each corner."""
    width, length = draw(st.floats(4000.0, 8000.0)), draw(st.floats(4500.0, 10_000.0))
    if square or (square is None and draw(st.booleans())):
        return Room.rectangular(width, length)
    off = st.floats(-250.0, 250.0)
    return Room(
        (0.0, 0.0),
        (width, draw(off)),
        (width + draw(off), length + draw(off)),
        (draw(off), length + draw(off)),
    )


cabinets = st.builds(
    Cabinet,
    st.floats(150.0, 500.0),
    st.floats(200.0, 600.0),
    st.none() | st.floats(600.0, 1300.0),
    st.builds(
        lambda inward, back: {"plinth": TouchPoint(inward, back)},
        st.floats(-300.0, 300.0),
        st.floats(-50.0, 700.0),
    ),
)


@st.composite
def placements(draw: st.DrawFn, room: Room, toe_in_deg: float = 40.0) -> Placement:
    """Draw places where a cabinet has the walls around it and the seat before it."""
    return Placement(
        draw(st.floats(950.0, room.width_mm / 2 - 700.0)),
        draw(st.floats(1100.0, room.length_mm / 2 - 300.0)),
        draw(st.floats(-toe_in_deg, toe_in_deg)),
    )


meters = st.builds(
    Meter,
    st.floats(0.2, 1.0),
    st.sampled_from((0.0, 0.1, 1.0, 1.5875)),
    st.sampled_from((0.0, 0.7, 2.0)),
    st.sampled_from((0.0, 60.0)),
)


@st.composite
def setups(draw: st.DrawFn, *, square: bool | None = None) -> Setup:
    """Draw a room, two cabinets that differ, a seat and a meter; no targets."""
    room = draw(rooms(square=square))
    return Setup(
        room=room,
        cabinets=Pair(draw(cabinets), draw(cabinets)),
        seat=Seat(
            from_front_mm=room.length_mm * draw(st.floats(0.6, 0.8)),
            from_left_mm=room.width_mm * draw(st.floats(0.4, 0.6)),
            ear_height_mm=draw(st.none() | st.floats(800.0, 1300.0)),
        ),
        meter=draw(meters),
    )


@st.composite
def stood(
    draw: st.DrawFn, *, square: bool | None = None, toe_in_deg: float = 40.0
) -> tuple[Setup, Pair[Placement]]:
    """Draw a setup and where its two cabinets truly stand."""
    setup = draw(setups(square=square))
    places = placements(setup.room, toe_in_deg)
    return setup, Pair(draw(places), draw(places))


def simulated(setup: Setup, standing: Pair[Placement]) -> SimulatedRoom:
    return SimulatedRoom(setup.room, setup.cabinets, setup.seat, standing)


def true_shots(
    setup: Setup, standing: Pair[Placement], wanted: Iterable[ShotKind], zero_mm: float = 0.0
) -> list[Shot]:
    """Return what the simulated room answers.

    Raises:
        ImpossibleShot: when a beam meets another wall first.
    """
    room = simulated(setup, standing)
    return [Shot(kind, room.true_distance(kind) + zero_mm) for kind in wanted]


def is_possible(setup: Setup, standing: Pair[Placement], kind: ShotKind) -> bool:
    """Return whether the beam of a shot meets what it is aimed at."""
    try:
        true_shots(setup, standing, [kind])
    except ImpossibleShot:
        return False
    return True


@contextlib.contextmanager
def drawn() -> Iterator[None]:
    """Drop a drawn case when the simulated room finds a shot in it impossible."""
    try:
        yield
    except ImpossibleShot:
        assume(False)


def drawn_shots(
    setup: Setup, standing: Pair[Placement], wanted: Iterable[ShotKind], zero_mm: float = 0.0
) -> list[Shot]:
    """Return the same where hypothesis drew the case."""
    with drawn():
        return true_shots(setup, standing, wanted, zero_mm)


def noisy(shots: Iterable[Shot], sigma_mm: float, seed: int) -> list[Shot]:
    """Return the same shots, each with an error of its own."""
    rng = np.random.default_rng(seed)
    return [Shot(shot.kind, shot.reading_mm + rng.normal(0.0, sigma_mm)) for shot in shots]


def round_of(side: Side, held: Held, *, more: bool = False) -> list[ShotKind]:
    """Return four shots that fix a cabinet, or six."""
    own = AimedAt(side.value)
    taken = [
        ("front-outer", own),
        ("rear-outer", own),
        ("rear-outer", AimedAt.FRONT),
        ("rear-inner", AimedAt.FRONT),
    ]
    if more:
        taken += [("front-inner", AimedAt.BACK), ("front-outer", AimedAt.BACK)]
    return [ShotKind(side, point, to, held) for point, to in taken]


def by_side(standing: Pair[Placement]) -> dict[Side, Placement]:
    """Return both placements, as the geometry takes them."""
    return {side: standing[side] for side in Side}


def assert_located(
    located: Located, standing: Pair[Placement] | Mapping[Side, Placement], within_mm: float = 1e-6
) -> None:
    """Assert that every located cabinet stands where it truly does, and is turned so."""
    for side, found in located.placements.items():
        off = found.minus(standing[side])
        assert abs(off.side_mm) <= within_mm, (side, off)
        assert abs(off.setback_mm) <= within_mm, (side, off)
        # at arm's length, 500 mm, so much of a turn moves a point by as much
        assert abs(np.radians(off.toe_in_deg)) * 500.0 <= within_mm, (side, off)


def three_shots(side: Side, held: Held) -> list[ShotKind]:
    own = AimedAt(side.value)
    return [
        ShotKind(side, "rear-outer", AimedAt.FRONT, held),
        ShotKind(side, "rear-inner", AimedAt.FRONT, held),
        ShotKind(side, "rear-outer", own, held),
    ]
