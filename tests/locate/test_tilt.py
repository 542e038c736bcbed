"""Tilt from readings: against rays and planes in space, and drawn at random for its uncertainty."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from geometry_cases import SETUP, STANDING, many, round_of, true_shots
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.geometry.frame import point_in_plan
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units
from witnessmark.locate.pose import locate
from witnessmark.locate.symmetry import symmetry
from witnessmark.locate.tilt import (
    axis_height,
    tilt_from_angle,
    tilt_from_distances,
    tilt_symmetry,
    tilt_to_ears,
)
from witnessmark.model import (
    Held,
    Inclinometer,
    Meter,
    Pair,
    Placement,
    PlumbReadings,
    Side,
    Tilt,
    TouchPoint,
)
from witnessmark.words.tilt import axis_words, tilt_symmetry_words

METER = Meter(repeatability_mm=0.4, resolution_mm=1.0, zero_mm=0.7)
tilts = st.floats(-8.0, 8.0)
UP = np.array([0.0, 0.0, 1.0])


def met_by(start: np.ndarray, beam: np.ndarray, at: np.ndarray, normal: np.ndarray) -> float:
    """How far along a beam a plane lies."""
    return float((at - start) @ normal / (beam @ normal))


def readings_in_space(
    tilt_deg: float, toe_in_deg: float, held: Held, *, behind: bool, apart: float = 800.0
) -> tuple[float, float]:
    """Distances, low and high, between a leaning face and an upright wall, by rays in space."""
    toe_in, tilt = math.radians(toe_in_deg), math.radians(tilt_deg)
    level = np.array([math.sin(toe_in), math.cos(toe_in), 0.0])
    forward = math.cos(tilt) * level + math.sin(tilt) * UP
    up_the_face = math.cos(tilt) * UP - math.sin(tilt) * level
    looking = -1.0 if behind else 1.0
    wall_normal = np.array([0.0, -looking, 0.0])
    wall, face = np.array([0.0, looking * 2000.0, 0.0]), np.zeros(3)
    if held is Held.CABINET:
        starts = [face + 100.0 * up_the_face, face + (100.0 + apart) * up_the_face]
        low, high = (met_by(at, looking * forward, wall, wall_normal) for at in starts)
    else:
        starts = [wall + 100.0 * UP, wall + (100.0 + apart) * UP]
        low, high = (met_by(at, wall_normal, face, forward) for at in starts)
    return low, high


@many
@given(tilts, st.floats(-40.0, 40.0), st.sampled_from((Held.WALL, Held.CABINET)), st.booleans())
def test_the_tilt_of_a_face_in_space_is_found(
    tilt_deg: float, toe_in_deg: float, held: Held, behind: bool
) -> None:
    low, high = readings_in_space(tilt_deg, toe_in_deg, held, behind=behind)
    turned = toe_in_deg if held is Held.WALL else 0.0
    readings = PlumbReadings(low, high, 800.0, held, behind, turned)
    assert tilt_from_distances(readings, METER).tilt_deg == pytest.approx(tilt_deg, abs=1e-9)


def test_leaning_back_is_positive() -> None:
    """In front the upper reading is the longer one, behind the shorter."""
    assert tilt_from_distances(PlumbReadings(50.0, 64.0, 800.0), METER).tilt_deg > 0
    assert tilt_from_distances(PlumbReadings(64.0, 50.0, 800.0), METER).tilt_deg < 0
    assert tilt_from_distances(PlumbReadings(64.0, 50.0, 800.0, behind=True), METER).tilt_deg > 0


@pytest.mark.parametrize("around_deg", [0.0, -4.0])
def test_the_uncertainty_holds_the_truth(around_deg: float) -> None:
    """Zero errors of several millimetres are shared by both readings and must not count."""
    rng = np.random.default_rng(41)
    held = 0
    for _ in range(4000):
        tilt_deg = around_deg + rng.uniform(-0.5, 0.5)
        low, high = readings_in_space(tilt_deg, 0.0, Held.WALL, behind=False)
        zero = rng.normal(0.0, 5.0)
        noisy = [
            float(np.round(value + zero + rng.normal(0.0, METER.repeatability_mm)))
            for value in (low, high)
        ]
        apart = 800.0 + rng.normal(0.0, 1.0)
        tilt = tilt_from_distances(PlumbReadings(*noisy, apart), METER)
        held += abs(tilt.tilt_deg - tilt_deg) <= tilt.expanded_deg
    assert 0.945 <= held / 4000 <= 0.965


def test_a_wall_that_may_lean_adds_to_the_uncertainty() -> None:
    plumb = tilt_from_distances(PlumbReadings(50.0, 50.0, 800.0), METER)
    wall = tilt_from_distances(PlumbReadings(50.0, 50.0, 800.0, upright_deg=0.3), METER)
    assert wall.standard_deg == pytest.approx(math.hypot(plumb.standard_deg, 0.3))


def test_an_inclinometer_shows_it_and_its_zero_drops_out_of_the_difference() -> None:
    instrument = Inclinometer(repeatability_deg=0.05, resolution_deg=0.1, zero_deg=0.3)
    left, right = tilt_from_angle(1.4, instrument), tilt_from_angle(0.9, instrument)
    own = math.hypot(0.05, 0.1 / math.sqrt(12))
    assert left.standard_deg == pytest.approx(math.hypot(own, 0.3))
    pair = tilt_symmetry(left, right, 0.25)
    assert pair.tilt_deg == pytest.approx(0.5)
    assert pair.expanded_deg == pytest.approx(2 * math.sqrt(2) * own)
    assert pair.verdict is Verdict.OUT
    assert "left cabinet leans back 0.50° more than the right" in tilt_symmetry_words(pair)


def test_a_zero_that_only_one_side_has_does_not_drop_out() -> None:
    pair = tilt_symmetry(tilt_from_angle(1.0, Inclinometer(0.0, 0.0, 0.2)), Tilt(1.0, 0.05), 0.25)
    assert pair.expanded_deg == pytest.approx(2 * math.hypot(0.2, 0.05))
    assert pair.verdict is Verdict.UNSURE


@many
@given(tilts, st.floats(-30.0, 30.0), st.sampled_from(Side))
def test_the_axis_is_a_ray_in_space(tilt_deg: float, toe_in_deg: float, side: Side) -> None:
    placement = Placement(1400.0, 1900.0, toe_in_deg)
    at = np.array(point_in_plan(SETUP.room, side, placement, TouchPoint(0.0, 0.0)))
    ahead = np.array(point_in_plan(SETUP.room, side, placement, TouchPoint(0.0, -1.0))) - at
    tilt = math.radians(tilt_deg)
    acoustic = SETUP.cabinets[side].acoustic_height_mm
    assert acoustic is not None
    # the baffle rises from the reference point, square to the axis
    start = np.array([*(at - ahead * acoustic * math.tan(tilt)), acoustic])
    axis = np.array([*(ahead * math.cos(tilt)), math.sin(tilt)])
    seat = np.array([*SETUP.seat.plan, 0.0])
    abreast = np.array([*ahead, 0.0])
    end = start + axis * met_by(start, axis, seat, abreast)
    found = axis_height(SETUP, side, placement, Tilt(tilt_deg, 0.1))
    assert found.height_mm == pytest.approx(end[2], abs=1e-6)
    assert found.over_ear_mm == pytest.approx(end[2] - 1030.0, abs=1e-6)
    steeper = axis_height(SETUP, side, placement, Tilt(tilt_deg + 0.001, 0.1)).height_mm
    flatter = axis_height(SETUP, side, placement, Tilt(tilt_deg - 0.001, 0.1)).height_mm
    assert found.expanded_mm == pytest.approx(abs(steeper - flatter) / 0.002 * 0.2, rel=1e-5)


@many
@given(st.floats(700.0, 1400.0), st.floats(-30.0, 30.0))
def test_tilted_to_the_ears_the_axis_meets_them(ear_mm: float, toe_in_deg: float) -> None:
    seat = msgspec.structs.replace(SETUP.seat, ear_height_mm=ear_mm)
    setup = msgspec.structs.replace(SETUP, seat=seat)
    placement = Placement(1400.0, 1900.0, toe_in_deg)
    wanted = tilt_to_ears(setup, Side.LEFT, placement)
    assume(abs(wanted) < 29)
    found = axis_height(setup, Side.LEFT, placement, Tilt(wanted, 0.0))
    assert found.over_ear_mm == pytest.approx(0.0, abs=1e-6)
    assert (wanted > 0) == (ear_mm > 920.0)


def test_the_axis_in_words() -> None:
    placement = Placement(1400.0, 1900.0, 8.0)
    high = axis_words(axis_height(SETUP, Side.LEFT, placement, Tilt(4.0, 0.05)), Units.MM)
    assert high.startswith("the axis passes the seat 11")
    assert high.endswith("above the ears")
    level = axis_words(axis_height(SETUP, Side.LEFT, placement, Tilt(0.0, 0.05)), Units.MM)
    assert level.endswith("110 mm below the ears")
    near = tilt_to_ears(SETUP, Side.LEFT, placement)
    assert "at ear height" in axis_words(
        axis_height(SETUP, Side.LEFT, placement, Tilt(near, 0.1)), Units.MM
    )


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"low_mm": -1.0}, "tilt.low"),
        ({"high_mm": math.nan}, "tilt.high"),
        ({"apart_mm": 10.0}, "as far above one another"),
        ({"held": Held.SPOT}, "tilt.held"),
        ({"toe_in_deg": 80.0}, "tilt.toe_in"),
        ({"apart_sigma_mm": -1.0}, "spacing"),
    ],
)
def test_readings_that_make_no_sense_are_refused(values: dict[str, float], told: str) -> None:
    sound = {"low_mm": 50.0, "high_mm": 60.0, "apart_mm": 800.0}
    with pytest.raises(BadInput, match=told):
        PlumbReadings(**(sound | values))  # type: ignore[arg-type]


def test_a_cabinet_that_is_falling_over_is_a_slip() -> None:
    with pytest.raises(BadInput, match="lean of 45°"):
        tilt_from_distances(PlumbReadings(50.0, 850.0, 800.0), METER)
    with pytest.raises(BadInput, match="what is left of 90°"):
        tilt_from_angle(89.0, Inclinometer())
    with pytest.raises(BadInput, match=r"inclinometer\.zero"):
        Inclinometer(zero_deg=-1.0)


def test_heights_that_are_not_known_are_asked_for() -> None:
    bare = msgspec.structs.replace(SETUP.cabinets.left, acoustic_height_mm=None)
    setup = msgspec.structs.replace(SETUP, cabinets=SETUP.cabinets.replacing(Side.LEFT, bare))
    placement = Placement(1400.0, 1900.0, 8.0)
    with pytest.raises(BadInput, match=r"cabinet\.acoustic_height"):
        axis_height(setup, Side.LEFT, placement, Tilt(1.0, 0.1))
    seat = msgspec.structs.replace(SETUP.seat, ear_height_mm=None)
    deaf = msgspec.structs.replace(SETUP, seat=seat)
    assert axis_height(deaf, Side.LEFT, placement, Tilt(1.0, 0.1)).over_ear_mm is None
    with pytest.raises(BadInput, match=r"seat\.ear_height"):
        tilt_to_ears(deaf, Side.LEFT, placement)


def test_the_symmetry_of_a_pair_takes_the_tilts_in() -> None:
    kinds = [*round_of(Side.LEFT, Held.CABINET), *round_of(Side.RIGHT, Held.CABINET)]
    twins = Pair(STANDING.left, STANDING.left)
    pair = symmetry(SETUP, locate(SETUP, true_shots(SETUP, twins, kinds)))
    assert pair.tilt is None
    assert "tilt" not in pair.verdict
    level = pair.with_tilts(Tilt(0.5, 0.05), Tilt(0.5, 0.05), 0.25)
    assert level.verdict == pair.verdict | {"tilt": Verdict.IN}
    askew = pair.with_tilts(Tilt(-0.5, 0.05), Tilt(0.5, 0.05), 0.25)
    assert askew.worst is Verdict.OUT
    assert askew.tilt is not None
    assert askew.tilt.tilt_deg == pytest.approx(-1.0)
