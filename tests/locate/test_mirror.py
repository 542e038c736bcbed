"""The two lines about which a pair can be mirror images, and cabinets outside the room."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from geometry_cases import (
    SETUP,
    drawn_shots,
    many,
    noisy,
    round_of,
    some,
    stood,
    true_shots,
)
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from witnessmark.geometry.frame import footprint, reference_in_plan, side_frame
from witnessmark.lengths import Units
from witnessmark.locate.bounds import outside
from witnessmark.locate.pose import Located, locate
from witnessmark.locate.symmetry import symmetry
from witnessmark.model import (
    Cabinet,
    Held,
    Meter,
    Mirror,
    Pair,
    Placement,
    Room,
    Setup,
    Side,
    TouchPoint,
    Wall,
)

WANTED = [*round_of(Side.LEFT, Held.WALL), *round_of(Side.RIGHT, Held.WALL)]


def located(setup: Setup, standing: Pair[Placement]) -> Located:
    return locate(setup, drawn_shots(setup, standing, WANTED))


def seat_line(setup: Setup) -> LineString:
    """The line through the seat square to the front wall, drawn on far both ways."""
    (x0, y0), (x1, y1) = setup.room.wall(Wall.FRONT)
    x, y = setup.seat.plan
    dx, dy = 10 * (y0 - y1), 10 * (x1 - x0)
    return LineString([(x - dx, y - dy), (x + dx, y + dy)])


def outward_of(setup: Setup, side: Side, placement: Placement) -> float:
    """How far a cabinet is from the seat's line toward its own side; below 0 beyond the line."""
    point, line = Point(reference_in_plan(setup.room, side, placement)), seat_line(setup)
    own = Point(setup.room.wall(Wall.LEFT if side is Side.LEFT else Wall.RIGHT)[0])
    between = LineString([point, own])
    return line.distance(point) * (-1.0 if between.crosses(line) else 1.0)


def about(setup: Setup, mirror: Mirror) -> Setup:
    return msgspec.structs.replace(setup, mirror=mirror)


@many
@given(stood(toe_in_deg=25.0))
def test_about_the_seat_the_error_is_that_of_the_distances_from_its_line(
    case: tuple[Setup, Pair[Placement]],
) -> None:
    setup, standing = case
    left, right = (outward_of(setup, side, standing[side]) for side in Side)
    # farther inward is nearer to the line
    error = symmetry(about(setup, Mirror.SEAT), located(setup, standing)).error
    assert error.side_mm == pytest.approx(right - left, abs=1e-5)


@some
@given(stood(toe_in_deg=25.0))
def test_all_else_is_the_same_about_either_line(case: tuple[Setup, Pair[Placement]]) -> None:
    setup, standing = case
    found = located(setup, standing)
    room, seat = (symmetry(about(setup, mirror), found) for mirror in Mirror)
    assert symmetry(setup, found) == room
    for name in ("setback_mm", "toe_in_deg", "path_to_seat_mm", "arrival_us", "level_db"):
        assert getattr(room.error, name) == getattr(seat.error, name)
        assert getattr(room.expanded, name) == getattr(seat.expanded, name)


@some
@given(stood(square=True, toe_in_deg=25.0), st.floats(-300.0, 300.0))
def test_in_a_rectangle_the_two_differ_by_twice_what_the_seat_is_off_the_middle(
    case: tuple[Setup, Pair[Placement]], off_mm: float
) -> None:
    setup, standing = case
    seat = msgspec.structs.replace(setup.seat, from_left_mm=setup.room.width_mm / 2 + off_mm)
    setup = msgspec.structs.replace(setup, seat=seat)
    found = located(setup, standing)
    room, about_seat = (symmetry(about(setup, mirror), found) for mirror in Mirror)
    assert about_seat.error.side_mm == pytest.approx(room.error.side_mm - 2 * off_mm, abs=1e-5)
    assert about_seat.expanded.side_mm == pytest.approx(room.expanded.side_mm, rel=1e-6)


SKEW = msgspec.structs.replace(
    SETUP,
    room=Room((0.0, 0.0), (4940.0, 0.0), (5060.0, 6480.0), (-40.0, 6500.0)),
    meter=Meter(repeatability_mm=1.0, resolution_mm=0.0, zero_mm=2.0),
)
"""The walls lean so much that the setbacks count in the side distances."""


