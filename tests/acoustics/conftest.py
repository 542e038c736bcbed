"""What the tests of the acoustics share: a constructed room, and a pair in it."""

from __future__ import annotations

import pytest

from witnessmark.acoustics.scene import Scene
from witnessmark.model import Pair, Placement, Room, Seat


@pytest.fixture
def scene() -> Scene:
    """4.2 by 5.6 by 2.5 m; the left source at (1.1, 0.9, 1.0), the ears at (2.1, 2.9, 1.1).

    Constructed; the same as in ``test_published_reflections``, where pyroomacoustics has it too.
    """
    place = Placement(1100.0, 900.0, 0.0)
    return Scene(
        Room.rectangular(4200.0, 5600.0, 2500.0),
        Seat(2900.0, 2100.0, 1100.0),
        Pair(1000.0, 1000.0),
        Pair[Placement | None](place, place),
    )
