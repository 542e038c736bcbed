"""The nearest position where both cabinets can stand, checked with the polygons of shapely."""

from __future__ import annotations

import itertools
import math

import pytest
from effort import examples
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from witnessmark.layout.free import free_words, nearest_free
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.plan import lay_out
from witnessmark.layout.remarks import LayoutCase, conflicts
from witnessmark.layout.start import Free
from witnessmark.lengths import Units
from witnessmark.model import (
    Cabinet,
    KeepClear,
    Mirror,
    Pair,
    Placement,
    Room,
    Seat,
    Side,
    Wall,
    WallOffset,
)

WIDE, LONG, HALF, DEEP = 5360.0, 7240.0, 131.0, 391.0
CABINET = Cabinet(2 * HALF, DEEP, 940)
SEAT = Seat(4827, WIDE / 2)


def scene_in(room: Room, side: float, setback: float, toe_in: float = 0.0) -> LayoutCase:
    cabinets, start = Pair(CABINET, CABINET), Free(side, setback, toe_in)
    layout = lay_out(room, cabinets, SEAT, start)
    return LayoutCase(
        MirrorLine(room, SEAT, Mirror.SEAT),
        cabinets,
        layout.lanes,
        layout.stations,
        start,
        Stance(layout.base_mm, setback, toe_in),
        layout.placements,
        Units.MM,
    )


def room_with(*zones: KeepClear, proud_mm: float = 0.0) -> Room:
    offsets = (WallOffset(Wall.FRONT, proud_mm, 0, 120),) if proud_mm else ()
    plain = Room.rectangular(WIDE, LONG)
    return Room(*plain.corners, offsets=offsets, keep_clear=zones)


def standing(side: Side, placement: Placement) -> Polygon:
    """What a cabinet covers in the plan, by its own arithmetic."""
    turn, way = math.radians(placement.toe_in_deg), 1 if side is Side.LEFT else -1
    x0 = placement.side_mm if way == 1 else WIDE - placement.side_mm
    return Polygon(
        (
            x0 + way * (i * math.cos(turn) - b * math.sin(turn)),
            placement.setback_mm - i * math.sin(turn) - b * math.cos(turn),
        )
        for i, b in ((-HALF, 0), (HALF, 0), (HALF, DEEP), (-HALF, DEEP))
    )


def is_free(zones: tuple[KeepClear, ...], proud_mm: float, both: Pair[Placement]) -> bool:
    left, right = (standing(side, both[side]) for side in Side)
    inside = Polygon([(0, proud_mm), (WIDE, proud_mm), (WIDE, LONG), (0, LONG)]).buffer(0.1)
    return (
        all(inside.contains(cabinet) for cabinet in (left, right))
        and left.intersection(right).area < 2
        and all(
            Polygon(zone.corners).intersection(cabinet).area < 2
            for zone in zones
            for cabinet in (left, right)
        )
        and both.left.setback_mm <= SEAT.from_front_mm
    )


HEARTH = KeepClear.rectangle("hearth", (1100, 2200), (900, 1900))
DOOR = KeepClear("door", ((WIDE, 1500), (WIDE, 2400), (WIDE - 900, 2400)))


@examples(10, 25)
@given(
    side=st.floats(200, 2500),
    setback=st.floats(300, 3000),
    toe_in=st.floats(-10, 30),
    proud_mm=st.sampled_from([0.0, 60.0]),
    zones=st.sampled_from([(), (HEARTH,), (DOOR,), (HEARTH, DOOR)]),
)
def test_it_is_free_for_both_and_none_is_much_nearer(
    side: float, setback: float, toe_in: float, proud_mm: float, zones: tuple[KeepClear, ...]
) -> None:
    found = nearest_free(scene_in(room_with(*zones, proud_mm=proud_mm), side, setback, toe_in))
    here = Pair(Placement(side, setback, toe_in), Placement(side, setback, toe_in))
    if found is None:
        assert is_free(zones, proud_mm, here)
        return
    assert is_free(zones, proud_mm, found)
    assert found.left == found.right  # mirror images: the seat is in the middle
    assert found.left.toe_in_deg == toe_in
    moved = math.hypot(found.left.side_mm - side, found.left.setback_mm - setback)
    # nothing free well within that distance, by trying a fine grid
    steps = [step * 40.0 for step in range(-40, 41)]
    for across, along in itertools.product(steps, steps):
        if math.hypot(across, along) < 0.9 * moved - 105:
            there = Placement(side + across, setback + along, toe_in)
            assert not is_free(zones, proud_mm, Pair(there, there))


def test_what_bars_one_cabinet_bars_its_mirror_image() -> None:
    found = nearest_free(scene_in(room_with(DOOR), 600, 2000))
    assert found is not None
    assert found.left == found.right
    # the left one alone is free where it stands; the right one must go beyond the door's swing
    assert is_free((), 0, Pair(Placement(600, 2000, 0), Placement(600, 2000, 0)))


def test_where_the_pair_is_free_nothing_is_proposed() -> None:
    scene = scene_in(room_with(HEARTH), 1450, 2400)
    assert conflicts(scene) == ()
    assert nearest_free(scene) is None
    assert list(free_words(None, Units.MM)) == []


def test_a_hearth_is_left_by_the_shortest_way() -> None:
    found = nearest_free(scene_in(room_with(HEARTH), 1450, 2200))
    # straight ahead: its rear, 391 behind the baffle, to the hearth's edge at 1900
    assert found == Pair(Placement(1450, 2291, 0), Placement(1450, 2291, 0))
    (words,) = free_words(found, Units.MM)
    assert words == (
        "Nearest free position: 1450 mm from each side wall, 2291 mm from the front wall, turned "
        "as now."
    )


def test_a_room_without_any_room_has_no_proposal() -> None:
    all_of_it = KeepClear.rectangle("pool", (0, WIDE), (0, LONG))
    assert nearest_free(scene_in(room_with(all_of_it), 1450, 2200)) is None


@pytest.mark.parametrize("units", [Units.INCH_16])
def test_sides_that_differ_are_told_apart(units: Units) -> None:
    pair = Pair(Placement(1524, 1828.8, 5), Placement(1219.2, 1828.8, 5))
    (words,) = free_words(pair, units)
    assert "5' 0\" from the left wall, 4' 0\" from the right wall, 6' 0\" from" in words
