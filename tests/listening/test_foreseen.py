"""The walk foreseen: which positions, how much they differ, where a dip goes, other seats."""

from __future__ import annotations

import math
from typing import Any

import msgspec
import pytest

from witnessmark.acoustics.foresight import Furnishing, absorptions
from witnessmark.errors import BadInput
from witnessmark.listening import foreseen
from witnessmark.listening.foreseen import MOST_OF_GRID, DipEnd, ForeseenWalk
from witnessmark.listening.steps import ground
from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup, Side, TouchPoint
from witnessmark.model.room import RoomKnown

BOX = Cabinet(262.0, 391.0, 900.0, {"plinth": TouchPoint(0.0, 420.0)})
SETUP = Setup(
    room=Room.rectangular(5360.0, 7240.0, 2500.0),
    cabinets=Pair(BOX, BOX),
    seat=Seat(4400.0, 2680.0, 1020.0),
    targets=Pair(Placement(1450.0, 1900.0, 8.0), Placement(1450.0, 1900.0, 8.0)),
)
FURNISHED = absorptions(Furnishing.FURNISHED)


@pytest.fixture(scope="module")
def walk() -> ForeseenWalk:
    return ForeseenWalk(SETUP, FURNISHED)


def test_every_station_is_foreseen_at_three_spreads(walk: ForeseenWalk) -> None:
    stations = ground(SETUP).layout.stations
    assert [one.name for one in walk.spreads] == ["narrow", "middle", "wide"]
    for spread in walk.spreads:
        assert [one.setback_mm for one in spread.positions] == [s.setback_mm for s in stations]
        assert {round(one.spread_mm, 6) for one in spread.positions} == {round(spread.spread_mm, 6)}
        assert all(one.is_alike for one in spread.positions)
    assert not walk.left_out


def test_a_grid_keeps_to_the_floor_that_is_left(walk: ForeseenWalk) -> None:
    grid = ForeseenWalk(SETUP, FURNISHED, grid_mm=700.0)
    for spread in grid.spreads:
        for one in spread.positions:
            assert not one.obstacles
            assert one.setback_mm > 391.0  # the front wall is behind the cabinet
            assert math.isclose(one.setback_mm % 700.0, 0.0, abs_tol=1e-6)
    assert len(grid.spreads) > 3


def test_a_grid_of_very_many_positions_is_told_before_any_is_tried(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(foreseen, "MOST_OF_GRID", 47)
    with pytest.raises(BadInput, match=r"a step of 700 mm gives 48 positions; .* for 47 at most"):
        ForeseenWalk(SETUP, FURNISHED, grid_mm=700.0)
    assert MOST_OF_GRID > 107 * 88  # the finest step in a room as ours


def test_the_same_place_again_is_no_step_and_runs_are_of_slight_steps(walk: ForeseenWalk) -> None:
    middle = walk.spreads[1]
    one = middle.positions[3]
    still = middle._replace(positions=(one, one, one, middle.positions[9], one))
    assert still.steps_db[:2] == (0.0, 0.0)
    assert still.steps_db[2] == still.steps_db[3] > 3.0
    assert still.slight_runs == ((0, 2),)


def test_the_pair_where_a_station_is_has_its_levels(walk: ForeseenWalk) -> None:
    spread, place = walk.nearest(1990.0, walk.spreads[2].spread_mm - 1)
    assert spread == 2
    station = walk.spreads[spread].positions[place]
    assert abs(station.setback_mm - 1990.0) <= 150.0
    again = walk.at(station.placements, "now")
    assert again.levels.pair == pytest.approx(station.levels.pair, abs=1e-9)


def test_a_dip_of_the_front_wall_alone_moves_out_upward_where_its_path_says() -> None:
    """By one image source alone: the detour is half a wave."""
    alone = dict.fromkeys(FURNISHED, 1.0) | {"front": 0.0}
    flat = Cabinet(262.0, 190.0, 900.0)
    walk = ForeseenWalk(msgspec.structs.replace(SETUP, cabinets=Pair(flat, flat)), alone)
    narrow = walk.spreads[0]
    place = next(at for at, one in enumerate(narrow.positions) if one.setback_mm < 1500.0)
    ears, speed = walk.foresight.ears, walk.foresight.scene.speed_m_s

    def notch_hz(at: int) -> float:
        source = walk.foresight.source(Side.LEFT, narrow.positions[at].placements.left)
        image = (source[0], -source[1], source[2])
        return 1000 * speed / (2 * (math.dist(image, ears) - math.dist(source, ears)))

    (dip,) = [
        one
        for one in walk.dips(narrow.positions[place], Side.LEFT)
        if one.frequency_hz == pytest.approx(notch_hz(place), rel=0.03)
    ]
    path = walk.dip_path(0, place, Side.LEFT, dip)
    beyond = [at for at in range(place, len(narrow.positions)) if notch_hz(at) > 200.0]
    assert beyond
    assert (path.end, path.place) == (DipEnd.ABOVE, beyond[0])


def test_another_seat_hears_the_nearer_cabinet_first_and_louder(walk: ForeseenWalk) -> None:
    place = walk.spreads[1].positions[5].placements
    beside, same = walk.at_seats(place, (Seat(4400.0, 2100.0, 1020.0), SETUP.seat))
    assert beside.arrival_us < -100.0  # the left one is nearer
    assert beside.level_db > 0.1
    assert same.arrival_us == pytest.approx(0.0, abs=1e-6)
    assert same.levels.pair == pytest.approx(walk.at(place, "now").levels.pair, abs=1e-9)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"room": Room.rectangular(5360.0, 7240.0)}, "the height of the ceiling is needed"),
        ({"seat": Seat(4400.0, 2680.0)}, "the height of the ears is needed"),
        ({"room_known": RoomKnown.WIDTH}, "was not measured whole"),
        ({"seat": Seat(4400.0, 2680.0, 2600.0)}, "the ears: outside the room or in a wall"),
    ],
)
def test_what_cannot_be_foreseen_is_said(changed: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        ForeseenWalk(msgspec.structs.replace(SETUP, **changed), FURNISHED)


def test_a_grid_too_fine_and_seats_too_many_are_refused(walk: ForeseenWalk) -> None:
    with pytest.raises(BadInput, match="too fine"):
        ForeseenWalk(SETUP, FURNISHED, grid_mm=1.0)
    place = walk.spreads[1].positions[5].placements
    with pytest.raises(BadInput, match="6 are too many"):
        list(walk.at_seats(place, (SETUP.seat,) * 6))
    with pytest.raises(BadInput, match="other seat 1: the ears: outside"):
        list(walk.at_seats(place, (Seat(9000.0, 2680.0, 1020.0),)))
    with pytest.raises(BadInput, match="other seat 1: seat: the height of the ears"):
        list(walk.at_seats(place, (Seat(4000.0, 2680.0),)))


def test_a_pair_outside_the_room_is_refused(walk: ForeseenWalk) -> None:
    outside = Pair(Placement(-200.0, 1900.0, 0.0), Placement(1450.0, 1900.0, 0.0))
    with pytest.raises(BadInput, match="the left cabinet: outside the room"):
        walk.at(outside, "now")
