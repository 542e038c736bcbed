"""Where an axis points, and the toe-in that points it at a spot."""

from __future__ import annotations

import math

import msgspec
import pytest
from axis_crossing import crossing
from geometry_cases import SETUP, many, simulated, some, stood
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Point

from witnessmark.geometry.frame import side_frame
from witnessmark.locate.aim import (
    BEHIND_MM,
    EAR_MM,
    SHOULDER_MM,
    Aim,
    aim_toe_in,
    axes_meet,
    toe_in_to,
)
from witnessmark.model import Cabinet, Pair, Placement, PlanPoint, Room, Setup, Side, TouchPoint

CENTRED = msgspec.structs.replace(
    SETUP,
    room=Room.rectangular(5000.0, 6000.0),
    seat=msgspec.structs.replace(SETUP.seat, from_front_mm=4000.0, from_left_mm=2500.0),
)
PLACE = Placement(1500.0, 2000.0, 5.0)
"""A metre aside of the seat's centre line, two metres before it."""


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize(
    ("aim", "aside", "ahead"),
    [
        (Aim.HEAD, 1000.0, 2000.0),
        (Aim.EAR, 1000.0 - 87.5, 2000.0),
        (Aim.SHOULDER, 700.0, 2000.0),
        (Aim.BEHIND, 1000.0, 2300.0),
    ],
)
def test_usual_aims_by_hand(aim: Aim, aside: float, ahead: float, side: Side) -> None:
    toe_in = aim_toe_in(CENTRED, side, PLACE, aim)
    assert toe_in == pytest.approx(math.degrees(math.atan2(aside, ahead)))


def test_straight_ahead_is_no_toe_in() -> None:
    assert aim_toe_in(CENTRED, Side.LEFT, PLACE, Aim.STRAIGHT) == 0.0
    room = Room((0.0, 0.0), (5000.0, 90.0), (5000.0, 6000.0), (0.0, 6000.0))
    leaning = msgspec.structs.replace(CENTRED, room=room)
    assert aim_toe_in(leaning, Side.RIGHT, PLACE, Aim.STRAIGHT) == 0.0


def test_an_equilateral_triangle_takes_thirty_degrees() -> None:
    """The 60 degree triangle, aimed at the head."""
    ahead = 1000.0 * math.sqrt(3)
    seat = msgspec.structs.replace(CENTRED.seat, from_front_mm=2000.0 + ahead)
    setup = msgspec.structs.replace(CENTRED, seat=seat)
    for side in Side:
        assert aim_toe_in(setup, side, PLACE, Aim.HEAD) == pytest.approx(30.0)


def test_a_spot_on_the_outer_side_takes_toe_out() -> None:
    assert toe_in_to(CENTRED, Side.LEFT, PLACE, (1000.0, 4000.0)) < 0
    assert toe_in_to(CENTRED, Side.LEFT, PLACE, (2000.0, 4000.0)) > 0
    assert toe_in_to(CENTRED, Side.RIGHT, PLACE, (4000.0, 4000.0)) < 0
    assert toe_in_to(CENTRED, Side.RIGHT, PLACE, (3000.0, 4000.0)) > 0


def axis(setup: Setup, side: Side, placement: Placement) -> LineString:
    """The axis of a cabinet as the simulated room has it, 30 m long."""
    ahead = Cabinet(300.0, 300.0, points={
        "middle": TouchPoint(0.0, 0.0), "ahead": TouchPoint(0.0, -30_000.0)
    })  # fmt: skip
    setup = msgspec.structs.replace(setup, cabinets=Pair(ahead, ahead))
    room = simulated(setup, Pair(placement, placement))
    return LineString([room.plan_point(side, name) for name in ("middle", "ahead")])


@many
@given(stood(), st.floats(-1500, 1500), st.floats(500, 3000))
def test_the_axis_goes_through_the_spot(
    case: tuple[Setup, Pair[Placement]], aside: float, ahead: float
) -> None:
    setup, standing = case
    for side in Side:
        placement = standing[side]
        x, y = simulated(with_middle(setup), standing).plan_point(side, "middle")
        spot: PlanPoint = (x + aside, y + ahead)
        toe_in = toe_in_to(setup, side, placement, spot)
        aimed = msgspec.structs.replace(placement, toe_in_deg=toe_in)
        assert axis(setup, side, aimed).distance(Point(spot)) < 1e-6


