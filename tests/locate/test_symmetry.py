"""Left minus right, and what errors that both share leave of it."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
import uncertainties
from geometry_cases import (
    SETUP,
    STANDING,
    drawn_shots,
    noisy,
    round_of,
    simulated,
    some,
    stood,
    true_shots,
)
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from witnessmark.geometry.verdict import Verdict
from witnessmark.locate.arrival import speed_of_sound_m_s
from witnessmark.locate.pose import Located, locate
from witnessmark.locate.symmetry import Symmetry, SymmetryError, path_to_seat_mm, symmetry
from witnessmark.model import Cabinet, Held, Meter, Pair, Placement, Seat, Setup, Side

FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def shot_round(setup: Setup, standing: Pair[Placement], held: Held) -> Located:
    wanted = [*round_of(Side.LEFT, held), *round_of(Side.RIGHT, held)]
    return locate(setup, drawn_shots(setup, standing, wanted))


def by_hand(setup: Setup, placements: FloatArray) -> FloatArray:
    """The six quantities from the simulated room's own idea of where things are."""
    places = Pair(Placement(*placements[:3]), Placement(*placements[3:]))
    cabinets = Pair(*(with_middle(setup.cabinets[side]) for side in Side))
    room = simulated(msgspec.structs.replace(setup, cabinets=cabinets), places)
    paths = []
    for side in Side:
        x, y = room.plan_point(side, "middle")
        acoustic, ear = setup.cabinets[side].acoustic_height_mm, setup.seat.ear_height_mm
        rise = 0.0 if acoustic is None or ear is None else acoustic - ear
        seat = setup.seat
        paths.append(math.hypot(x - seat.from_left_mm, y - seat.from_front_mm, rise))
    left, right = paths
    arrival = (left - right) / 1e3 / speed_of_sound_m_s(setup.temperature_c) * 1e6
    difference = placements[:3] - placements[3:]
    return np.array([*difference, left - right, arrival, 20 * math.log10(right / left)])


def with_middle(cabinet: Cabinet) -> Cabinet:
    """The same with its reference point among its touch points."""
    points = {"middle": type(next(iter(cabinet.touch_points.values())))(0.0, 0.0)}
    return msgspec.structs.replace(cabinet, points=points)


def as_vector(located: Located) -> FloatArray:
    return np.array(
        [value for side in Side for value in msgspec.structs.astuple(located.placements[side])]
    )


@some
@given(stood(toe_in_deg=25.0), st.sampled_from((Held.WALL, Held.CABINET)))
def test_error_and_uncertainty_by_finite_differences(
    case: tuple[Setup, Pair[Placement]], held: Held
) -> None:
    setup, standing = case
    located = shot_round(setup, standing, held)
    found = symmetry(setup, located)
    place = as_vector(located)
    assert msgspec.structs.astuple(found.error) == pytest.approx(by_hand(setup, place), abs=1e-6)
    step = 1e-3
    jacobian = np.column_stack(
        [
            (by_hand(setup, place + way) - by_hand(setup, place - way)) / (2 * step)
            for way in step * np.eye(6)
        ]
    )
    variances = (jacobian @ located.covariance @ jacobian.T).diagonal()
    expanded = msgspec.structs.astuple(found.expanded)
    assert expanded == pytest.approx(2 * np.sqrt(variances), rel=1e-4)


def near_symmetric(left: Placement, right: Placement, setup: Setup = SETUP) -> Symmetry:
    wanted = [*round_of(Side.LEFT, Held.WALL), *round_of(Side.RIGHT, Held.WALL)]
    return symmetry(setup, locate(setup, true_shots(setup, Pair(left, right), wanted)))


CENTRED = msgspec.structs.replace(SETUP, seat=Seat(4310.0, 2470.0, 1030.0))


