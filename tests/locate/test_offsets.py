"""Skirting boards, radiators and panels: shots that meet them instead of the wall."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from geometry_cases import (
    POINTS,
    SAME_MM,
    SETUP,
    STANDING,
    assert_located,
    by_side,
    drawn_shots,
    kinds,
    many,
    round_of,
    stood,
    true_shots,
)
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.locate.observe import ShotModel
from witnessmark.locate.pose import locate, predict
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Pair,
    Placement,
    Setup,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
    WallOffset,
)

SKIRTING = tuple(WallOffset(wall, 18.0, 0.0, 120.0) for wall in Wall)
RADIATOR = WallOffset(Wall.FRONT, 110.0, 150.0, 700.0)

offsets = st.lists(
    st.builds(
        lambda wall, proud, low, high: WallOffset(wall, proud, low, low + high),
        st.sampled_from(Wall),
        st.floats(5.0, 150.0),
        st.floats(0.0, 800.0),
        st.floats(10.0, 800.0),
    ),
    max_size=5,
).map(tuple)
heights = st.none() | st.floats(0.0, 1500.0)


def furnished(setup: Setup, offsets: tuple[WallOffset, ...]) -> Setup:
    return msgspec.structs.replace(setup, room=msgspec.structs.replace(setup.room, offsets=offsets))


@many
@given(stood(), offsets, st.lists(st.tuples(kinds, heights), min_size=1, max_size=8))
def test_readings_are_those_of_the_simulated_room(
    case: tuple[Setup, Pair[Placement]],
    offsets: tuple[WallOffset, ...],
    wanted: list[tuple[ShotKind, float | None]],
) -> None:
    setup, standing = furnished(case[0], offsets), case[1]
    at_heights = [msgspec.structs.replace(kind, height_mm=height) for kind, height in wanted]
    for shot in drawn_shots(setup, standing, at_heights):
        predicted = predict(setup, by_side(standing), shot.kind)
        assert predicted == pytest.approx(shot.reading_mm, abs=SAME_MM), shot.kind


def reading(setup: Setup, kind: ShotKind, height_mm: float | None = None) -> float:
    at = msgspec.structs.replace(kind, height_mm=height_mm)
    return predict(setup, {Side.LEFT: Placement(1500.0, 1900.0, 20.0)}, at)


@pytest.mark.parametrize("to", [AimedAt(wall.value) for wall in Wall])
def test_on_the_wall_a_shot_is_shorter_by_all_and_on_the_cabinet_by_more(to: AimedAt) -> None:
    for held, share in ((Held.WALL, 1.0), (Held.CABINET, 1 / math.cos(math.radians(20.0)))):
        kind = ShotKind(Side.LEFT, "front-outer", to, held)
        bare, met = (reading(one, kind) for one in (SETUP, furnished(SETUP, SKIRTING)))
        assert bare - met == pytest.approx(18.0 * share, abs=SAME_MM)


@pytest.mark.parametrize(
    ("height_mm", "proud_mm"),
    [
        (None, 18.0),
        (0.0, 18.0),
        (120.0, 18.0),
        (121.0, 0.0),
        (149.0, 0.0),
        (150.0, 110.0),
        (700.0, 110.0),
        (701.0, 0.0),
    ],
)
def test_the_height_decides_what_is_met(height_mm: float | None, proud_mm: float) -> None:
    setup = furnished(SETUP, (*SKIRTING, RADIATOR))
    kind = ShotKind(Side.LEFT, "rear-inner", AimedAt.FRONT, Held.WALL)
    assert reading(SETUP, kind) - reading(setup, kind, height_mm) == pytest.approx(proud_mm)
    assert setup.room.proud_mm(Wall.BACK, 400.0) == 0.0


def test_a_touch_point_has_a_height_of_its_own() -> None:
    cabinet = Cabinet(256.0, 384.0, points={"terminal": TouchPoint(0.0, 384.0, 300.0)})
    setup = msgspec.structs.replace(
        furnished(SETUP, (*SKIRTING, RADIATOR)), cabinets=Pair(cabinet, cabinet)
    )
    bare = msgspec.structs.replace(SETUP, cabinets=Pair(cabinet, cabinet))
    kind = ShotKind(Side.LEFT, "terminal", AimedAt.FRONT, Held.WALL)
    assert reading(bare, kind) - reading(setup, kind) == pytest.approx(110.0)
    # unless the shot itself says how high it was taken
    assert reading(bare, kind) - reading(setup, kind, 900.0) == pytest.approx(0.0)
    assert reading(bare, kind) - reading(setup, kind, 60.0) == pytest.approx(18.0)


def test_of_two_things_the_prouder_is_met() -> None:
    both = (WallOffset(Wall.FRONT, 18.0, 0.0, 500.0), WallOffset(Wall.FRONT, 40.0, 100.0, 300.0))
    kind = ShotKind(Side.LEFT, "rear-inner", AimedAt.FRONT, Held.WALL)
    bare = reading(SETUP, kind)
    assert [
        bare - reading(furnished(SETUP, both), kind, height) for height in (50.0, 200.0, 400.0)
    ] == pytest.approx([18.0, 40.0, 18.0])


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_a_cabinet_is_located_from_its_walls_and_not_from_what_stands_before_them(
    held: Held,
) -> None:
    setup = furnished(SETUP, (*SKIRTING, RADIATOR))
    wanted = [*round_of(Side.LEFT, held), *round_of(Side.RIGHT, held, more=True)]
    # over the skirting board a shot of the right cabinet meets the radiator
    wanted[6] = msgspec.structs.replace(wanted[6], height_mm=400.0)
    shots = true_shots(setup, STANDING, wanted)
    assert_located(locate(setup, shots), STANDING)
    # left out of account, the skirting boards would put the left one 18 mm too near to both walls
    off = locate(SETUP, shots[:4]).placements[Side.LEFT].minus(STANDING.left)
    assert off.side_mm == pytest.approx(-18.0, abs=0.2)
    assert off.setback_mm == pytest.approx(-18.0, abs=0.2)


def test_jacobian_is_the_derivative() -> None:
    setup = furnished(SETUP, (*SKIRTING, RADIATOR))
    every = [
        ShotKind(side, point, to, held, height)
        for side in Side
        for point in POINTS
        for held, aims in (
            (Held.WALL, Wall),
            (Held.CABINET, Wall),
            (Held.SPOT, (Wall.LEFT, Wall.RIGHT)),
        )
        for to in map(AimedAt, aims)
        for height in (None, 400.0)
    ]
    model = ShotModel(setup, every)
    unknowns = np.zeros(model.unknowns)
    for side, column in model.column.items():
        place = STANDING[side]
        toe_in = math.radians(place.toe_in_deg)
        unknowns[column : column + 3] = place.side_mm, place.setback_mm, toe_in
    _, jacobian = model(unknowns)
    for column, step in enumerate(1e-5 * np.eye(model.unknowns)):
        numeric = (model(unknowns + step)[0] - model(unknowns - step)[0]) / 2e-5
        assert jacobian[:, column] == pytest.approx(numeric, abs=2e-5, rel=1e-6)
