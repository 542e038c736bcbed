"""Where the cabinets stand: exact without noise, and as scipy and ``uncertainties`` have it."""

from __future__ import annotations

import itertools
import math

import msgspec
import numpy as np
import pytest
import scipy
import uncertainties
from effort import cases
from geometry_cases import (
    POINTS,
    SAME_MM,
    SETUP,
    STANDING,
    WALLS,
    assert_located,
    by_side,
    drawn,
    drawn_shots,
    is_possible,
    kinds,
    many,
    noisy,
    round_of,
    simulated,
    some,
    stood,
    three_shots,
    true_shots,
)
from hypothesis import assume, given
from hypothesis import strategies as st
from uncertainties import umath

from witnessmark.errors import TooFewShots
from witnessmark.locate.observe import ShotModel
from witnessmark.locate.pose import Located, locate, predict
from witnessmark.model import (
    AimedAt,
    Held,
    Meter,
    Pair,
    Placement,
    Setup,
    Shot,
    ShotKind,
    Side,
)
from witnessmark_simulators.room import SimulatedRoom

FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]

held_flush = st.sampled_from((Held.WALL, Held.CABINET))


@many
@given(stood(), held_flush, held_flush, st.booleans())
def test_the_truth_is_found_without_noise(
    case: tuple[Setup, Pair[Placement]], held: Held, other_held: Held, more: bool
) -> None:
    setup, standing = case
    wanted = [*round_of(Side.LEFT, held, more=more), *round_of(Side.RIGHT, other_held)]
    located = locate(setup, drawn_shots(setup, standing, wanted))
    assert list(located.placements) == [Side.LEFT, Side.RIGHT]
    assert_located(located, standing, SAME_MM)
    assert located.zero_mm == pytest.approx(0.0, abs=SAME_MM)
    assert located.adjustment.chi_square == pytest.approx(0.0, abs=1e-9)


@many
@given(stood(), st.lists(kinds, max_size=6), held_flush)
def test_further_shots_of_any_kind_change_nothing_without_noise(
    case: tuple[Setup, Pair[Placement]], further: list[ShotKind], held: Held
) -> None:
    setup, standing = case
    wanted = [*further, *three_shots(Side.LEFT, held), *three_shots(Side.RIGHT, held)]
    located = locate(setup, drawn_shots(setup, standing, wanted))
    assert_located(located, standing, SAME_MM)


@pytest.mark.parametrize(
    "last",
    [
        ("front-inner", AimedAt.SEAT, Held.POINT),
        ("front-outer", AimedAt.LEFT, Held.SPOT),
        ("front-inner", AimedAt.RIGHT, Held.SPOT),
    ],
)
@some
@given(case=stood(toe_in_deg=25.0), seed=st.integers(0, 2**32 - 1))
def test_a_cabinet_that_its_shots_to_walls_leave_loose_is_begun_from_its_target(
    last: tuple[str, AimedAt, Held], case: tuple[Setup, Pair[Placement]], seed: int
) -> None:
    """Nothing but the last of the three shots tells how far the side wall is."""
    setup, standing = case
    x, _ = simulated(setup, standing).plan_point(Side.LEFT, last[0])
    assume(setup.seat.from_left_mm - x > 400.0)  # straight ahead, the seat would not tell
    wanted = [*three_shots(Side.LEFT, Held.WALL)[:2], ShotKind(Side.LEFT, *last)]
    shots = drawn_shots(setup, standing, wanted)
    off = np.random.default_rng(seed).uniform(-1, 1, 3) * (80.0, 80.0, 5.0)
    near = Placement(*(np.array(msgspec.structs.astuple(standing.left)) + off))
    for found in (
        locate(setup, shots, {Side.LEFT: near}),
        locate(msgspec.structs.replace(setup, targets=Pair(near, None)), shots),
    ):
        assert_located(found, standing, within_mm=1e-5)


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("toe_in", [-35.0, -0.4, 0.0, 7.5, 38.0])
def test_three_shots_are_solved_in_closed_form(side: Side, toe_in: float) -> None:
    """Every three shots to walls that fix a cabinet, before the first step is taken.

    The equations allow more than one pose: the true one is among them, and each fits exactly.
    """
    standing = Pair(Placement(1500.0, 2100.0, toe_in), Placement(1440.0, 2050.0, toe_in))
    every = [
        kind
        for kind in itertools.starmap(
            ShotKind, itertools.product([side], POINTS, WALLS, (Held.WALL, Held.CABINET))
        )
        if is_possible(SETUP, standing, kind)
    ]
    triples = list(itertools.combinations(every, 3))
    tried = cases(15, 250)
    chosen = np.random.default_rng(3).permutation(len(triples))[:tried]
    solved = 0
    for triple in (triples[index] for index in chosen):
        shots = true_shots(SETUP, standing, triple)
        model = ShotModel(SETUP, triple)
        readings = model.observed(shots)[: model.shots]
        walls = model.weighed_walls(model.sigma)
        (misfit,) = walls.misfits(readings)
        try:
            located = locate(SETUP, shots, by_side(standing))
        except TooFewShots:
            continue
        if located.expanded(side).toe_in_deg > 10.0:
            continue
        assert misfit is not None
        place = standing[side]
        apart_mm = []
        for low in misfit.least():
            (pose,), zero_mm = walls.poses([misfit], [low.toe_in])
            assert pose is not None
            found = Placement(pose[0], pose[1], math.degrees(low.toe_in))
            for shot in shots:
                again = predict(SETUP, {side: found}, shot.kind) + zero_mm
                assert again == pytest.approx(shot.reading_mm, abs=1e-5)
            off = found.minus(place)
            # 500 mm away from where it turns a point moves by so much
            turned_mm = 500.0 * math.radians(off.toe_in_deg)
            apart_mm.append(math.hypot(off.side_mm, off.setback_mm, turned_mm))
        assert min(apart_mm) < 1e-5
        solved += 1
    assert solved > tried // 4


