"""Side frames: one geometry for both cabinets, in rooms square and out of square."""

from __future__ import annotations

import math

import pytest
from geometry_cases import CABINET, SAME_MM, cabinets, many, placements, rooms, stood
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from witnessmark.geometry.frame import footprint, point_in_plan, reference_in_plan, side_frame
from witnessmark.model import Pair, Placement, PlanPoint, Room, Setup, Side, TouchPoint, Wall
from witnessmark_simulators.room import SimulatedRoom

SQUARE = Room.rectangular(5000.0, 6000.0)
COS30 = math.sqrt(3) / 2


def mirrored(point: PlanPoint) -> PlanPoint:
    return (-point[0], point[1])


def mirror_image(room: Room) -> Room:
    """The room as a mirror on its left shows it."""
    front_left, front_right, back_right, back_left = map(mirrored, room.corners)
    return Room(front_right, front_left, back_left, back_right)


def long_line(room: Room, wall: Wall) -> LineString:
    """A wall, drawn on far past its ends."""
    (x0, y0), (x1, y1) = room.wall(wall)
    dx, dy = 100 * (x1 - x0), 100 * (y1 - y0)
    return LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)])


def assert_same(found: PlanPoint, expected: PlanPoint) -> None:
    assert found == pytest.approx(expected, abs=SAME_MM)


@pytest.mark.parametrize(
    ("side", "reference", "rear_inner"),
    [
        (Side.LEFT, (1500.0, 1900.0), (1500 + 128 * COS30 - 192, 1900 - 64 - 384 * COS30)),
        (Side.RIGHT, (3500.0, 1900.0), (3500 - 128 * COS30 + 192, 1900 - 64 - 384 * COS30)),
    ],
)
def test_turned_inward_by_hand(side: Side, reference: PlanPoint, rear_inner: PlanPoint) -> None:
    placement = Placement(1500.0, 1900.0, 30.0)
    point = CABINET.touch_points["rear-inner"]
    assert_same(reference_in_plan(SQUARE, side, placement), reference)
    assert_same(point_in_plan(SQUARE, side, placement, point), rear_inner)


@many
@given(st.data())
def test_right_is_the_mirror_image_of_left(data: st.DataObject) -> None:
    room = data.draw(rooms())
    placement, cabinet = data.draw(placements(room)), data.draw(cabinets)
    image = mirror_image(room)
    for point in cabinet.touch_points.values():
        left = point_in_plan(room, Side.LEFT, placement, point)
        right = point_in_plan(image, Side.RIGHT, placement, point)
        assert_same(right, mirrored(left))
    for left, right in zip(
        footprint(room, Side.LEFT, cabinet, placement),
        footprint(image, Side.RIGHT, cabinet, placement),
        strict=True,
    ):
        assert_same(right, mirrored(left))


@many
@given(rooms(), st.sampled_from(Side), st.floats(-9000, 9000), st.floats(-9000, 9000))
def test_to_plan_and_back(room: Room, side: Side, x: float, y: float) -> None:
    frame = side_frame(room, side)
    assert_same(frame.to_plan(frame.from_plan((x, y))), (x, y))
    assert_same(frame.from_plan(frame.to_plan((x, y))), (x, y))


@many
@given(stood())
def test_a_tape_shows_side_and_setback(case: tuple[Setup, Pair[Placement]]) -> None:
    setup, standing = case
    for side in Side:
        frame, placement = side_frame(setup.room, side), standing[side]
        tape = frame.tape_distances(frame.reference(placement))
        assert tape == pytest.approx((placement.side_mm, placement.setback_mm), abs=SAME_MM)
        reference = Point(reference_in_plan(setup.room, side, placement))
        own = long_line(setup.room, Wall.beside(side))
        front = long_line(setup.room, Wall.FRONT)
        assert own.distance(reference) == pytest.approx(placement.side_mm, abs=SAME_MM)
        assert front.distance(reference) == pytest.approx(placement.setback_mm, abs=SAME_MM)


@many
@given(stood())
def test_every_point_where_the_simulated_room_has_it(case: tuple[Setup, Pair[Placement]]) -> None:
    setup, standing = case
    room = SimulatedRoom(setup.room, setup.cabinets, setup.seat, standing)
    for side in Side:
        for name, point in setup.cabinets[side].touch_points.items():
            found = point_in_plan(setup.room, side, standing[side], point)
            assert_same(found, room.plan_point(side, name))


@many
@given(stood())
def test_footprint_is_the_box(case: tuple[Setup, Pair[Placement]]) -> None:
    setup, standing = case
    for side in Side:
        cabinet = setup.cabinets[side]
        corners = footprint(setup.room, side, cabinet, standing[side])
        box = Polygon(corners)
        assert box.area == pytest.approx(cabinet.width_mm * cabinet.depth_mm, rel=1e-9)
        front_inner, front_outer, rear_outer, rear_inner = map(Point, corners)
        assert front_inner.distance(front_outer) == pytest.approx(cabinet.width_mm, abs=SAME_MM)
        assert front_inner.distance(rear_inner) == pytest.approx(cabinet.depth_mm, abs=SAME_MM)
        assert rear_outer.distance(rear_inner) == pytest.approx(cabinet.width_mm, abs=SAME_MM)
        reference = Point(reference_in_plan(setup.room, side, standing[side]))
        assert LineString([front_inner, front_outer]).centroid.distance(reference) < SAME_MM
        # the outer corners are the nearer ones to the own side wall while it is turned but a little
        straight = Placement(standing[side].side_mm, standing[side].setback_mm, 0.0)
        inner, outer, *_ = footprint(setup.room, side, cabinet, straight)
        wall = long_line(setup.room, Wall.beside(side))
        assert wall.distance(Point(outer)) < wall.distance(Point(inner))


def test_toe_in_turns_the_baffle_toward_the_other_cabinet() -> None:
    ahead = TouchPoint(0.0, -1000.0)
    x, y = point_in_plan(SQUARE, Side.LEFT, Placement(1500.0, 1900.0, 10.0), ahead)
    assert x == pytest.approx(1500.0 + 1000.0 * math.sin(math.radians(10.0)))
    assert y == pytest.approx(1900.0 + 1000.0 * math.cos(math.radians(10.0)))
    x, _ = point_in_plan(SQUARE, Side.RIGHT, Placement(1500.0, 1900.0, 10.0), ahead)
    assert x == pytest.approx(3500.0 - 1000.0 * math.sin(math.radians(10.0)))
