"""What stands proud of the walls of the simulated room, and its lines, by hand."""

from __future__ import annotations

import math

import msgspec
import pytest

from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Pair,
    Placement,
    Room,
    Seat,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
    WallOffset,
)
from witnessmark_simulators.room import Hit, ImpossibleShot, SimulatedRoom

SAME_MM = 1e-6
ROOM = msgspec.structs.replace(
    Room.rectangular(5000.0, 6000.0),
    offsets=(
        WallOffset(Wall.FRONT, 20.0, 0.0, 100.0),
        WallOffset(Wall.FRONT, 120.0, 150.0, 650.0),
        WallOffset(Wall.BACK, 50.0, 0.0, 2000.0),
        WallOffset(Wall.LEFT, 30.0, 0.0, 2000.0),
    ),
)
CABINET = Cabinet(300.0, 400.0, points={"terminal": TouchPoint(0.0, 400.0, 300.0)})
TOE_IN = 30.0
COS30 = math.sqrt(3) / 2


def world(toe_in_deg: float = 0.0, room: Room = ROOM) -> SimulatedRoom:
    placement = Placement(1500.0, 1900.0, toe_in_deg)
    seat = Seat(from_front_mm=4300.0, from_left_mm=2500.0)
    return SimulatedRoom(room, Pair(CABINET, CABINET), seat, Pair(placement, placement))


def kind(
    point: str, to: AimedAt, held: Held = Held.WALL, height_mm: float | None = None
) -> ShotKind:
    return ShotKind(Side.LEFT, point, to, held, height_mm)


@pytest.mark.parametrize(
    ("shot", "expected_mm"),
    [
        (kind("rear-inner", AimedAt.FRONT), 1480.0),
        (kind("rear-inner", AimedAt.FRONT, height_mm=120.0), 1500.0),
        (kind("rear-inner", AimedAt.FRONT, height_mm=150.0), 1380.0),
        (kind("rear-inner", AimedAt.FRONT, height_mm=700.0), 1500.0),
        (kind("terminal", AimedAt.FRONT), 1380.0),
        (kind("terminal", AimedAt.FRONT, height_mm=50.0), 1480.0),
        (kind("front-inner", AimedAt.BACK), 4050.0),
        (kind("front-outer", AimedAt.LEFT, Held.CABINET), 1320.0),
        (kind("front-inner", AimedAt.RIGHT, Held.CABINET), 3350.0),
        (kind("front-inner", AimedAt.LEFT, Held.SPOT), 1650.0 - 30.0),
        (kind("front-inner", AimedAt.RIGHT, Held.SPOT), 3350.0),
    ],
)
def test_the_height_decides_what_is_met(shot: ShotKind, expected_mm: float) -> None:
    assert world().true_distance(shot) == pytest.approx(expected_mm, abs=SAME_MM)


def test_along_the_cabinet_the_way_is_shorter_by_the_slant() -> None:
    shot = kind("rear-inner", AimedAt.FRONT, Held.CABINET)
    bare = world(TOE_IN, Room.rectangular(5000.0, 6000.0)).true_distance(shot)
    assert bare - world(TOE_IN).true_distance(shot) == pytest.approx(20.0 / COS30, abs=SAME_MM)


def test_a_dot_on_a_panel_is_nearer() -> None:
    """The dot 50 mm before the back wall has drifted less, and is measured from a panel too."""
    bare = world(TOE_IN, Room.rectangular(5000.0, 6000.0))
    for to, panel_mm in ((AimedAt.LEFT, 30.0), (AimedAt.RIGHT, 0.0)):
        shot = kind("front-inner", to, Held.SPOT)
        drift = 50.0 * math.tan(math.radians(TOE_IN)) * (1 if to is AimedAt.LEFT else -1)
        change = bare.true_distance(shot) - world(TOE_IN).true_distance(shot)
        assert change == pytest.approx(drift + panel_mm, abs=SAME_MM)


def test_a_beam_that_climbs_meets_what_is_at_its_height_there() -> None:
    """Over 1.4 m a beam 3 degrees up climbs from 80 mm over the skirting board's top, then higher.

    Level it meets the board, climbing slightly the wall, and climbing more the radiator.
    """
    shot = kind("rear-inner", AimedAt.FRONT, height_mm=80.0)
    for rise_deg, square_mm in ((0.0, 1480.0), (1.5, 1500.0), (3.5, 1380.0)):
        read = world().true_distance(shot, (0.0, rise_deg))
        expected = square_mm / math.cos(math.radians(rise_deg))
        assert read == pytest.approx(expected, abs=SAME_MM)


def test_a_level_ray_meets_what_stands_proud() -> None:
    assert world().ray((2500.0, 3000.0), (0.0, -2.0)) == Hit(2980.0, Wall.FRONT)
    assert world().ray((2500.0, 3000.0), (0.0, -2.0), 400.0) == Hit(2880.0, Wall.FRONT)
    assert world().ray((2500.0, 3000.0), (-1.0, 0.0), 3000.0) == Hit(2500.0, Wall.LEFT)


def test_a_point_within_a_radiator_cannot_shoot_at_its_wall() -> None:
    near = world().moved(Side.LEFT, Placement(1500.0, 500.0, 0.0))
    with pytest.raises(ImpossibleShot, match="behind what sticks out from the front wall"):
        near.true_distance(kind("rear-inner", AimedAt.FRONT, height_mm=400.0))
    shot = kind("rear-inner", AimedAt.FRONT)
    assert near.true_distance(shot) == pytest.approx(80.0, abs=SAME_MM)


def test_a_beam_does_not_stop_at_a_line_but_a_tape_may_go_to_it() -> None:
    lined = world(room=msgspec.structs.replace(ROOM, datum=(Wall.RIGHT,)))
    shot = kind("front-inner", AimedAt.RIGHT)
    assert lined.true_distance(shot) == pytest.approx(3350.0, abs=SAME_MM)
    with pytest.raises(ImpossibleShot, match="a beam does not stop at the right datum line"):
        lined.true_distance(msgspec.structs.replace(shot, held=Held.CABINET))
    bare_back = msgspec.structs.replace(Room.rectangular(5000.0, 6000.0), datum=(Wall.BACK,))
    with pytest.raises(ImpossibleShot, match="a beam does not stop at the back datum line"):
        world(room=bare_back).true_distance(kind("front-inner", AimedAt.LEFT, Held.SPOT))
