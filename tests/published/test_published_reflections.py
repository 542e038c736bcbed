"""Walls near a source, and first reflections."""

import math

import pytest

from witnessmark.acoustics.boundary import power_dip, power_level_db
from witnessmark.acoustics.reflections import CEILING, FLOOR, first_reflections
from witnessmark.model import Room, Wall

SPEED = 343.2
ROOM = Room.rectangular(4200.0, 5600.0, 2500.0)
SOURCE, EARS = (1100.0, 900.0, 1000.0), (2100.0, 2900.0, 1100.0)
DIRECT_MM = 2238.303
PATHS_MM = {
    Wall.LEFT: 3774.917,
    Wall.RIGHT: 5572.25,
    Wall.FRONT: 3930.649,
    Wall.BACK: 7467.931,
    FLOOR: 3067.572,
    CEILING: 3661.967,
}
BOUNCES_MM = {
    Wall.LEFT: (0, 1587.5, 1034.375),
    Wall.RIGHT: (4200, 2092.308, 1059.615),
    Wall.FRONT: (1336.842, 0, 1023.684),
    Wall.BACK: (1735.135, 5600, 1063.514),
    FLOOR: (1576.19, 1852.381, 0),
    CEILING: (1617.241, 1934.483, 2500),
}


def by_wavelengths(walls: int, share: float) -> float:
    """Level, dB, of a source so many wavelengths from each of some walls."""
    return power_level_db([1000.0] * walls, share * SPEED, SPEED)


def test_one_wall_at_its_minimum_at_a_quarter_wave_and_close_to_it() -> None:
    # Waterhouse, JASA 27, 247 (1955); JASA 30, 4 (1958); formula from memory, values also by direct
    # integration over a sphere
    dip = power_dip([1000.0], 200.0, SPEED)
    assert dip.level_db == pytest.approx(-1.0637, abs=1e-4)
    assert dip.frequency_hz / SPEED == pytest.approx(0.35757, abs=1e-4)
    assert by_wavelengths(1, 0.25) == pytest.approx(0.0, abs=1e-9)
    assert by_wavelengths(1, 1e-5) == pytest.approx(3.0103, abs=1e-4)


@pytest.mark.parametrize(
    ("walls", "level_db", "share", "close_db"),
    [(2, -2.857, 0.3188, 6.0206), (3, -11.365, 0.2814, 9.0309)],
)
def test_two_and_three_walls_at_equal_distances(
    walls: int, level_db: float, share: float, close_db: float
) -> None:
    # Waterhouse 1958; Allison, JAES 22, 314 (1974): closed form and integration over a sphere
    dip = power_dip([1000.0] * walls, 200.0, SPEED)
    assert dip.level_db == pytest.approx(level_db, abs=1e-3)
    assert dip.frequency_hz / SPEED == pytest.approx(share, abs=1e-4)
    assert by_wavelengths(walls, 1e-5) == pytest.approx(close_db, abs=1e-3)


def test_three_walls_at_distances_of_their_own() -> None:
    # the same formula: 0.20, 0.31 and 0.40 wavelengths give W = 0.633307
    level = power_level_db([200.0, 310.0, 400.0], SPEED, SPEED)
    assert level == pytest.approx(10 * math.log10(0.633307), abs=1e-5)


def test_first_reflections_by_every_surface() -> None:
    # image sources (Allen & Berkley, JASA 65, 943, 1979) in a constructed room, 4.2 x 5.6 x 2.5 m:
    # the lengths are those of pyroomacoustics 0.10, as checked below
    found = first_reflections(ROOM, SOURCE, EARS)
    assert {name: one.path_mm for name, one in found.items()} == pytest.approx(PATHS_MM, abs=0.01)
    for name, bounce in BOUNCES_MM.items():
        assert found[name].bounce == pytest.approx(bounce, abs=0.01)
        assert found[name].path_mm - found[name].extra_mm == pytest.approx(DIRECT_MM, abs=0.01)


@pytest.mark.parametrize(
    ("surface", "delay_ms", "notch_hz"),
    [
        (Wall.LEFT, 4.47731, 111.674),
        (FLOOR, 2.41629, 206.929),
        (CEILING, 4.14820, 120.534),
        (Wall.FRONT, 4.93108, 101.398),
    ],
)
def test_delays_and_first_notches(surface: str, delay_ms: float, notch_hz: float) -> None:
    # the same; the front wall's notch is not that of a quarter wave, 95.33 Hz, because the
    # listener is off its axis
    found = first_reflections(ROOM, SOURCE, EARS)[surface]
    assert found.delay_ms(SPEED) == pytest.approx(delay_ms, abs=1e-3)
    assert found.first_notch_hz(SPEED) == pytest.approx(notch_hz, abs=1e-3)


def test_paths_are_those_of_an_independent_library() -> None:
    import pyroomacoustics  # noqa: PLC0415 - takes a second, and only this test needs it

    # pyroomacoustics, image sources of the first order; lengths only, its own speed is 343.0 m/s
    shoebox = pyroomacoustics.ShoeBox([4.2, 5.6, 2.5], max_order=1)
    shoebox.add_source([value / 1000 for value in SOURCE])
    shoebox.add_microphone([value / 1000 for value in EARS])
    shoebox.image_source_model()
    images = shoebox.sources[0].images.T
    lengths = sorted(1000 * math.dist(image, [v / 1000 for v in EARS]) for image in images)
    ours = sorted(
        [DIRECT_MM, *(one.path_mm for one in first_reflections(ROOM, SOURCE, EARS).values())]
    )
    assert ours == pytest.approx(lengths, abs=0.01)
