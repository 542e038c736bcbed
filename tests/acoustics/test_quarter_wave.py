"""The first notch by a wall, where the listener is far away on its axis."""

import pytest

from witnessmark.acoustics.reflections import first_reflections
from witnessmark.model import Room, Wall

SPEED = 343.2


@pytest.mark.parametrize(
    ("distance_mm", "notch_hz"),
    [(300, 286), (500, 171.6), (600, 143), (750, 114.4), (1000, 85.8), (1500, 57.2)],
)
def test_a_quarter_wave_to_the_wall_for_a_far_listener_on_its_axis(
    distance_mm: float, notch_hz: float
) -> None:
    # physics: c / (4 d) with c = 343.2 m/s; the room is as long as it takes to be far
    room = Room.rectangular(40_000.0, 95_000.0)
    source, ears = (20_000.0, distance_mm, 0.0), (20_000.0, 90_000.0, 0.0)
    front = first_reflections(room, source, ears)[Wall.FRONT]
    assert front.first_notch_hz(SPEED) == pytest.approx(notch_hz, abs=1e-6)