@pytest.mark.parametrize(
    ("left", "signs"),
    [
        # nearer to its side wall: farther from the seat, so later and softer
        (Placement(1380.0, 1900.0, 8.0), {"side_mm": -1, "path": 1, "arrival": 1, "level": -1}),
        (Placement(1420.0, 1900.0, 8.0), {"side_mm": 1, "path": -1, "arrival": -1, "level": 1}),
        (Placement(1400.0, 1880.0, 8.0), {"setback": -1, "path": 1, "arrival": 1, "level": -1}),
        (Placement(1400.0, 1920.0, 8.0), {"setback": 1, "path": -1, "arrival": -1, "level": 1}),
        (Placement(1400.0, 1900.0, 9.0), {"toe_in": 1}),
        (Placement(1400.0, 1900.0, 7.0), {"toe_in": -1}),
    ],
)
def test_signs_are_left_minus_right(left: Placement, signs: dict[str, int]) -> None:
    error = near_symmetric(left, Placement(1400.0, 1900.0, 8.0), CENTRED).error
    for name in SymmetryError.__struct_fields__:
        value = getattr(error, name)
        sign = next((sign for key, sign in signs.items() if name.startswith(key)), 0)
        if sign:
            assert value * sign > 1e-3, name
        else:
            assert value == pytest.approx(0.0, abs=1e-6), name


@some
@given(stood(toe_in_deg=25.0), st.data())
def test_the_mirrored_pair_has_the_opposite_error(
    case: tuple[Setup, Pair[Placement]], data: st.DataObject
) -> None:
    """Exchange the two cabinets, their sizes included, in a square room: every sign turns."""
    setup, standing = case
    width = setup.room.width_mm
    room = type(setup.room).rectangular(width, setup.room.length_mm)
    offset = data.draw(st.floats(-200, 200))
    seat = msgspec.structs.replace(setup.seat, from_left_mm=width / 2 + offset)
    mirrored = msgspec.structs.replace(setup.seat, from_left_mm=width / 2 - offset)
    cabinets = setup.cabinets
    one = msgspec.structs.replace(setup, room=room, seat=seat)
    other = msgspec.structs.replace(
        setup, room=room, seat=mirrored, cabinets=Pair(cabinets.right, cabinets.left)
    )
    before = symmetry(one, shot_round(one, standing, Held.WALL))
    after = symmetry(other, shot_round(other, Pair(standing.right, standing.left), Held.WALL))
    negated = [-value for value in msgspec.structs.astuple(after.error)]
    assert msgspec.structs.astuple(before.error) == pytest.approx(negated, abs=1e-6)
    assert msgspec.structs.astuple(before.expanded) == pytest.approx(
        msgspec.structs.astuple(after.expanded), rel=1e-6
    )


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_errors_that_both_cabinets_share_drop_out(held: Held) -> None:
    """Of a symmetric pair even a hopeless zero and scale tell no lie; of one cabinet they do."""
    place = Placement(1400.0, 1900.0, 8.0)
    fine, coarse = (
        msgspec.structs.replace(CENTRED, meter=Meter(0.4, 1.0, zero_mm, scale_ppm))
        for zero_mm, scale_ppm in ((0.001, 0.001), (40.0, 3000.0))
    )
    known, unsure = (shot_round(setup, Pair(place, place), held) for setup in (fine, coarse))
    before, after = symmetry(fine, known), symmetry(coarse, unsure)
    assert msgspec.structs.astuple(after.expanded) == pytest.approx(
        msgspec.structs.astuple(before.expanded), rel=1e-3
    )
    assert unsure.expanded(Side.LEFT).setback_mm > 50 * known.expanded(Side.LEFT).setback_mm
    # negative control: without the covariance between the cabinets they would not drop out
    apart = unsure.covariance.copy()
    apart[:3, 3:] = apart[3:, :3] = 0.0
    wrong = symmetry(coarse, msgspec.structs.replace(unsure, covariance=apart))
    assert wrong.expanded.setback_mm > 50 * after.expanded.setback_mm