def test_two_toe_ins_that_fit_alike_are_told_apart_by_the_target() -> None:
    """From corner to corner along the axis only the cosine is seen."""
    wanted = [
        ShotKind(Side.LEFT, "rear-inner", AimedAt.FRONT, Held.WALL),
        ShotKind(Side.LEFT, "front-inner", AimedAt.BACK, Held.WALL),
        ShotKind(Side.LEFT, "rear-outer", AimedAt.LEFT, Held.WALL),
    ]
    for toe_in in (-12.0, 12.0):
        standing = Pair(Placement(1500.0, 1900.0, toe_in), STANDING.right)
        target = Placement(1480.0, 1920.0, toe_in / 2)
        targets = Pair[Placement | None](target, None)
        shots = true_shots(SETUP, standing, wanted)
        located = locate(msgspec.structs.replace(SETUP, targets=targets), shots)
        assert_located(located, standing)
        assert_located(locate(SETUP, shots, {Side.LEFT: target}), standing)


def test_without_a_target_such_a_cabinet_is_taken_to_be_turned_in() -> None:
    wanted = [
        ShotKind(Side.RIGHT, "rear-inner", AimedAt.FRONT, Held.WALL),
        ShotKind(Side.RIGHT, "front-inner", AimedAt.BACK, Held.WALL),
        ShotKind(Side.RIGHT, "rear-outer", AimedAt.RIGHT, Held.WALL),
    ]
    assert_located(locate(SETUP, true_shots(SETUP, STANDING, wanted)), STANDING)


def _fine(meter: Meter) -> Meter:
    """The meter with a display fine enough for like readings to err apart, as by hand they do."""
    finest = min(meter.resolution_mm, meter.repeatability_mm)
    return msgspec.structs.replace(meter, resolution_mm=finest)


def place_vector(standing: Pair[Placement]) -> FloatArray:
    """Side, setback and toe-in in degrees of the left, then of the right."""
    return np.array([value for side in Side for value in msgspec.structs.astuple(standing[side])])


@some
@given(stood(toe_in_deg=25.0), held_flush, st.integers(0, 2**32 - 1))
def test_estimate_and_covariance_against_scipy(
    case: tuple[Setup, Pair[Placement]], held: Held, seed: int
) -> None:
    """scipy sees only the simulated room: no equation and no derivative is shared."""
    setup, standing = case
    meter = _fine(msgspec.structs.replace(setup.meter, scale_ppm=0.0, zero_mm=0.7))
    setup = msgspec.structs.replace(setup, meter=meter)
    wanted = [
        *round_of(Side.LEFT, held, more=True),
        *round_of(Side.RIGHT, held),
        ShotKind(Side.RIGHT, "front-inner", AimedAt.SEAT, Held.POINT),
    ]
    shots = noisy(drawn_shots(setup, standing, wanted, zero_mm=0.5), meter.shot_sigma_mm, seed)
    located = locate(setup, shots)

    def weighted_misfit(unknowns: FloatArray) -> FloatArray:
        room = simulated(setup, Pair(Placement(*unknowns[:3]), Placement(*unknowns[3:6])))
        zero = unknowns[6]
        off = [room.true_distance(shot.kind) + zero - shot.reading_mm for shot in shots]
        return np.array([*np.array(off) / meter.shot_sigma_mm, zero / meter.zero_mm])

    start = [*place_vector(standing), 0.0]
    with drawn():
        reference = scipy.optimize.least_squares(
            weighted_misfit, start, jac="3-point", x_scale="jac", xtol=1e-12
        )
    covariance = np.linalg.inv(reference.jac.T @ reference.jac)
    sigmas = np.sqrt(covariance.diagonal())
    found = place_vector(Pair(located.placements[Side.LEFT], located.placements[Side.RIGHT]))
    assert found / sigmas[:6] == pytest.approx(reference.x[:6] / sigmas[:6], abs=1e-3)
    assert located.zero_mm == pytest.approx(reference.x[6], abs=1e-3)
    correlation = np.outer(sigmas, sigmas)[:6, :6]
    assert located.covariance / correlation == pytest.approx(
        covariance[:6, :6] / correlation, abs=1e-4
    )
    assert located.adjustment.chi_square == pytest.approx(2 * reference.cost, abs=1e-3)
    assert located.covariance_of(Side.RIGHT) == pytest.approx(located.covariance[3:, 3:])
    for place, side in enumerate(Side):
        expanded = msgspec.structs.astuple(located.expanded(side))
        assert expanded == pytest.approx(2 * sigmas[3 * place : 3 * place + 3], rel=1e-3)


