"""Pressure in a rectangular room: two methods against each other, an open library, and theory."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from effort import cases
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.acoustics.box import (
    BoxRoom,
    Floats,
    ModalSum,
    Pressures,
    image_pressures,
    pressures_without_each,
)
from witnessmark.acoustics.foresight import FREQUENCIES_HZ
from witnessmark.errors import BadInput

SPEED = 343.2
Absorptions = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def random_case(seed: int, least: float, most: float) -> tuple[BoxRoom, Floats, Floats]:
    """A room of usual size, a source and ears in it, surfaces that absorb between two figures."""
    rng = np.random.default_rng(seed)
    sizes = rng.uniform([3500, 4500, 2300], [6000, 8000, 3000])
    (a, b), (c, d), (e, f) = rng.uniform(least, most, (3, 2)).tolist()
    source = rng.uniform([500, 500, 400], sizes - [500, 500, 1000])
    ears = rng.uniform([500, 500, 800], sizes - [500, 500, 1000])
    x, y, z = sizes.tolist()
    return BoxRoom((x, y, z), ((a, b), (c, d), (e, f)), SPEED), source, ears


def decibels(pressures: Pressures, source: Floats, ears: Floats) -> Floats:
    level: Floats = 20 * np.log10(np.abs(pressures) * np.linalg.norm(source - ears) / 1000)
    return level


@pytest.mark.parametrize("seed", range(cases(3, 30)))
def test_image_sources_as_pyroomacoustics_places_and_weakens_them(seed: int) -> None:
    """Its ShoeBox (an open library of room acoustics), at equal reflection factors."""
    import pyroomacoustics  # noqa: PLC0415 - takes a second, and only this test needs it

    box, source, ears = random_case(seed, 0.5, 0.9)
    (west, east), (south, north), (floor, ceiling) = box.absorptions
    walls = {
        "west": west, "east": east, "south": south, "north": north, "floor": floor,
        "ceiling": ceiling,
    }  # fmt: skip
    room = pyroomacoustics.ShoeBox(
        box.sizes_m,
        materials={name: pyroomacoustics.Material(value) for name, value in walls.items()},
        max_order=14,
    )
    room.add_source(source / 1000)
    room.add_microphone(ears / 1000)
    room.image_source_model()
    (heard,) = room.sources
    away = np.linalg.norm(heard.images - ears[:, None] / 1000, axis=0)
    weights = np.broadcast_to(heard.damping, (heard.damping.shape[0], len(away)))[0]
    theirs = np.array(
        [np.sum(weights / away * np.exp(-1j * math.tau * f / SPEED * away)) for f in FREQUENCIES_HZ]
    )
    expected = decibels(theirs, source, ears)
    found = decibels(image_pressures(box, source, ears, FREQUENCIES_HZ)[0], source, ears)
    outside_dips = expected > -15
    assert found[outside_dips] == pytest.approx(expected[outside_dips], abs=0.5)


@pytest.mark.parametrize("seed", range(cases(1, 50)))
def test_the_two_methods_agree_where_walls_are_hard(seed: int) -> None:
    """Within 1 dB where the level is not in a dip."""
    box, source, ears = random_case(seed, 0.06, 0.12)
    some = FREQUENCIES_HZ[seed % 8 :: 8]
    images = image_pressures(box, source, ears, some)[0]
    modes = ModalSum(box, some).pressures(source, ears)[0]
    expected, found = decibels(images, source, ears), decibels(modes, source, ears)
    outside_dips = np.minimum(expected, found) > -6
    off = np.abs(expected - found)[outside_dips]
    assert off.max() <= 1.0


def opened(box: BoxRoom, axis: int, end: int) -> BoxRoom:
    """The same without one of its surfaces."""
    (a, b), (c, d), (e, f) = box.absorptions
    figures = [a, b, c, d, e, f]
    figures[2 * axis + end] = 1.0
    a, b, c, d, e, f = figures
    return BoxRoom(box.sizes_mm, ((a, b), (c, d), (e, f)), box.speed_m_s)


def test_each_surface_is_taken_away_as_if_it_absorbed_all() -> None:
    box, source, ears = random_case(3, 0.06, 0.3)
    some = FREQUENCIES_HZ[::9]
    found = pressures_without_each(box, source, ears, some, weakest=0.01)
    for axis, end in itertools.product(range(3), range(2)):
        (whole,) = image_pressures(opened(box, axis, end), source, ears, some, weakest=0.01)
        assert np.abs(found[axis, end] - whole).max() <= 0.01 * np.abs(whole).max()


def test_hard_walls_ring_at_the_eigenfrequencies() -> None:
    """Of Kuttruff's room (Room Acoustics, table 3.1, from memory)."""
    sizes = (4700.0, 4100.0, 3100.0)
    box = BoxRoom(sizes, ((0.0, 0.0),) * 3, 340.0)
    lines = np.arange(30.0, 60.0, 0.01)
    (level,) = np.abs(ModalSum(box, lines).pressures((50.0, 50.0, 50.0), (4650.0, 4050.0, 3050.0)))
    peaks = [
        float(lines[at])
        for at in range(1, len(lines) - 1)
        if level[at] == level[at - 1 : at + 2].max() and level[at] > 100
    ]
    assert peaks == pytest.approx([36.17, 41.46, 54.84, 55.02], abs=0.05)


def test_without_walls_it_is_the_open() -> None:
    box = BoxRoom((5360.0, 7240.0, 2500.0), ((1.0, 1.0),) * 3, SPEED)
    source, ears = np.array([1400.0, 1900.0, 900.0]), np.array([2680.0, 4400.0, 1020.0])
    levels = decibels(image_pressures(box, source, ears, FREQUENCIES_HZ)[0], source, ears)
    assert levels == pytest.approx(0.0, abs=0.3)  # a trace of 0.2 % is left to each wall


def test_two_hard_walls_double_what_is_between() -> None:
    """One wall, the source and the ears far along it: in step at low frequencies, +6 dB."""
    box = BoxRoom((5e4, 5e4, 5e4), ((0.0, 1.0), (1.0, 1.0), (1.0, 1.0)), SPEED)
    source, ears = np.array([50.0, 2e4, 2e4]), np.array([50.0, 3e4, 2e4])
    levels = decibels(image_pressures(box, source, ears, [20.0])[0], source, ears)
    assert levels == pytest.approx(6.02, abs=0.05)


@given(st.integers(0, 2**32 - 1))
def test_source_and_ears_may_be_exchanged(seed: int) -> None:
    box, source, ears = random_case(seed, 0.1, 0.6)
    some = FREQUENCIES_HZ[::16]
    there = image_pressures(box, source, ears, some, weakest=0.05)[0]
    back = image_pressures(box, ears, source, some, weakest=0.05)[0]
    assert back == pytest.approx(there, rel=1e-9)
    if box.has_modes:
        modal = ModalSum(box, some)
        there, back = modal.pressures(source, ears), modal.pressures(ears, source)
        assert back == pytest.approx(there, rel=1e-9)


@pytest.mark.parametrize("wrong", [-0.1, 1.1, math.nan])
def test_an_absorption_is_a_part(wrong: float) -> None:
    for place in itertools.product(range(3), range(2)):
        pairs = [[0.1, 0.1] for _ in range(3)]
        pairs[place[0]][place[1]] = wrong
        with pytest.raises(BadInput, match="must lie between 0"):
            BoxRoom((5000.0, 6000.0, 2500.0), tuple(map(tuple, pairs)), SPEED)