def test_a_zero_error_of_the_meter_leaves_the_symmetry_alone() -> None:
    wanted = [*round_of(Side.LEFT, Held.WALL), *round_of(Side.RIGHT, Held.WALL)]
    place = Placement(1400.0, 1900.0, 8.0)
    shots = true_shots(CENTRED, Pair(place, place), wanted, zero_mm=6.0)
    found = symmetry(CENTRED, locate(CENTRED, shots))
    assert msgspec.structs.astuple(found.error) == pytest.approx([0.0] * 6, abs=1e-6)


def test_against_linear_propagation_with_the_shared_zero() -> None:
    """Two setbacks, each from one shot to the front wall of a cabinet that is known not to turn."""
    meter = SETUP.meter
    wanted = [*round_of(Side.LEFT, Held.WALL), *round_of(Side.RIGHT, Held.WALL)]
    standing = Pair(Placement(1450.0, 1900.0, 0.0), Placement(1400.0, 1890.0, 0.0))
    located = locate(SETUP, true_shots(SETUP, standing, wanted))
    found = symmetry(SETUP, located)
    zero = uncertainties.ufloat(0.0, meter.zero_mm)
    sigma = meter.shot_sigma_mm
    half, depth = 128.0, 384.0
    values = []
    for side in Side:
        place = standing[side]
        # the mean of the two estimates of toe-in, from the rear and from the outer face, weighted
        # by the squares of the lengths over which they are taken
        outer, inner, front, rear = (uncertainties.ufloat(0.0, sigma) for _ in range(4))
        by_rear, by_side = (outer - inner) / (2 * half), (front - rear) / depth
        share = (2 * half) ** 2 / ((2 * half) ** 2 + depth**2)
        turn = share * by_rear + (1 - share) * by_side
        setback = place.setback_mm + (outer + inner) / 2 + zero
        along = place.side_mm + (front + rear) / 2 + zero + depth / 2 * turn
        values.append((along, setback, umath.degrees(turn)))
    differences = [left - right for left, right in zip(*values, strict=True)]
    expanded = msgspec.structs.astuple(found.expanded)[:3]
    assert expanded == pytest.approx([2 * value.s for value in differences], rel=1e-6)
    assert 2 * values[0][1].s == pytest.approx(located.expanded(Side.LEFT).setback_mm, rel=1e-6)


def test_path_is_in_space_where_both_heights_are_known() -> None:
    place = Placement(1400.0, 1900.0, 8.0)
    flat = math.hypot(2470.0 - 1400.0, 4310.0 - 1900.0)
    assert path_to_seat_mm(CENTRED, Side.LEFT, place) == pytest.approx(math.hypot(flat, 110.0))
    low = msgspec.structs.replace(CENTRED, seat=Seat(4310.0, 2470.0))
    assert path_to_seat_mm(low, Side.LEFT, place) == pytest.approx(flat)


def test_verdicts_are_against_the_tolerances() -> None:
    right = Placement(1400.0, 1900.0, 8.0)
    same = near_symmetric(right, right, CENTRED)
    assert set(same.verdict) == {"side", "setback", "toe_in", "path_to_seat"}
    assert same.verdict["side"] is same.worst is Verdict.IN
    edge = near_symmetric(Placement(1403.0, 1900.0, 8.0), right, CENTRED)
    assert edge.verdict["side"] is edge.worst is Verdict.UNSURE
    off = near_symmetric(Placement(1403.0, 1900.0, 10.0), right, CENTRED)
    assert off.verdict["toe_in"] is off.worst is Verdict.OUT
    assert off.verdict["setback"] is Verdict.IN


def test_a_noisy_round_is_symmetric_within_what_is_stated() -> None:
    sigma = CENTRED.meter.shot_sigma_mm
    wanted = [*round_of(Side.LEFT, Held.WALL), *round_of(Side.RIGHT, Held.WALL)]
    shots = noisy(true_shots(CENTRED, STANDING, wanted), sigma, 5)
    found = symmetry(CENTRED, locate(CENTRED, shots))
    assert found.error.side_mm == pytest.approx(32.5, abs=2 * found.expanded.side_mm)
    assert found.error.toe_in_deg == pytest.approx(1.5, abs=2 * found.expanded.toe_in_deg)