def test_the_interval_about_the_seat_is_what_is_seen() -> None:
    standing = Pair(Placement(1423.7, 1881.2, 8.6), Placement(1391.2, 1904.5, 7.1))
    exact = true_shots(SKEW, standing, WANTED)
    truth = symmetry(about(SKEW, Mirror.SEAT), locate(SKEW, exact))
    seen = [
        symmetry(about(SKEW, Mirror.SEAT), locate(SKEW, noisy(exact, 1.0, seed))).error.side_mm
        for seed in range(400)
    ]
    # the standard deviation of 400 is known to a part of 1 / sqrt(800) = 3.5 %
    assert 2 * np.std(seen) == pytest.approx(truth.expanded.side_mm, rel=0.12)
    assert np.mean(seen) == pytest.approx(truth.error.side_mm, abs=0.3)


def test_a_zero_error_cancels_about_either_line_in_a_square_room() -> None:
    standing = Pair(Placement(1423.7, 1881.2, 8.6), Placement(1391.2, 1904.5, 7.1))
    errors = {
        (mirror, zero): symmetry(
            about(SETUP, mirror), locate(SETUP, true_shots(SETUP, standing, WANTED, zero))
        ).error.side_mm
        for mirror in Mirror
        for zero in (0.0, 1.4)
    }
    for mirror in Mirror:
        assert errors[mirror, 1.4] == pytest.approx(errors[mirror, 0.0], abs=1e-3)


ROOM = Room.rectangular(5000.0, 6000.0)
BOX = Cabinet(260.0, 390.0)


@pytest.mark.parametrize(
    ("placement", "words"),
    [
        (Placement(1500.0, 1900.0, 8.0), None),
        (Placement(130.0, 390.0, 0.0), None),
        (
            Placement(100.0, 1900.0, 0.0),
            (
                "the left cabinet would stand outside the room, its rear-outer 30 mm beyond the "
                "left wall"
            ),
        ),
        (
            Placement(1500.0, 300.0, 0.0),
            (
                "the left cabinet would stand outside the room, its rear-outer 90 mm beyond the "
                "front wall"
            ),
        ),
        (
            Placement(5400.0, 1900.0, 0.0),
            (
                "the left cabinet would stand outside the room, its rear-inner 530 mm beyond the "
                "right wall"
            ),
        ),
    ],
)
def test_a_cabinet_outside_the_room_is_told(placement: Placement, words: str | None) -> None:
    assert outside(ROOM, Side.LEFT, BOX, placement) == words


def test_feet_count_and_a_line_may_be_stood_over() -> None:
    placement = Placement(1500.0, 400.0, 0.0)
    spiked = Cabinet(260.0, 390.0, feet={"rear": TouchPoint(0.0, 420.0)})
    assert outside(ROOM, Side.LEFT, BOX, placement) is None
    told = outside(ROOM, Side.LEFT, spiked, placement, Units.TENTH_MM)
    assert told == (
        "the left cabinet would stand outside the room, its rear 20.0 mm beyond the front wall"
    )
    open_room = msgspec.structs.replace(ROOM, datum=(Wall.FRONT,))
    assert outside(open_room, Side.LEFT, spiked, placement) is None


@many
@given(
    stood(),
    st.sampled_from(Side),
    st.builds(
        Placement, st.floats(-500.0, 4000.0), st.floats(-500.0, 8000.0), st.floats(-60.0, 60.0)
    ),
)
def test_outside_as_shapely_has_it(
    case: tuple[Setup, Pair[Placement]], side: Side, placement: Placement
) -> None:
    room = case[0].room
    floor, box = Polygon(room.corners), Polygon(footprint(room, side, BOX, placement))
    beyond = max(
        0.0,
        *(
            -side_frame(room, side)
            .walls[wall]
            .distance_mm(side_frame(room, side).from_plan(corner))
            for wall in Wall
            for corner in footprint(room, side, BOX, placement)
        ),
    )
    assume(abs(beyond - 1.0) > 1e-6)
    told = outside(room, side, BOX, placement)
    if floor.contains(box):
        assert told is None
    elif not floor.buffer(1.01 * math.sqrt(2)).contains(box):
        assert told is not None
