"""The modes of a rectangular room, and where their pressure is great and little.

The eigenfrequencies of a room with rigid walls are c/2 sqrt((nx/Lx)^2 + (ny/Ly)^2 + (nz/Lz)^2), and
the pressure of an axial mode of order n follows cos(n pi x / L) along its way (Kuttruff, Room
Acoustics, chapter 3, from memory).
"""

from __future__ import annotations

import itertools
import math

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import DISTANCE

Sizes = tuple[float, ...]
"""Width, length and, where it is known, height of a room, mm."""


class Mode(msgspec.Struct, frozen=True):
    """An eigenfrequency, Hz, and how many half waves lie along each size of the room."""

    orders: tuple[int, ...]
    frequency_hz: float


def room_modes(sizes_mm: Sizes, most_hz: float, speed_m_s: float) -> tuple[Mode, ...]:
    """All modes up to a frequency, the lowest first.

    Args:
        sizes_mm: one to three sizes of the room.
        most_hz: the highest frequency, up to 1000 Hz.
        speed_m_s: of sound.

    Raises:
        BadInput: when a size is not positive, or the frequency is too high to list its modes.
    """
    if not all(DISTANCE.admits(size) for size in sizes_mm):
        raise BadInput("room: every size must lie above 0, to 100 m, for its modes to be told")
    if not 0 < most_hz <= 1000:
        raise BadInput(f"modes: {most_hz:g} Hz must lie above 0, to 1000 Hz")
    lowest = [1000 * speed_m_s / (2 * size) for size in sizes_mm]
    counts = [range(math.floor(most_hz / one) + 1) for one in lowest]
    modes = (
        Mode(orders, math.hypot(*(n * one for n, one in zip(orders, lowest, strict=True))))
        for orders in itertools.product(*counts)
    )
    found = (mode for mode in modes if 0 < mode.frequency_hz <= most_hz)
    return tuple(sorted(found, key=lambda mode: (mode.frequency_hz, mode.orders)))


def nearest_null_mm(order: int, at_mm: float, size_mm: float) -> float:
    """How far it is from a place to the nearest null of an axial mode, mm; signed toward it."""
    nulls = ((2 * place + 1) * size_mm / (2 * order) for place in range(order))
    return min((null - at_mm for null in nulls), key=abs)


def nearest_peak_mm(order: int, at_mm: float, size_mm: float) -> float:
    """How far it is to the nearest place with the pressure of the walls, mm; signed toward it."""
    peaks = (place * size_mm / order for place in range(order + 1))
    return min((peak - at_mm for peak in peaks), key=abs)
