"""Corners of any plan in the plan frame, against shapely's affine transformations."""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import rotate, translate

from witnessmark.geometry.plan_frame import in_plan_frame
from witnessmark.model import Room, Wall, WallOffset

SKEWED = Room((0.0, 0.0), (5010.0, 0.0), (5160.0, 6604.0), (-90.0, 6590.0), 2480.0)

Corners = tuple[tuple[float, float], ...]


def carried_off(corners: Corners, by: tuple[float, float], turn: float) -> Corners:
    """The same shape elsewhere: turned about the origin, then moved."""
    moved = translate(rotate(Polygon(corners), turn, origin=(0, 0)), *by)
    return tuple(moved.exterior.coords)[:-1]


@given(x=st.floats(-50_000, 50_000), y=st.floats(-50_000, 50_000), turn=st.floats(-180, 180))
def test_a_room_carried_off_comes_back(x: float, y: float, turn: float) -> None:
    offsets = (WallOffset(Wall.LEFT, 18.0, 0.0, 120.0),)
    room = Room(*carried_off(SKEWED.corners, (x, y), turn), 2480.0, (Wall.BACK,), offsets)
    back, shift = in_plan_frame(room)
    # what is within a thousandth of a millimetre is left as it is, but for the far corners' turn
    within = 5e-3 if shift is None else 1e-6
    for corner, expected in zip(back.corners, SKEWED.corners, strict=True):
        assert corner == pytest.approx(expected, abs=within)
    assert (back.height_mm, back.datum, back.offsets) == (2480.0, (Wall.BACK,), offsets)
    if shift is not None:
        assert back.front_left == (0.0, 0.0)
        assert back.front_right[1] == 0.0
        # a point that moved along with the room, such as a corner of a hearth
        (hearth,) = carried_off(((700.0, 300.0),) * 3 + ((700.0, 300.0),), (x, y), turn)[:1]
        assert shift.moved(hearth) == pytest.approx((700.0, 300.0), abs=1e-6)
        assert math.cos(math.radians(shift.turn_deg + turn)) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("room", [SKEWED, Room.rectangular(5360.0, 7240.0)])
def test_a_room_in_the_frame_is_left_as_it_is(room: Room) -> None:
    assert in_plan_frame(room) == (room, None)
    assert in_plan_frame(room)[0] is room
    rounded = msgspec.structs.replace(room, front_right=(room.width_mm, 4e-4))
    assert in_plan_frame(rounded) == (rounded, None)
