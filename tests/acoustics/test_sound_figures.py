"""What the room does to a pair, in figures: against outside figures, and as mirror images."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.acoustics.figures import room_sound
from witnessmark.acoustics.modes import Axis, Extremum
from witnessmark.acoustics.scene import Scene
from witnessmark.errors import BadInput
from witnessmark.model import Pair, Placement, Room, Seat, Side, Wall

SKEW = Room((0, 0), (4700, 0), (4850, 6400), (-120, 6250), height_mm=2480.0)
placements = st.builds(Placement, st.floats(400, 1800), st.floats(400, 2500), st.floats(-20, 40))


def changed(scene: Scene, **fields: object) -> Scene:
    return msgspec.structs.replace(scene, **fields)


def test_reflections_are_those_of_the_image_source_method(scene: Scene) -> None:
    """Allen & Berkley, JASA 65, 943 (1979); figures of pyroomacoustics' ShoeBox."""
    found = room_sound(scene).cabinets[Side.LEFT]
    assert found.path_mm == pytest.approx(2238.303, abs=0.01)
    for surface, delay_ms, notch_hz in (
        ("left", 4.47731, 111.674),
        ("front", 4.93108, 101.398),
        ("floor", 2.41629, 206.929),
        ("ceiling", 4.14820, 120.534),
    ):
        assert found.bounces[surface].delay_ms == pytest.approx(delay_ms, abs=1e-4)
        assert found.bounces[surface].first_notch_hz == pytest.approx(notch_hz, abs=1e-2)
    left, right = found.bounces["left"], found.bounces["right"]
    assert (left.along_mm, left.height_mm) == pytest.approx((1587.5, 1034.375), abs=1e-3)
    assert right.at_mm == pytest.approx((4200.0, 2092.308), abs=1e-3)
    assert found.bounces["front"].along_mm == pytest.approx(1336.842, abs=1e-3)


def test_a_reflection_comes_from_the_side_of_its_wall(scene: Scene) -> None:
    for one in room_sound(scene).cabinets.values():
        left, right = one.bounces["left"].angle_deg, one.bounces["right"].angle_deg
        assert left is not None
        assert right is not None
        assert -90 < left < 0 < right < 90
        back = one.bounces["back"].angle_deg
        assert back is not None
        assert abs(back) > 90


def test_a_seat_off_the_middle_hears_the_nearer_cabinet_first_and_louder() -> None:
    """Base 2.5 m, depth 2.165064 m, seat 10 mm to the right: 29.1374 µs and -0.0347 dB."""
    place = Placement(1000.0, 1000.0, 0.0)
    scene = Scene(
        Room.rectangular(4500.0, 6000.0),
        Seat(1000.0 + 2165.064, 2260.0),
        Pair(None, None),
        Pair[Placement | None](place, place),
    )
    found = room_sound(scene).at_seat
    assert found is not None
    assert found.path_mm == pytest.approx(9.99994, abs=1e-4)
    assert found.arrival_us == pytest.approx(29.1374, abs=1e-3)
    assert found.level_db == pytest.approx(-0.0347, abs=1e-4)
    assert found.expanded_arrival_us is None


@given(placements, placements)
def test_exchanging_the_two_turns_every_sign(one: Placement, other: Placement) -> None:
    scene = Scene(
        Room.rectangular(4800.0, 6300.0, 2500.0),
        Seat(4200.0, 2400.0, 1050.0),
        Pair(900.0, 900.0),
        Pair[Placement | None](one, other),
    )
    there = room_sound(scene)
    back = room_sound(changed(scene, placements=Pair[Placement | None](other, one)))
    assert there.at_seat is not None
    assert back.at_seat is not None
    assert there.at_seat.arrival_us == pytest.approx(-back.at_seat.arrival_us, abs=1e-6)
    assert there.at_seat.level_db == pytest.approx(-back.at_seat.level_db, abs=1e-9)
    own, mirrored = there.cabinets[Side.LEFT].bounces, back.cabinets[Side.RIGHT].bounces
    for wall, image in ((Wall.LEFT, Wall.RIGHT), (Wall.RIGHT, Wall.LEFT)):
        assert own[wall].extra_mm == pytest.approx(mirrored[image].extra_mm, abs=1e-6)
        assert own[wall].along_mm == pytest.approx(mirrored[image].along_mm, abs=1e-6)
        angle = mirrored[image].angle_deg
        assert angle is not None
        assert own[wall].angle_deg == pytest.approx(-angle, abs=1e-9)


