"""The modes of a rectangular room, and where their pressure is great and little.

The eigenfrequencies of a room with rigid walls are c/2 sqrt((nx/Lx)^2 + (ny/Ly)^2 + (nz/Lz)^2), and
the pressure of an axial mode of order n follows cos(n pi x / L) along its way (Kuttruff, Room
Acoustics, chapter 3, from memory).
"""

from __future__ import annotations

import enum
import itertools
import math
from collections.abc import Iterator

import msgspec

from witnessmark.acoustics.scene import Scene
from witnessmark.errors import BadInput
from witnessmark.geometry.frame import reference_in_plan
from witnessmark.model import PlanPoint, Wall
from witnessmark.model.limits import DISTANCE

NEAR_WAVES = 24
"""Part of a wavelength, as 1 / n, that counts as near; no source, it only limits the list."""
_MOST_ORDERS, MOST_HZ = 4, 200.0


class Axis(enum.StrEnum):
    """The ways along which axial modes run."""

    LENGTH = "length"
    WIDTH = "width"
    HEIGHT = "height"


class Extremum(enum.StrEnum):
    """Where the pressure of a mode is least, and where it is greatest."""

    NULL = "null"
    PEAK = "peak"


class Near(msgspec.Struct, frozen=True):
    """What is near a null or a peak: ``seat``, ``left cabinet`` or ``right cabinet``."""

    who: str
    what: Extremum
    distance_mm: float
    """Positive where the null or peak is farther from the front wall, left wall or floor."""


class AxialMode(msgspec.Struct, frozen=True):
    """One axial mode and all that are near its nulls and peaks."""

    half_waves: int
    frequency_hz: float
    near: tuple[Near, ...]


class AxialModes(msgspec.Struct, frozen=True):
    """The lowest axial modes along one size of the room."""

    size_mm: float
    modes: tuple[AxialMode, ...]


def axial_modes(scene: Scene) -> dict[Axis, AxialModes]:
    """Return the lowest axial modes by axis, of the rectangle that is nearest to the room.

    An axis with no wall at one end is left out, the height where it is not known, and all of them
    where the room is too far from a rectangle.
    """
    return dict(_modes(scene)) if scene.has_modes else {}


def _modes(scene: Scene) -> Iterator[tuple[Axis, AxialModes]]:
    inside = {who: scene.in_rectangle(at) for who, at in _in_plan(scene)}
    width, length = scene.rectangle_mm
    for axis, size, first, place in (
        (Axis.LENGTH, length, Wall.FRONT, 1),
        (Axis.WIDTH, width, Wall.LEFT, 0),
    ):
        if scene.is_wall(first, first.opposite):
            yield axis, _along(scene, size, {who: at[place] for who, at in inside.items()})
    if scene.room.height_mm is not None:
        yield Axis.HEIGHT, _along(scene, scene.room.height_mm, dict(_heights(scene)))


def _along(scene: Scene, size_mm: float, places: dict[str, float]) -> AxialModes:
    found = room_modes((size_mm,), MOST_HZ, scene.speed_m_s)[:_MOST_ORDERS]
    modes = (
        AxialMode(
            mode.orders[0],
            mode.frequency_hz,
            tuple(_near(mode.orders[0], places, size_mm)),
        )
        for mode in found
    )
    return AxialModes(size_mm, tuple(modes))


def _near(half_waves: int, places: dict[str, float], size_mm: float) -> Iterator[Near]:
    within = 2 * size_mm / half_waves / NEAR_WAVES
    for who, at in places.items():
        for what, nearest in (
            (Extremum.NULL, nearest_null_mm),
            (Extremum.PEAK, nearest_peak_mm),
        ):
            distance = nearest(half_waves, at, size_mm)
            if abs(distance) <= within:
                yield Near(who, what, distance)


def _in_plan(scene: Scene) -> Iterator[tuple[str, PlanPoint]]:
    yield "seat", scene.seat.plan
    for side, placement in scene.standing.items():
        yield f"{side} cabinet", reference_in_plan(scene.room, side, placement)


def _heights(scene: Scene) -> Iterator[tuple[str, float]]:
    if scene.seat.ear_height_mm is not None:
        yield "seat", scene.seat.ear_height_mm
    for side in scene.standing:
        height = scene.acoustic_heights_mm[side]
        if height is not None:
            yield f"{side} cabinet", height


Sizes = tuple[float, ...]
"""Width, length and, where it is known, height of a room, mm."""


class Mode(msgspec.Struct, frozen=True):
    """An eigenfrequency, Hz, and how many half waves lie along each size of the room."""

    orders: tuple[int, ...]
    frequency_hz: float


def room_modes(sizes_mm: Sizes, most_hz: float, speed_m_s: float) -> tuple[Mode, ...]:
    """Return all modes up to a frequency, the lowest first.

    Args:
        sizes_mm: one to three sizes of the room.
        most_hz: the highest frequency, up to 1000 Hz.
        speed_m_s: of sound.

    Raises:
        BadInput: when a size is not positive, or the frequency is too high to list its modes.
    """
    if not all(DISTANCE.admits(size) for size in sizes_mm):
        raise BadInput("room: every size must lie above 0, to 100 m, to calculate its modes")
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
    """Return the way from a place to the nearest null of an axial mode, mm, signed toward it."""
    nulls = ((2 * place + 1) * size_mm / (2 * order) for place in range(order))
    return min((null - at_mm for null in nulls), key=abs)


def nearest_peak_mm(order: int, at_mm: float, size_mm: float) -> float:
    """Return the way to the nearest pressure maximum of an axial mode, mm, signed toward it."""
    peaks = (place * size_mm / order for place in range(order + 1))
    return min((peak - at_mm for peak in peaks), key=abs)
