"""What is foreseen of positions: levels of each cabinet and the pair, dips and their causes."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest

from witnessmark.acoustics import foresight as foreseeing
from witnessmark.acoustics.box import MOST_WAVES, BoxRoom, wave_counts
from witnessmark.acoustics.foresight import (
    FREQUENCIES_HZ,
    AxialOrder,
    Foresight,
    Furnishing,
    absorptions,
    difference_db,
    minima,
    third_octaves,
)
from witnessmark.acoustics.modes import Axis, nearest_null_mm
from witnessmark.acoustics.scene import Scene
from witnessmark.errors import BadInput
from witnessmark.model import Pair, Placement, Room, Seat, Side, Wall

SCENE = Scene(
    Room.rectangular(5360.0, 7240.0, 2500.0),
    Seat(4400.0, 2680.0, 1020.0),
    Pair(900.0, 900.0),
    Pair[Placement | None](None, None),
)
STANDING = Pair(Placement(1450.0, 1900.0, 8.0), Placement(1450.0, 1900.0, 8.0))
FURNISHED = absorptions(Furnishing.FURNISHED)


def test_the_pair_on_the_mirror_line_is_as_each_of_it() -> None:
    """Twice the same pressure over twice the same in the open."""
    (levels,) = Foresight(SCENE, FURNISHED).levels([STANDING])
    assert levels.left == pytest.approx(levels.right, abs=1e-9)
    assert levels.pair == pytest.approx(levels.left, abs=1e-9)


def test_a_seat_beside_the_mirror_line_hears_each_otherwise() -> None:
    scene = msgspec.structs.replace(SCENE, seat=Seat(4400.0, 2300.0, 1020.0))
    (levels,) = Foresight(scene, FURNISHED).levels([STANDING])
    assert difference_db(levels.left, levels.right) > 1.0


def test_surfaces_that_absorb_all_leave_the_open() -> None:
    (levels,) = Foresight(SCENE, dict.fromkeys(FURNISHED, 1.0)).levels([STANDING])
    assert levels.left == pytest.approx(0.0, abs=0.3)


def test_the_one_wall_there_is_makes_the_dip() -> None:
    """A front wall alone: half a wave behind where the way by the wall is longer by half a wave."""
    alone = dict.fromkeys(FURNISHED, 1.0) | {"front": 0.05}
    foresight = Foresight(SCENE, alone)
    near = Placement(1450.0, 500.0, 0.0)
    (dip,) = foresight.dips(Side.LEFT, near)
    assert dip.cause == Wall.FRONT.value
    source = np.array(foresight.source(Side.LEFT, near))
    image = source * [1, -1, 1]
    ears = np.array(foresight.ears)
    longer_m = (np.linalg.norm(image - ears) - np.linalg.norm(source - ears)) / 1000
    notch_hz = SCENE.speed_m_s / (2 * longer_m)
    assert dip.frequency_hz == pytest.approx(notch_hz, rel=0.03)  # the nearest of the lines


def test_a_mode_that_is_named_has_a_null_at_the_ears_or_the_cabinet() -> None:
    foresight, sizes = Foresight(SCENE, FURNISHED), (5360.0, 7240.0, 2500.0)
    axes, named = (Axis.WIDTH, Axis.LENGTH, Axis.HEIGHT), 0
    for setback in np.arange(600.0, 4200.0, 300.0):
        placement = Placement(1450.0, setback, 0.0)
        source = foresight.source(Side.LEFT, placement)
        for dip in foresight.dips(Side.LEFT, placement):
            if not isinstance(dip.cause, AxialOrder):
                continue
            named += 1
            axis, count = axes.index(dip.cause.axis), dip.cause.half_waves
            own_hz = count * 1000 * SCENE.speed_m_s / (2 * sizes[axis])
            assert dip.frequency_hz == pytest.approx(own_hz, rel=0.06)
            off = [nearest_null_mm(count, at[axis], sizes[axis]) for at in (source, foresight.ears)]
            # a third of the greatest pressure is less than an eighth of half a wave from the null
            assert min(map(abs, off)) < sizes[axis] / count / 8
    assert named >= 3


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"room": Room.rectangular(5360.0, 7240.0)}, "height of the ceiling"),
        ({"seat": Seat(4400.0, 2680.0)}, "height of the ears"),
        ({"acoustic_heights_mm": Pair(900.0, None)}, "right cabinet: the height of its acoustic"),
        ({"seat": Seat(4400.0, 2680.0, 2600.0)}, "the ears: outside the room or in a wall"),
        ({"seat": Seat(4400.0, 0.0, 1020.0)}, "the ears: outside the room or in a wall"),
        (
            {"room": Room((0, 0), (5360, 0), (5360, 7240), (900, 7240), 2500.0)},
            "out of square, too far from a rectangle",
        ),
    ],
)
def test_what_is_missing_is_named(change: dict[str, object], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        Foresight(msgspec.structs.replace(SCENE, **change), FURNISHED)


def test_a_cabinet_outside_the_room_is_refused() -> None:
    outside = Pair(Placement(-200.0, 1900.0, 0.0), STANDING.right)
    with pytest.raises(BadInput, match="the left cabinet: outside the room"):
        Foresight(SCENE, FURNISHED).levels([outside])


@pytest.mark.parametrize(
    ("free", "words"),
    [({"door": 0.5}, "is no surface"), ({"floor": 1.5}, "absorption of floor: 1.5")],
)
def test_absorptions_are_of_surfaces_and_parts(free: dict[str, float], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        absorptions(Furnishing.HARD, free)


def test_minima_that_stand_apart() -> None:
    curve = np.array([0.0, -7.0, -6.5, -9.0, 0.0, -12.0, 0.0, -4.0, 0.0])
    assert minima(curve, -6.0) == [3, 5]


def test_third_octaves_average_energy_in_bands_of_the_standard() -> None:
    """IEC 61260-1: exact midbands 1000 * 10^(3x/30) Hz, 25.12 to 251.19 Hz here."""
    middles, bands = third_octaves(np.full(len(FREQUENCIES_HZ), -3.0))
    assert middles[[0, 6, 10]] == pytest.approx([25.119, 100.0, 251.189], abs=1e-3)
    assert bands == pytest.approx(-3.0)
    mixed = np.where(FREQUENCIES_HZ < 100.0, 0.0, -10.0)
    _, bands = third_octaves(mixed)
    assert bands[6] == pytest.approx(10 * np.log10((4 * 1 + 4 * 0.1) / 8), abs=0.5)


@pytest.mark.parametrize("sizes_mm", [(1e5, 1e5, 1e5), (1e5, 1e5, 500.0), (12e3, 3e4, 6e3)])
def test_a_room_too_large_is_told_before_its_waves_are_listed(
    sizes_mm: tuple[float, float, float],
) -> None:
    hall = msgspec.structs.replace(SCENE, room=Room.rectangular(*sizes_mm))
    with pytest.raises(BadInput, match="too large to foresee the bass"):
        Foresight(hall, FURNISHED)


@pytest.mark.parametrize("sizes_m", [(10, 20, 5), (10, 10, 10), (20, 20, 2.5), (8, 25, 5)])
def test_rooms_of_a_thousand_cubic_metres_are_not_too_large(
    sizes_m: tuple[float, float, float],
) -> None:
    width, length, height = (1000.0 * size for size in sizes_m)
    bare = ((0.1, 0.1), (0.1, 0.1), (0.1, 0.1))
    box = BoxRoom((width, length, height), bare, 343.4)
    assert math.prod(wave_counts(box, FREQUENCIES_HZ)) <= MOST_WAVES


@pytest.mark.parametrize("furnishing", [FURNISHED, dict.fromkeys(FURNISHED, 0.9)])
def test_positions_come_out_alike_however_many_are_calculated_at_a_time(
    monkeypatch: pytest.MonkeyPatch, furnishing: dict[str, float]
) -> None:
    positions = [
        Pair(Placement(1450.0, setback, 8.0), Placement(1400.0, setback, 8.0))
        for setback in (900.0, 1200.0, 1500.0)
    ]
    together = Foresight(SCENE, furnishing).levels(positions)
    monkeypatch.setattr(foreseeing, "_MOST_AT_ONCE", 1)
    apart = Foresight(SCENE, furnishing).levels(positions)
    for one, other in zip(together, apart, strict=True):
        assert np.array(one) == pytest.approx(np.array(other), abs=1e-9)
