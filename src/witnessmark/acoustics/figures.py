"""All figures of what the room does to a pair; they say what is computed, not what is good.

Walls count as rigid, bare and even, and a cabinet as a point at its acoustic height above the
middle of its baffle that sounds alike in all directions.
"""

from __future__ import annotations

import msgspec

from witnessmark.acoustics.boundary import power_dip
from witnessmark.acoustics.modes import AxialModes, Axis, axial_modes
from witnessmark.acoustics.reflections import FLOOR
from witnessmark.acoustics.scene import Bounce, Scene, bounces
from witnessmark.geometry.frame import side_frame
from witnessmark.locate.arrival import arrival_us, level_db, path_mm
from witnessmark.locate.symmetry import Symmetry
from witnessmark.model import Placement, Side, Wall

_MOST_DIP_HZ = 300.0
"""Highest frequency of a dip, Hz; above it a cabinet does not radiate alike to all sides."""

LEAST_ARRIVAL_US = 10.0
"""The least difference of arrival that is noticed under the best conditions (tutorial of the CIPIC
Interface Lab, UC Davis)."""
LEAST_LEVEL_DB = 0.5
"""The least difference of level that is noticed, 0.5 to 1 dB (Breebaart & Faller, Spatial Audio
Processing (2007), 3.5.1)."""


class AtSeat(msgspec.Struct, frozen=True):
    """How the direct sound of the two meets at the seat, left minus right.

    Arrival is positive when the left is later, level when it is louder. The expanded uncertainties
    (k = 2) are None where not both placements were measured together.
    """

    path_mm: float
    arrival_us: float
    level_db: float
    expanded_arrival_us: float | None = None
    expanded_level_db: float | None = None


class Boundary(msgspec.Struct, frozen=True):
    """Where the surfaces beside a cabinet take most power away, and how much of that in the open.

    The formula is that of surfaces square to each other.
    """

    surfaces: tuple[str, ...]
    frequency_hz: float
    level_db: float


class CabinetSound(msgspec.Struct, frozen=True):
    """One cabinet: its path to the ears, its first reflections by surface, its boundaries."""

    is_measured: bool
    path_mm: float
    bounces: dict[str, Bounce]
    boundary: Boundary | None


class RoomSound(msgspec.Struct, frozen=True):
    """What the room does to the cabinets that have a placement; ``at_seat`` needs both."""

    speed_m_s: float
    out_of_square_mm: float
    at_seat: AtSeat | None
    cabinets: dict[Side, CabinetSound]
    modes: dict[Axis, AxialModes]


def room_sound(scene: Scene, symmetry: Symmetry | None = None) -> RoomSound:
    """Return the figures of arrival, reflections, boundaries and modes.

    Args:
        scene: room, seat, and where the cabinets stand.
        symmetry: of the same two placements, where they were measured together: it tells how well
            the arrival and the level are known.

    Raises:
        BadInput: when a cabinet stands where the seat is, or a size or the temperature is out of
            range.
    """
    return RoomSound(
        speed_m_s=scene.speed_m_s,
        out_of_square_mm=scene.room.out_of_square_mm,
        at_seat=_at_seat(scene, symmetry),
        cabinets={side: _cabinet(scene, side, place) for side, place in scene.standing.items()},
        modes=axial_modes(scene),
    )


def _at_seat(scene: Scene, symmetry: Symmetry | None) -> AtSeat | None:
    if len(scene.standing) < len(Side):
        return None
    left, right = (_path_mm(scene, side, place) for side, place in scene.standing.items())
    return AtSeat(
        left - right,
        arrival_us(left - right, scene.temperature_c),
        level_db(left, right),
        symmetry.expanded.arrival_us if symmetry else None,
        symmetry.expanded.level_db if symmetry else None,
    )


def _path_mm(scene: Scene, side: Side, placement: Placement) -> float:
    x, y, _ = scene.source(side, placement)
    return path_mm((x, y), scene.acoustic_heights_mm[side], scene.seat)


def _cabinet(scene: Scene, side: Side, placement: Placement) -> CabinetSound:
    return CabinetSound(
        side in scene.measured,
        _path_mm(scene, side, placement),
        bounces(scene, side, placement),
        _boundary(scene, side, placement),
    )


def _boundary(scene: Scene, side: Side, placement: Placement) -> Boundary | None:
    """By the front wall, the cabinet's own side wall and the floor, as far as these are known."""
    frame = side_frame(scene.room, side)
    point = frame.reference(placement)
    distances = {
        wall.value: frame.walls[wall].distance_mm(point)
        for wall in (Wall.FRONT, frame.own_wall)
        if scene.is_wall(wall)
    }
    height = scene.acoustic_heights_mm[side]
    if height is not None:
        distances[FLOOR] = height
    if not distances or min(distances.values()) < 0 or not scene.has_modes:
        return None
    dip = power_dip(list(distances.values()), _MOST_DIP_HZ, scene.speed_m_s)
    return Boundary(tuple(distances), dip.frequency_hz, dip.level_db) if dip.level_db < 0 else None
