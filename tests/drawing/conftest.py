"""What the tests of drawings share: a setup with targets that are mirror images."""

from __future__ import annotations

import pytest

from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup


@pytest.fixture
def setup() -> Setup:
    cabinet, target = Cabinet(262, 391, 940), Placement(1450, 1900, 8)
    return Setup(
        room=Room.rectangular(5360, 7240),
        cabinets=Pair(cabinet, cabinet),
        seat=Seat(4400, 2680, 1020),
        targets=Pair[Placement | None](target, target),
    )