@some
@given(stood(toe_in_deg=25.0), st.integers(0, 2**32 - 1))
def test_a_scale_error_is_carried_like_the_zero(
    case: tuple[Setup, Pair[Placement]], seed: int
) -> None:
    """Against the generalised form: the shared errors in the covariance of the readings."""
    setup, standing = case
    setup = msgspec.structs.replace(setup, meter=Meter(0.4, 1.0, 0.7, 300.0))
    wanted = [*round_of(Side.LEFT, Held.CABINET, more=True), *round_of(Side.RIGHT, Held.WALL)]
    shots = noisy(drawn_shots(setup, standing, wanted), setup.meter.shot_sigma_mm, seed)
    located = locate(setup, shots)
    readings = np.array([shot.reading_mm for shot in shots])
    shared = 0.7**2 + np.outer(readings, readings) * (300e-6) ** 2
    covariance = setup.meter.shot_sigma_mm**2 * np.eye(len(shots)) + shared
    with drawn():
        jacobian = numeric_jacobian(setup, located, wanted)
    expected = np.linalg.inv(jacobian.T @ np.linalg.inv(covariance) @ jacobian)
    sigmas = np.sqrt(expected.diagonal())
    correlation = np.outer(sigmas, sigmas)
    # the scale itself changes its own derivative by so many ppm
    assert located.covariance / correlation == pytest.approx(expected / correlation, abs=2e-3)


def numeric_jacobian(setup: Setup, located: Located, wanted: list[ShotKind]) -> FloatArray:
    """(m, 6) derivatives by mm and degrees, from the simulated room alone."""
    place = place_vector(Pair(located.placements[Side.LEFT], located.placements[Side.RIGHT]))

    def distances(unknowns: FloatArray) -> FloatArray:
        room = simulated(setup, Pair(Placement(*unknowns[:3]), Placement(*unknowns[3:])))
        return np.array([room.true_distance(kind) for kind in wanted])

    step = 1e-4
    return np.column_stack(
        [(distances(place + way) - distances(place - way)) / (2 * step) for way in step * np.eye(6)]
    )


def by_hand(
    setup: Setup,
    standing: Pair[Placement],
    side: Side,
    held: Held,
    errors: dict[str, uncertainties.UFloat],
) -> list[uncertainties.UFloat]:
    """Side, setback and toe-in by the closed form of three shots, each with its own error.

    The shots: rear-outer and rear-inner to the front wall, rear-outer to the own side wall.
    """
    room = SimulatedRoom(setup.room, setup.cabinets, setup.seat, standing)
    outer, inner, beside = (
        room.true_distance(ShotKind(side, point, to, held))
        + errors[f"{side} {name}"]
        + errors["zero"]
        for name, point, to in (
            ("outer", "rear-outer", AimedAt.FRONT),
            ("inner", "rear-inner", AimedAt.FRONT),
            ("beside", "rear-outer", AimedAt.LEFT if side is Side.LEFT else AimedAt.RIGHT),
        )
    )
    cabinet = setup.cabinets[side]
    width, depth = cabinet.width_mm, cabinet.depth_mm
    if held is Held.WALL:
        toe_in = umath.asin((outer - inner) / width)
    else:
        toe_in = umath.atan((outer - inner) / width)
        outer, beside = outer * umath.cos(toe_in), beside * umath.cos(toe_in)
    sine, cosine = umath.sin(toe_in), umath.cos(toe_in)
    setback = outer - width / 2 * sine + depth * cosine
    along = beside + width / 2 * cosine + depth * sine
    return [along, setback, umath.degrees(toe_in)]


def shot_errors(meter: Meter) -> dict[str, uncertainties.UFloat]:
    names = [f"{side} {name}" for side in Side for name in ("outer", "inner", "beside")]
    own = {name: uncertainties.ufloat(0.0, meter.shot_sigma_mm) for name in names}
    return own | {"zero": uncertainties.ufloat(0.0, meter.zero_mm)}


