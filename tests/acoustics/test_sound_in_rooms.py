"""Modes, boundaries and reflections: what must hold in any room."""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.acoustics.boundary import power_level_db
from witnessmark.acoustics.modes import nearest_null_mm, room_modes
from witnessmark.acoustics.reflections import SpacePoint, first_reflections
from witnessmark.errors import BadInput
from witnessmark.model import Room, Wall

SPEED = 343.2
SKEW = Room((0, 0), (4700, 0), (4850, 6400), (-120, 6250), height_mm=2480.0)

points = st.tuples(st.floats(300, 4300), st.floats(300, 5900), st.floats(100, 2300))


@given(points, points)
def test_a_reflected_path_is_as_long_as_its_two_legs_and_bounces_on_its_surface(
    source: SpacePoint, ears: SpacePoint
) -> None:
    for reflection in first_reflections(SKEW, source, ears).values():
        legs = math.dist(source, reflection.bounce) + math.dist(reflection.bounce, ears)
        assert reflection.path_mm == pytest.approx(legs, abs=1e-6)
        assert reflection.extra_mm >= -1e-9
        if reflection.surface in tuple(Wall):
            start, end = SKEW.wall(Wall(reflection.surface))
            x, y, _ = reflection.bounce
            across = (end[0] - start[0]) * (y - start[1]) - (end[1] - start[1]) * (x - start[0])
            assert across / math.dist(start, end) == pytest.approx(0, abs=1e-6)


@given(points, points)
def test_a_path_is_the_same_either_way(source: SpacePoint, ears: SpacePoint) -> None:
    there, back = first_reflections(SKEW, source, ears), first_reflections(SKEW, ears, source)
    assert set(there) == set(back)
    for name, reflection in there.items():
        assert reflection.path_mm == pytest.approx(back[name].path_mm, abs=1e-6)


def test_a_datum_line_reflects_nothing_and_neither_does_a_ceiling_of_no_height() -> None:
    source, ears = (1100.0, 900.0, 1000.0), (2100.0, 2900.0, 1100.0)
    bare = msgspec.structs.replace(SKEW, datum=(Wall.LEFT,), height_mm=None)
    found = first_reflections(bare, source, ears)
    assert set(found) == {"front", "right", "back", "floor"}


@given(st.integers(1, 6), st.floats(0, 1), st.floats(2000, 8000))
def test_the_nearest_null_is_where_the_pressure_is_nothing(
    order: int, share: float, size_mm: float
) -> None:
    at = share * size_mm
    gap = nearest_null_mm(order, at, size_mm)
    assert abs(gap) <= size_mm / (2 * order) + 1e-9
    # the pressure of an axial mode (Kuttruff, Room Acoustics, chapter 3, from memory)
    assert math.cos(order * math.pi * (at + gap) / size_mm) == pytest.approx(0, abs=1e-9)


def test_two_sizes_alone_have_the_modes_of_a_room_that_lie_flat() -> None:
    flat = room_modes((5600, 4200), 100, SPEED)
    whole = room_modes((5600, 4200, 2500), 100, SPEED)
    assert [mode.frequency_hz for mode in flat] == [
        mode.frequency_hz for mode in whole if mode.orders[2] == 0
    ]


@given(st.lists(st.floats(10, 5000), min_size=1, max_size=3), st.floats(20, 500))
def test_walls_add_at_most_three_decibels_each(distances: list[float], frequency: float) -> None:
    level = power_level_db(distances, frequency, SPEED)
    assert level <= 10 * math.log10(2) * len(distances) + 1e-9
    assert level == pytest.approx(power_level_db(distances[::-1], frequency, SPEED), abs=1e-9)


def test_figures_without_sense_are_refused_in_one_sentence() -> None:
    for refused, words in (
        (lambda: room_modes((0.0, 4000.0), 100, SPEED), "room: every size"),
        (lambda: room_modes((5000.0,), 5000, SPEED), "modes: 5000 Hz"),
        (lambda: power_level_db([], 50, SPEED), "one, two or three walls"),
        (lambda: power_level_db([-1.0], 50, SPEED), "one, two or three walls"),
    ):
        with pytest.raises(BadInput, match=words):
            refused()
