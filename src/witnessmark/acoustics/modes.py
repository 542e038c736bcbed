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

Sizes = tuple[float, ...]
"""Width, length and, where it is known, height of a room, mm."""


class Mode(msgspec.Struct, frozen=True):
    """An eigenfrequency, Hz, and how many half waves lie along each size of the room."""

    orders: tuple[int, ...]
    frequency_hz: float

    @property
    def is_axial(self) -> bool:
        """Whether it runs to and fro along one size only."""
        return sum(order > 0 for order in self.orders) == 1


def room_modes(sizes_mm: Sizes, most_hz: float, speed_m_s: float) -> tuple[Mode, ...]:
    """All modes up to a frequency, the lowest first.

    Args:
        sizes_mm: one to three sizes of the room.
        most_hz: the highest frequency, up to 1000 Hz.
        speed_m_s: of sound.

    Raises:
        BadInput: when a size is not positive, or the frequency is too high to list its modes.
    """
    if not all(0 < size <= 100_000 for size in sizes_mm):
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


def mode_count(sizes_mm: tuple[float, float, float], most_hz: float, speed_m_s: float) -> float:
    """About how many modes a room has up to a frequency.

    (4 pi V/3) (f/c)^3 + (pi S/4) (f/c)^2 + (L/8) (f/c), with the volume, the area of all surfaces
    and the length of all edges (Sound Engineer's Pocket Book, chapter 8).
    """
    x, y, z = (size / 1000 for size in sizes_mm)
    volume, surface, edges = x * y * z, 2 * (x * y + y * z + z * x), 4 * (x + y + z)
    per_m = most_hz / speed_m_s
    return (
        4 * math.pi / 3 * volume * per_m**3 + math.pi / 4 * surface * per_m**2 + edges / 8 * per_m
    )


def axial_pressure(order: int, at_mm: float, size_mm: float) -> float:
    """Pressure of an axial mode at a place along its size, as a share of that at the walls.

    From -1 to 1; 0 in a null.
    """
    return math.cos(order * math.pi * at_mm / size_mm)


def nearest_null_mm(order: int, at_mm: float, size_mm: float) -> float:
    """How far it is from a place to the nearest null of an axial mode, mm; signed toward it."""
    nulls = ((2 * place + 1) * size_mm / (2 * order) for place in range(order))
    return min((null - at_mm for null in nulls), key=abs)


def nearest_peak_mm(order: int, at_mm: float, size_mm: float) -> float:
    """How far it is to the nearest place with the pressure of the walls, mm; signed toward it."""
    peaks = (place * size_mm / order for place in range(order + 1))
    return min((peak - at_mm for peak in peaks), key=abs)