@some
@given(stood(square=True, toe_in_deg=30.0), held_flush, st.sampled_from((0.001, 0.7, 20.0)))
def test_covariance_against_linear_propagation(
    case: tuple[Setup, Pair[Placement]], held: Held, zero_mm: float
) -> None:
    """Where three shots fix a cabinet, its covariance is that of the closed form (JCGM 100, 5.2).

    The right cabinet is in it too: what the two share is the zero error of the meter.
    """
    setup, standing = case
    meter = _fine(Meter(setup.meter.repeatability_mm, setup.meter.resolution_mm, zero_mm))
    setup = msgspec.structs.replace(setup, meter=meter)
    wanted = [*three_shots(Side.LEFT, held), *three_shots(Side.RIGHT, held)]
    located = locate(setup, drawn_shots(setup, standing, wanted))
    errors = shot_errors(meter)
    values = [value for side in Side for value in by_hand(setup, standing, side, held, errors)]
    assert [value.n for value in values] == pytest.approx(place_vector(standing), abs=1e-6)
    covariance = np.array(uncertainties.covariance_matrix(values))
    sigmas = np.sqrt(covariance.diagonal())
    correlation = np.outer(sigmas, sigmas)
    assert located.covariance / correlation == pytest.approx(covariance / correlation, abs=1e-6)


def test_a_zero_error_moves_positions_but_not_a_toe_in_from_the_wall() -> None:
    standing = Pair(Placement(1500.0, 1900.0, 9.0), STANDING.right)
    sharp, blunt = (
        locate(
            msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, zero_mm)),
            true_shots(SETUP, standing, three_shots(Side.LEFT, Held.WALL), zero_mm=4.0),
        )
        for zero_mm in (0.0, 25.0)
    )
    for located in (sharp, blunt):
        found = located.placements[Side.LEFT]
        assert found.toe_in_deg == pytest.approx(9.0, abs=1e-6)
        assert found.side_mm == pytest.approx(1504.0, abs=1e-3)
        assert found.setback_mm == pytest.approx(1904.0, abs=1e-3)
    before, after = sharp.expanded(Side.LEFT), blunt.expanded(Side.LEFT)
    assert after.toe_in_deg == pytest.approx(before.toe_in_deg, rel=1e-6)
    assert after.setback_mm == pytest.approx(math.hypot(before.setback_mm, 50.0), rel=1e-6)


@pytest.mark.parametrize("toe_in", [-15.0, 20.0])
def test_mixing_up_how_the_meter_was_held_shows(toe_in: float) -> None:
    """Square to the wall the face's two shots tell the sine of the toe-in, flush its tangent."""
    standing = Pair(Placement(1500.0, 1900.0, toe_in), STANDING.right)
    turn = math.radians(toe_in)
    for held, taken_for, seen_as in (
        (Held.WALL, Held.CABINET, math.atan(math.sin(turn))),
        (Held.CABINET, Held.WALL, math.asin(math.tan(turn))),
    ):
        shots = [
            Shot(msgspec.structs.replace(shot.kind, held=taken_for), shot.reading_mm)
            for shot in true_shots(SETUP, standing, three_shots(Side.LEFT, held))
        ]
        found = locate(SETUP, shots).placements[Side.LEFT]
        assert found.toe_in_deg == pytest.approx(math.degrees(seen_as), abs=1e-6)
        assert abs(found.toe_in_deg - toe_in) > 0.4
        assert abs(found.setback_mm - 1900.0) > 20.0


@pytest.mark.parametrize("side", Side)
def test_one_cabinet_by_itself(side: Side) -> None:
    shots = true_shots(SETUP, STANDING, round_of(side, Held.CABINET))
    located = locate(SETUP, shots)
    assert list(located.placements) == [side]
    assert_located(located, STANDING)
    assert located.covariance.shape == (3, 3)
    assert located.kinds == tuple(shot.kind for shot in shots)


def test_the_shots_suggest_the_zero_of_the_meter() -> None:
    """Shots to opposite walls add up to the width of the room, and twice the zero."""
    wanted = [
        ShotKind(side, "front-inner", to, Held.WALL)
        for side in Side
        for to in (AimedAt.LEFT, AimedAt.RIGHT, AimedAt.FRONT, AimedAt.BACK)
    ]
    wanted += round_of(Side.LEFT, Held.WALL) + round_of(Side.RIGHT, Held.WALL)
    setup = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 50.0))
    located = locate(setup, true_shots(setup, STANDING, wanted, zero_mm=3.0))
    assert located.zero_mm == pytest.approx(3.0, abs=1e-3)
    assert_located(located, STANDING, within_mm=1e-3)
