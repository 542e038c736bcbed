"""Eigenfrequencies of rectangular rooms."""

import pytest

from witnessmark.acoustics.modes import room_modes

FOOT_MM = 304.8
FEET_PER_S = 1130 * FOOT_MM / 1000
"""1130 ft/s in m/s."""


def axial(sizes_mm: tuple[float, ...], axis: int, count: int, speed_m_s: float) -> list[float]:
    modes = room_modes(sizes_mm, 300, speed_m_s)
    along = [mode.frequency_hz for mode in modes if mode.orders[axis] == sum(mode.orders)]
    return along[:count]


def test_axial_modes_of_a_room_of_16_by_12_by_8_feet() -> None:
    # Handbook for Sound Engineers (Ballou, ed.), chapter 6, table 6-4, p. 130; 1130 ft/s
    sizes = (16 * FOOT_MM, 12 * FOOT_MM, 8 * FOOT_MM)
    assert axial(sizes, 0, 3, FEET_PER_S) == pytest.approx([35.31, 70.63, 105.94], abs=0.01)
    assert axial(sizes, 1, 3, FEET_PER_S) == pytest.approx([47.08, 94.17, 141.25], abs=0.01)
    assert axial(sizes, 2, 3, FEET_PER_S) == pytest.approx([70.63, 141.25, 211.88], abs=0.01)


def test_axial_modes_of_a_room_of_23_by_17_by_9_feet_that_lie_close() -> None:
    # the same, table 6-6: (4,0,0) and (0,3,0) are remarked on as close; values computed
    sizes = (23 * FOOT_MM, 17 * FOOT_MM, 9 * FOOT_MM)
    by_order = {mode.orders: mode.frequency_hz for mode in room_modes(sizes, 110, FEET_PER_S)}
    found = [
        by_order[orders]
        for orders in (
            (1, 0, 0),
            (0, 1, 0),
            (2, 0, 0),
            (0, 0, 1),
            (0, 2, 0),
            (3, 0, 0),
            (4, 0, 0),
            (0, 3, 0),
        )
    ]
    expected = [24.57, 33.24, 49.13, 62.78, 66.47, 73.70, 98.26, 99.71]
    assert found == pytest.approx(expected, abs=0.01)


def test_the_twenty_lowest_modes_of_a_room() -> None:
    # Kuttruff, Room Acoustics, table 3.1 (from memory): 4.7 x 4.1 x 3.1 m, c = 340 m/s; the
    # figures after the point computed outside of the program
    expected = [
        *(36.17, 41.46, 54.84, 55.02, 65.69, 68.75, 72.34, 77.68, 82.93, 83.38),
        *(90.47, 90.78, 99.42, 99.80, 105.79, 108.51, 109.68, 110.05, 115.49, 116.16),
    ]
    modes = room_modes((4700, 4100, 3100), 116.5, 340.0)
    assert [mode.frequency_hz for mode in modes] == pytest.approx(expected, abs=0.005)
    assert modes[7].orders == (1, 1, 1)