def with_middle(setup: Setup) -> Setup:
    cabinet = Cabinet(300.0, 300.0, points={"middle": TouchPoint(0.0, 0.0)})
    return msgspec.structs.replace(setup, cabinets=Pair(cabinet, cabinet))


@some
@given(stood())
def test_each_aim_crosses_where_it_says(case: tuple[Setup, Pair[Placement]]) -> None:
    setup, standing = case
    outside = {Aim.SHOULDER: SHOULDER_MM, Aim.EAR: EAR_MM, Aim.HEAD: 0.0}
    for side in Side:
        for aim, expected in outside.items():
            passes = crossing(setup, side, aimed_at(setup, side, standing[side], aim))
            assert passes.outside_mm == pytest.approx(expected, abs=1e-6)
        behind = crossing(setup, side, aimed_at(setup, side, standing[side], Aim.BEHIND))
        assert behind.beyond_mm == pytest.approx(BEHIND_MM, abs=1e-6)
        ahead = crossing(setup, side, aimed_at(setup, side, standing[side], Aim.STRAIGHT))
        assert ahead.beyond_mm is None


def aimed_at(setup: Setup, side: Side, placement: Placement, aim: Aim) -> Placement:
    toe_in = aim_toe_in(setup, side, placement, aim)
    return msgspec.structs.replace(placement, toe_in_deg=toe_in)


@many
@given(stood(square=True))
def test_crossing_against_shapely(case: tuple[Setup, Pair[Placement]]) -> None:
    setup, standing = case
    x, y = setup.seat.plan
    across = LineString([(x - 1e5, y), (x + 1e5, y)])
    along = LineString([(x, y - 1e5), (x, y + 1e5)])
    for side, outward in ((Side.LEFT, -1), (Side.RIGHT, 1)):
        placement = standing[side]
        assume(abs(placement.toe_in_deg) > 0.5)
        line, passes = axis(setup, side, placement), crossing(setup, side, placement)
        at_seat = line.intersection(across)
        assert outward * (at_seat.x - x) == pytest.approx(passes.outside_mm, abs=1e-4)
        at_centre = line.intersection(along)
        assert passes.beyond_mm is not None
        if not at_centre.is_empty:
            assert at_centre.y - y == pytest.approx(passes.beyond_mm, abs=1e-4)


def test_crossing_by_hand() -> None:
    """Five degrees over two metres are 175 mm of the metre."""
    passes = crossing(CENTRED, Side.LEFT, PLACE)
    slope = math.tan(math.radians(5.0))
    assert passes.outside_mm == pytest.approx(1000.0 - 2000.0 * slope)
    assert passes.beyond_mm == pytest.approx(1000.0 / slope - 2000.0)
    far = crossing(CENTRED, Side.RIGHT, Placement(1500.0, 2000.0, 40.0))
    assert far.outside_mm < 0
    assert far.beyond_mm is not None
    assert far.beyond_mm < 0


def test_axes_meet_before_both_cabinets_or_not_at_all() -> None:
    room = Room((0, 0), (4700, 0), (4850, 6400), (-120, 6250))
    here, there = Placement(1000, 1500, 25), Placement(1300, 1700, 15)
    meet = axes_meet(room, Pair(here, there))
    assert meet is not None
    for side, placement in ((Side.LEFT, here), (Side.RIGHT, there)):
        frame = side_frame(room, side)
        (along, out), (x, y) = frame.reference(placement), frame.from_plan(meet)
        assert y > out
        turned = math.degrees(math.atan2(x - along, y - out))
        assert turned == pytest.approx(placement.toe_in_deg, abs=1e-9)
    for toe_in in (0.0, -20.0):
        away = Placement(1000, 1500, toe_in)
        assert axes_meet(room, Pair(away, away)) is None