def test_a_datum_line_has_no_reflection_no_boundary_and_no_modes(scene: Scene) -> None:
    found = room_sound(changed(scene, room=msgspec.structs.replace(scene.room, datum=(Wall.LEFT,))))
    assert set(found.modes) == {Axis.LENGTH, Axis.HEIGHT}
    for side, one in found.cabinets.items():
        assert "left" not in one.bounces
        assert one.boundary is not None
        assert one.boundary.surfaces == (
            ("front", "floor") if side is Side.LEFT else ("front", "right", "floor")
        )


def test_without_heights_there_is_no_floor_and_the_walls_are_met_in_plan(scene: Scene) -> None:
    flat = changed(scene, acoustic_heights_mm=Pair(None, None))
    for one in room_sound(flat).cabinets.values():
        assert set(one.bounces) == set(Wall)
        assert {bounce.height_mm for bounce in one.bounces.values()} == {None}


def test_modes_name_who_is_near_their_nulls_and_peaks_and_which_way(scene: Scene) -> None:
    """The room 5.6 by 4.2 by 2.5 m at 343.2 m/s: 30.6429, 40.8571 and 68.64 Hz."""
    modes = room_sound(scene).modes
    lowest = {axis: found.modes[0].frequency_hz for axis, found in modes.items()}
    assert lowest == pytest.approx({"length": 30.6429, "width": 40.8571, "height": 68.64}, abs=1e-4)
    first, second = modes[Axis.LENGTH].modes[:2]
    (near,) = first.near
    assert (near.who, near.what) == ("seat", Extremum.NULL)
    assert near.distance_mm == pytest.approx(-100.0)
    (near,) = second.near
    assert (near.who, near.what) == ("seat", Extremum.PEAK)
    half, whole = modes[Axis.WIDTH].modes[:2]
    assert [(near.who, near.what, near.distance_mm) for near in half.near] == [
        ("seat", Extremum.NULL, 0.0)
    ]
    assert [(near.who, near.what) for near in whole.near] == [
        ("seat", Extremum.PEAK),
        ("left cabinet", Extremum.NULL),
        ("right cabinet", Extremum.NULL),
    ]
    assert whole.near[1].distance_mm == pytest.approx(-50.0)
    assert whole.near[2].distance_mm == pytest.approx(50.0)


def test_a_room_a_little_out_of_square_has_modes_and_one_far_out_has_none(scene: Scene) -> None:
    assert not changed(scene, room=SKEW).is_rectangle
    assert set(room_sound(changed(scene, room=SKEW)).modes) == set(Axis)
    wedge = Room((0, 0), (3200, 0), (4700, 5600), (-600, 5400))
    assert room_sound(changed(scene, room=wedge)).modes == {}


@pytest.mark.parametrize("side", Side)
def test_one_cabinet_alone_has_its_reflections_and_nothing_to_compare(
    scene: Scene, side: Side
) -> None:
    alone = changed(scene, placements=scene.placements.replacing(side.other, None))
    found = room_sound(alone)
    assert found.at_seat is None
    assert list(found.cabinets) == [side]


def test_a_cabinet_in_its_wall_has_no_notch_of_it(scene: Scene) -> None:
    flush = Pair[Placement | None](Placement(1100.0, 0.0, 0.0), None)
    assert "front" not in room_sound(changed(scene, placements=flush)).cabinets[Side.LEFT].bounces


def test_a_cabinet_at_the_very_seat_is_refused(scene: Scene) -> None:
    there = Pair[Placement | None](Placement(2100.0, 2900.0, 0.0), Placement(1100.0, 900.0, 0.0))
    flat = changed(scene, placements=there, acoustic_heights_mm=Pair(None, None))
    with pytest.raises(BadInput, match="seat must stand away"):
        room_sound(flat)
