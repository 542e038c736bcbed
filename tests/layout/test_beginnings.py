"""Lanes, seat, stations, and the three ways to choose a beginning."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.geometry.frame import reference_in_plan
from witnessmark.layout.footprint import Band
from witnessmark.layout.plan import Layout, lay_out
from witnessmark.layout.practice import FOOT_MM, Practice
from witnessmark.layout.start import Free, InLane, Start, Triangle
from witnessmark.model import Cabinet, Mirror, Pair, Room, Seat, Side

ROOM = Room.rectangular(4800, 6600)
CABINET = Cabinet(260, 390)
PAIR = Pair(CABINET, CABINET)
LARGE, FAR = Room.rectangular(6000, 8000), Seat(from_front_mm=5000, from_left_mm=3000)


def test_lanes_lie_between_a_quarter_and_a_third_of_the_width() -> None:
    # common practice, no source
    assert lay_out(ROOM).lanes == Pair(Band(1200, 1600), Band(1200, 1600))


def test_the_seat_is_a_third_of_the_length_from_the_back_wall() -> None:
    # common practice, no source
    seat = lay_out(ROOM).seat
    assert 6600 - seat.from_front_mm == pytest.approx(2200)
    assert seat.from_left_mm == 2400


def test_stations_step_from_abreast_of_the_seat_while_the_cabinet_fits_behind() -> None:
    # common practice, no source: from abreast of the seat, in steps of 300 mm
    walk = lay_out(ROOM, PAIR).stations
    assert [s.setback_mm for s in walk[:3]] == pytest.approx([4400, 4100, 3800])
    assert walk[-1].setback_mm == pytest.approx(500)
    assert [s.number for s in walk] == list(range(1, 15))
    assert walk[0].facing_deg == pytest.approx(90)
    assert walk[0].angle_deg == pytest.approx(180)


def test_a_station_where_the_cabinet_just_fits_is_kept() -> None:
    seat = Seat(390 + 7 * FOOT_MM, 2400)
    walk = lay_out(ROOM, PAIR, seat, practice=Practice(station_step_mm=FOOT_MM)).stations
    assert len(walk) == 8
    assert walk[-1].setback_mm == pytest.approx(390, abs=1e-6)


def test_a_station_tells_what_a_tape_would() -> None:
    station = lay_out(ROOM, PAIR).stations[5]
    forward, half_base = 1500, 1000
    assert station.to_seat_mm == pytest.approx(math.hypot(forward, half_base))
    assert math.tan(math.radians(station.facing_deg)) == pytest.approx(half_base / forward)
    # the outer rear corner of the turned cabinet is the one nearest to the front wall
    t = math.radians(station.facing_deg)
    reach = 390 * math.cos(t) + 130 * math.sin(t)
    inner = 390 * math.cos(t) - 130 * math.sin(t)
    assert station.rear_gap_mm == pytest.approx(station.setback_mm - max(reach, inner))


def test_without_a_choice_the_triangle_spans_the_middles_of_the_lanes() -> None:
    # on the middles of the lanes: common practice, no source; 60 degrees: Rec. ITU-R BS.775-3
    layout = lay_out(ROOM)
    assert layout.base_mm == 2000
    assert layout.placements.left.side_mm == 1400
    assert layout.placements.left.setback_mm == pytest.approx(4400 - 1000 * math.sqrt(3))
    assert layout.placements.left.toe_in_deg == 30


def test_a_triangle_by_its_setback_is_the_triangle_by_its_base() -> None:
    by_base = lay_out(ROOM, start=Triangle(base_mm=2500))
    setback = by_base.placements.left.setback_mm
    by_setback = lay_out(ROOM, start=Triangle(setback_mm=setback))
    assert by_setback.base_mm == pytest.approx(2500)
    assert by_setback.placements.right.side_mm == pytest.approx(by_base.placements.right.side_mm)


def test_a_narrower_triangle_stands_further_from_the_seat() -> None:
    wide, narrow = (
        lay_out(ROOM, start=Triangle(2000), practice=Practice(triangle_deg=angle))
        for angle in (60, 45)
    )
    assert narrow.placements.left.setback_mm < wide.placements.left.setback_mm
    assert narrow.placements.left.toe_in_deg == 22.5


def test_a_cabinet_turned_in_its_lane_takes_up_the_lane_evenly() -> None:
    layout = lay_out(ROOM, PAIR, start=InLane(2000, 20))
    sides = [point.side_mm for point in layout.stands.left.points.values()]
    assert min(sides) - 1200 == pytest.approx(1600 - max(sides))
    # turned in, the rear swings to the side wall, so the baffle has to move inward
    assert layout.placements.left.side_mm > 1400
    assert lay_out(ROOM, PAIR, start=InLane(2000, -20)).placements.left.side_mm < 1400


def test_ones_own_numbers_face_the_seat_unless_told_otherwise() -> None:
    layout = lay_out(ROOM, start=Free(1400, 2400))
    assert layout.placements.right.toe_in_deg == pytest.approx(math.degrees(math.atan2(1, 2)))
    assert lay_out(ROOM, start=Free(1400, 2400, 0)).placements.right.toe_in_deg == 0


starts = st.one_of(
    st.builds(Triangle, base_mm=st.floats(500, 4000)),
    st.builds(Triangle, setback_mm=st.floats(100, 2500)),
    st.builds(InLane, st.floats(400, 3000), st.floats(-45, 45)),
    st.builds(Free, st.floats(0, 1900), st.floats(400, 3000), st.floats(-45, 45)),
)


@given(starts, st.floats(2000, 2800), st.floats(3000, 6000))
def test_every_beginning_is_symmetrical_about_the_line_through_the_seat(
    start: Start, from_left: float, from_front: float
) -> None:
    layout = lay_out(ROOM, PAIR, Seat(from_front, from_left), start)
    left, right = (reference_in_plan(ROOM, side, layout.placements[side]) for side in Side)
    assert left[0] + right[0] == pytest.approx(2 * from_left)
    assert left[1] == pytest.approx(right[1])
    assert layout.placements.left.toe_in_deg == layout.placements.right.toe_in_deg
    assert layout.stands.left.to_seat_mm == pytest.approx(layout.stands.right.to_seat_mm)
    assert right[0] - left[0] == pytest.approx(layout.base_mm)


@given(st.floats(2000, 2800))
def test_lanes_move_with_the_seat(from_left: float) -> None:
    lanes = lay_out(ROOM, seat=Seat(4400, from_left)).lanes
    assert lanes.left.outer_mm - 1200 == pytest.approx(from_left - 2400)
    assert lanes.left.breadth_mm == pytest.approx(lanes.right.breadth_mm)
    in_plan = lanes.left.middle_mm + (4800 - lanes.right.middle_mm)
    assert in_plan == pytest.approx(2 * from_left)


def test_a_room_out_of_square_is_laid_out_by_its_width_and_length() -> None:
    room = Room((0, 0), (4800, 0), (4830, 6620), (0, 6580))
    layout = lay_out(room, PAIR)
    assert layout.lanes.left == layout.lanes.right
    assert layout.lanes.left.outer_mm == 1200
    assert layout.seat.from_front_mm == pytest.approx(room.length_mm * 2 / 3)


SKEW = Room((0, 0), (4800, 0), (4830, 6620), (-40, 6580))
OFF_CENTRE = Seat(from_front_mm=4200, from_left_mm=2250)


def in_plan(room: Room, layout: Layout) -> list[tuple[float, float]]:
    return [reference_in_plan(room, side, layout.placements[side]) for side in Side]


@pytest.mark.parametrize("start", [Triangle(), InLane(2100, 4.0), Free(1300, 1900, 5.0)])
def test_about_the_seat_both_stand_as_far_from_its_line_in_any_room(start: Start) -> None:
    layout = lay_out(SKEW, PAIR, OFF_CENTRE, start, mirror=Mirror.SEAT)
    (left_x, left_y), (right_x, right_y) = in_plan(SKEW, layout)
    assert OFF_CENTRE.from_left_mm - left_x == pytest.approx(right_x - OFF_CENTRE.from_left_mm)
    assert left_y == pytest.approx(right_y)
    assert right_x - left_x == pytest.approx(layout.base_mm)
    assert layout.placements.left.side_mm != pytest.approx(layout.placements.right.side_mm, abs=1)


@pytest.mark.parametrize("start", [Triangle(), InLane(2100, 4.0), Free(1300, 1900, 5.0)])
def test_about_the_room_both_stand_as_far_from_their_walls_in_any_room(start: Start) -> None:
    layout = lay_out(SKEW, PAIR, OFF_CENTRE, start, mirror=Mirror.ROOM)
    (left_x, _), (right_x, _) = in_plan(SKEW, layout)
    assert layout.placements.left == layout.placements.right
    assert right_x - left_x == pytest.approx(layout.base_mm)
    assert layout.lanes.left == layout.lanes.right


def test_a_side_that_is_given_is_the_left_cabinets_about_either_line() -> None:
    for mirror in Mirror:
        layout = lay_out(SKEW, PAIR, OFF_CENTRE, Free(1300, 1900, 5.0), mirror=mirror)
        assert layout.placements.left.side_mm == pytest.approx(1300)


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Practice(lane_from=0.4), "lane: it must run"),
        (lambda: Practice(seat_from_back=1), "seat_from_back: the fraction"),
        (lambda: Practice(station_step_mm=0), "station step: 0 mm must lie between"),
        (lambda: Practice(triangle_deg=180), "triangle: the angle"),
        (lambda: Triangle(2500, 2000), "one follows from the other"),
        (lambda: Triangle(base_mm=0), "triangle.base: 0 mm must lie above 0"),
        (lambda: Triangle(setback_mm=math.nan), "triangle.setback: nan"),
        (lambda: InLane(2000, 91), "toe-in: 91 must lie between"),
        (lambda: InLane(-1), "setback: -1 mm must lie between"),
        (lambda: Free(1400, 2000, math.nan), "toe-in: nan must lie between"),
        (lambda: lay_out(ROOM, start=Triangle(setback_mm=4500)), "leaves no triangle"),
        (lambda: lay_out(ROOM, start=Free(2400, 2000)), "side: 2400 mm must lie between 0 and"),
    ],
)
def test_what_cannot_be_laid_out_is_refused_in_one_sentence(make: object, words: str) -> None:
    assert callable(make)
    with pytest.raises(BadInput, match=words) as refusal:
        make()
    assert "\n" not in str(refusal.value)


def test_without_cabinets_nothing_is_said_about_how_they_fit() -> None:
    layout: Layout = lay_out(Room.rectangular(1500, 2000))
    assert layout.conflicts == ()
    assert layout.stands.left.points == {}
    assert {station.rear_gap_mm for station in layout.stations} == {None}


@pytest.mark.parametrize(
    ("base_mm", "depth_mm"), [(2000, 1732.051), (2500, 2165.064), (3000, 2598.076)]
)
def test_equilateral_triangle(base_mm: float, depth_mm: float) -> None:
    # geometry: depth = base * sqrt(3) / 2, legs as long as the base; within 1e-6 m
    by_base = lay_out(LARGE, seat=FAR, start=Triangle(base_mm))
    assert 5000 - by_base.placements.left.setback_mm == pytest.approx(depth_mm, abs=1e-3)
    by_setback = lay_out(LARGE, seat=FAR, start=Triangle(setback_mm=5000 - depth_mm))
    assert by_setback.base_mm == pytest.approx(base_mm, abs=1.2e-3)
    for layout in (by_base, by_setback):
        assert layout.stands.left.to_seat_mm == pytest.approx(base_mm, abs=1.2e-3)
        assert layout.stands.right.to_seat_mm == pytest.approx(base_mm, abs=1.2e-3)
