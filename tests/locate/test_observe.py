"""The observation equations: against another pair of eyes, and their derivatives."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from geometry_cases import (
    CABINET,
    POINTS,
    SAME_MM,
    SETUP,
    STANDING,
    WALLS,
    by_side,
    drawn_shots,
    kinds,
    many,
    some,
    stood,
    true_shots,
)
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray
from witnessmark.locate.observe import ShotModel, shot_model, touch_point
from witnessmark.locate.pose import predict
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Meter,
    Pair,
    Placement,
    Setup,
    ShotKind,
    Side,
    TouchPoint,
)

HELD_AND_AIMED = [
    *((held, wall) for held in (Held.WALL, Held.CABINET) for wall in WALLS),
    (Held.POINT, AimedAt.SEAT),
    (Held.POINT, AimedAt.CABINET),
    (Held.SPOT, AimedAt.LEFT),
    (Held.SPOT, AimedAt.RIGHT),
]
EVERY_KIND = [
    ShotKind(side, point, to, held)
    for side in Side
    for held, to in HELD_AND_AIMED
    for point in POINTS
]


@many
@given(stood(), st.lists(kinds, min_size=1, max_size=8))
def test_readings_are_those_of_the_simulated_room(
    case: tuple[Setup, Pair[Placement]], wanted: list[ShotKind]
) -> None:
    setup, standing = case
    for shot in drawn_shots(setup, standing, wanted):
        predicted = predict(setup, by_side(standing), shot.kind)
        assert predicted == pytest.approx(shot.reading_mm, abs=SAME_MM), shot.kind


@pytest.mark.parametrize("kind", EVERY_KIND, ids=str)
def test_each_kind_of_shot_in_one_room(kind: ShotKind) -> None:
    (shot,) = true_shots(SETUP, STANDING, [kind])
    assert predict(SETUP, by_side(STANDING), kind) == pytest.approx(shot.reading_mm, abs=SAME_MM)


def unknowns_of(model: ShotModel, standing: Pair[Placement]) -> FloatArray:
    """The poses, a zero error of 1.3 mm and a scale error of 80 ppm, where these are unknown."""
    unknowns = np.zeros(model.unknowns)
    for side, column in model.column.items():
        place = standing[side]
        unknowns[column : column + 3] = (
            place.side_mm,
            place.setback_mm,
            math.radians(place.toe_in_deg),
        )
    if model.zero_column is not None:
        unknowns[model.zero_column] = 1.3
    if model.scale_column is not None:
        unknowns[model.scale_column] = 80.0
    return unknowns


def by_central_differences(model: ShotModel, unknowns: FloatArray) -> FloatArray:
    """(m, n) derivatives; a step of 1e-5 is that of mm, radian and ppm alike."""
    columns = []
    for step in 1e-5 * np.eye(len(unknowns)):
        above, _ = model(unknowns + step)
        below, _ = model(unknowns - step)
        columns.append((above - below) / 2e-5)
    return np.column_stack(columns)


@some
@given(stood())
def test_jacobian_is_the_derivative(case: tuple[Setup, Pair[Placement]]) -> None:
    setup, standing = case
    model = ShotModel(setup, EVERY_KIND)
    unknowns = unknowns_of(model, standing)
    _, jacobian = model(unknowns)
    numeric = by_central_differences(model, unknowns)
    # differences of lengths of some metres over 1e-5 are good to 1e-6; the reach of a spot shot
    # makes its second differences larger than that
    assert jacobian == pytest.approx(numeric, abs=2e-5, rel=1e-6)


@pytest.mark.parametrize("zero_mm", [0.0, 0.7])
@pytest.mark.parametrize("scale_ppm", [0.0, 50.0])
@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize(("held", "to"), HELD_AND_AIMED)
def test_jacobian_of_one_shot(
    held: Held, to: AimedAt, side: Side, scale_ppm: float, zero_mm: float
) -> None:
    setup = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, zero_mm, scale_ppm))
    for toe_in in (-40.0, -3.0, 0.0, 12.0, 40.0):
        standing = Pair(Placement(1500.0, 2100.0, toe_in), Placement(1450.0, 2000.0, toe_in / 2))
        for point in POINTS:
            model = ShotModel(setup, [ShotKind(side, point, to, held)])
            unknowns = unknowns_of(model, standing)
            predicted, jacobian = model(unknowns)
            assert len(predicted) == 1 + (zero_mm > 0) + (scale_ppm > 0)
            numeric = by_central_differences(model, unknowns)
            assert jacobian == pytest.approx(numeric, abs=2e-5, rel=1e-6), (point, toe_in)


def test_zero_and_scale_make_readings_longer() -> None:
    kind = ShotKind(Side.LEFT, "rear-outer", AimedAt.FRONT, Held.WALL)
    (shot,) = true_shots(SETUP, STANDING, [kind])
    setup = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 0.7, 50.0))
    model = ShotModel(setup, [kind])
    predicted, jacobian = model(unknowns_of(model, STANDING))
    assert predicted[0] == pytest.approx(shot.reading_mm * 1.000080 + 1.3, abs=SAME_MM)
    assert predicted[1:] == pytest.approx([1.3, 80.0])
    assert jacobian[0, model.zero_column] == 1.0
    assert model.sigma == pytest.approx([setup.meter.shot_sigma_mm, 0.7, 50.0])


def read(point: str, to: AimedAt, held: Held, toe_in_deg: float, side: Side = Side.LEFT) -> float:
    standing = {side: Placement(1500.0, 1900.0, toe_in_deg)}
    return predict(SETUP, standing, ShotKind(side, point, to, held))


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("toe_in", [-30.0, -5.0, 0.3, 8.0, 25.0])
def test_two_shots_from_one_face_differ_by_the_sine_or_the_tangent(
    toe_in: float, side: Side
) -> None:
    sine, tangent = math.sin(math.radians(toe_in)), math.tan(math.radians(toe_in))
    own = AimedAt(side.value)
    for held, share in ((Held.WALL, sine), (Held.CABINET, tangent)):
        # turned in, the inner rear corner goes nearer to the front wall
        front = read("rear-outer", AimedAt.FRONT, held, toe_in, side) - read(
            "rear-inner", AimedAt.FRONT, held, toe_in, side
        )
        assert front == pytest.approx(CABINET.width_mm * share, abs=SAME_MM)
        # and the rear one of the outer corners nearer to the own side wall
        beside = read("front-outer", own, held, toe_in, side) - read(
            "rear-outer", own, held, toe_in, side
        )
        assert beside == pytest.approx(CABINET.depth_mm * share, abs=SAME_MM)
        back = read("front-inner", AimedAt.BACK, held, toe_in, side) - read(
            "front-outer", AimedAt.BACK, held, toe_in, side
        )
        assert back == pytest.approx(CABINET.width_mm * share, abs=SAME_MM)


def test_a_spot_shot_sees_toe_in_from_across_the_room() -> None:
    """One degree moves the dot on a wall 4.5 m ahead by 80 mm, two corners by 4.5 mm."""
    moved = read("front-inner", AimedAt.LEFT, Held.SPOT, 1.0) - read(
        "front-inner", AimedAt.LEFT, Held.SPOT, 0.0
    )
    ahead = SETUP.room.length_mm - 1900.0
    assert moved == pytest.approx(ahead * math.tan(math.radians(1.0)), rel=0.01)


def test_a_beam_along_the_cabinet_reads_long() -> None:
    for to in WALLS:
        square, slant = (read("front-inner", to, held, 12.0) for held in (Held.WALL, Held.CABINET))
        assert slant == pytest.approx(square / math.cos(math.radians(12.0)), abs=SAME_MM)


@pytest.mark.parametrize("side", Side)
def test_unknown_point_is_named(side: Side) -> None:
    kind = ShotKind(side, "middle", AimedAt.FRONT, Held.WALL)
    with pytest.raises(BadInput, match=rf'point: the {side} cabinet has no "middle"; it has front'):
        touch_point(SETUP, kind)
    with pytest.raises(BadInput, match=r"plinth$"):
        predict(SETUP, by_side(STANDING), kind)


@pytest.mark.parametrize(
    ("held", "to", "instead"),
    [
        (Held.WALL, AimedAt.SEAT, "front, back, left, right"),
        (Held.CABINET, AimedAt.CABINET, "front, back, left, right"),
        (Held.POINT, AimedAt.FRONT, "seat, cabinet"),
        (Held.SPOT, AimedAt.BACK, "left, right"),
    ],
)
def test_what_cannot_be_aimed_at_is_named(held: Held, to: AimedAt, instead: str) -> None:
    kind = ShotKind(Side.LEFT, "rear-inner", to, held)
    with pytest.raises(BadInput) as caught:
        touch_point(SETUP, kind)
    assert str(caught.value) == f'to: "{to}" cannot be read held = "{held}"; it goes to {instead}'


def test_a_shot_across_needs_the_point_on_both_cabinets() -> None:
    plain = msgspec.structs.replace(CABINET, points={})
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(CABINET, plain))
    kind = ShotKind(Side.LEFT, "plinth", AimedAt.CABINET, Held.POINT)
    with pytest.raises(BadInput, match=r'the right cabinet has no "plinth"'):
        predict(setup, by_side(STANDING), kind)


def test_a_kept_model_is_that_of_its_own_setup() -> None:
    """Cabinets that differ in their own points alone have one hash."""
    kind = ShotKind(Side.LEFT, "plinth", AimedAt.FRONT, Held.WALL)
    readings = []
    for back in (410.0, 430.0):
        cabinet = Cabinet(256.0, 384.0, points={"plinth": TouchPoint(0.0, back)})
        setup = msgspec.structs.replace(SETUP, cabinets=Pair(cabinet, cabinet))
        assert shot_model(setup, (kind,)) is shot_model(setup, (kind,))
        readings.append(predict(setup, {Side.LEFT: Placement(1500.0, 1900.0, 0.0)}, kind))
    assert readings == pytest.approx([1490.0, 1470.0])


RAISED = Cabinet(256.0, 384.0, 920.0, points={"ring": TouchPoint(0.0, 12.0, 905.0)})
LOWER = Cabinet(256.0, 384.0, 920.0, points={"ring": TouchPoint(0.0, 12.0, 610.0)})
TALL = msgspec.structs.replace(SETUP, cabinets=Pair(RAISED, LOWER))


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("to", [AimedAt.SEAT, AimedAt.CABINET])
def test_a_point_shot_runs_from_height_to_height_unless_it_was_level(
    side: Side, to: AimedAt
) -> None:
    """By the theorem of Pythagoras over the level distance, which points on the floor have."""
    slanted = ShotKind(side, "ring", to, Held.POINT)
    level = msgspec.structs.replace(slanted, height_mm=905.0)
    heights = {Side.LEFT: 905.0, Side.RIGHT: 610.0}
    rise = heights[side] if to is AimedAt.SEAT else 905.0 - 610.0
    poses = by_side(STANDING)
    across = predict(TALL, poses, level)
    flat = Pair(
        *(
            msgspec.structs.replace(one, points={"ring": TouchPoint(0.0, 12.0)})
            for one in (RAISED, LOWER)
        )
    )
    on_the_floor = msgspec.structs.replace(SETUP, cabinets=flat)
    assert across == predict(on_the_floor, poses, slanted)
    assert predict(TALL, poses, slanted) == pytest.approx(math.sqrt(across**2 + rise**2))
    for kind in (slanted, level):
        (shot,) = true_shots(TALL, STANDING, [kind])
        assert predict(TALL, poses, kind) == pytest.approx(shot.reading_mm, abs=SAME_MM)


def test_the_derivative_of_a_slanted_shot() -> None:
    wanted = [
        ShotKind(side, "ring", to, Held.POINT, height)
        for side in Side
        for to in (AimedAt.SEAT, AimedAt.CABINET)
        for height in (None, 905.0)
    ]
    model = ShotModel(TALL, wanted)
    unknowns = unknowns_of(model, STANDING)
    _, jacobian = model(unknowns)
    assert jacobian == pytest.approx(by_central_differences(model, unknowns), abs=2e-4, rel=1e-6)
