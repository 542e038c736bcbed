"""A room from its walls and one diagonal."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.model import Room
from witnessmark.survey.outline import Walls


def test_a_square_room_comes_back() -> None:
    room = Walls(3000, 4000, 3000, 4000, 5000).room(2400)
    for corner, expected in zip(room.corners, Room.rectangular(3000, 4000).corners, strict=True):
        assert corner == pytest.approx(expected, abs=1e-6)
    assert room.height_mm == 2400


nudges = st.floats(-200, 200)


@given(st.floats(2500, 9000), st.floats(2500, 9000), nudges, nudges, nudges, nudges)
def test_what_a_meter_finds_in_a_room_gives_the_room_back(
    width: float, length: float, a: float, b: float, c: float, d: float
) -> None:
    room = Room((0.0, 0.0), (width, 0.0), (width + a, length + b), (c, length + d))
    again = Walls.of(room).room()
    for corner, expected in zip(again.corners, room.corners, strict=True):
        assert math.dist(corner, expected) < 1e-3  # mm


@pytest.mark.parametrize("diagonal", [1000, 9000])
def test_a_diagonal_that_cannot_be_is_refused(diagonal: float) -> None:
    with pytest.raises(BadInput, match="do not close"):
        Walls(3000, 4000, 3000, 4000, diagonal).room()
