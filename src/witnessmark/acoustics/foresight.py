"""What a bare room does to each position of a walk at low frequencies, before it is tried.

For each position the level at the ears of each cabinet and of the pair, relative to the same
cabinets in the open, from 20 to 300 Hz. It is arithmetic for a rectangle whose surfaces absorb
alike at all angles and frequencies, and for points that sound alike in all directions. It says
what differs, never what is good.
"""

from __future__ import annotations

import copy
import enum
import math
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple, Self

import msgspec
import numpy as np

from witnessmark.acoustics.box import (
    MOST_WAVES,
    BoxRoom,
    Floats,
    ModalSum,
    Pressures,
    image_pressures,
    pressures_without_each,
    wave_counts,
)
from witnessmark.acoustics.modes import Axis
from witnessmark.acoustics.reflections import CEILING, FLOOR, SpacePoint
from witnessmark.acoustics.scene import Scene
from witnessmark.errors import BadInput
from witnessmark.model import Pair, Placement, Seat, Setup, Side, Wall

LOWEST_HZ, HIGHEST_HZ = 20.0, 300.0
LINES_AN_OCTAVE: Final = 24
FREQUENCIES_HZ: Final[Floats] = LOWEST_HZ * 2.0 ** (
    np.arange(math.floor(LINES_AN_OCTAVE * math.log2(HIGHEST_HZ / LOWEST_HZ)) + 1) / LINES_AN_OCTAVE
)
"""The 94 lines, Hz."""
HEARD_DB: Final = 3.0
"""Mean difference of two curves, dB, below which it is called slight; common practice, no
source."""
DEEP_DB: Final = -6.0
"""Level, dB, at or below which a minimum is called a dip; common practice, no source."""
_RISE_DB: Final = 3.0
"""How far a minimum lies below the greatest levels on both sides of it to be a dip of its own."""
_SURFACES: Final = (*(wall.value for wall in Wall), FLOOR, CEILING)
_AXES: Final = ((Wall.LEFT.value, Wall.RIGHT.value), (Wall.FRONT.value, Wall.BACK.value))
_NAMES: Final = (*_AXES, (FLOOR, CEILING))
_MOST_AT_ONCE: Final = 2_000_000
"""Waves of all positions together that are held at a time, some 32 MB."""
_ROUGHLY: Final = 0.01
"""Weakest image, as a part of the source, that counts where only a cause is looked for."""
_AXIS_NAMES: Final = (Axis.WIDTH, Axis.LENGTH, Axis.HEIGHT)
_NO_EARS: Final = "seat: the height of the ears is needed to foresee the bass"
DIPS_FROM_HZ, DIPS_TO_HZ = 40.0, 200.0
_MOST_HALF_WAVES: Final = 4
"""Orders of axial modes that are named."""
_NEAR_MODE, _NEAR_NULL = 0.06, 0.3
"""Part of its frequency within which a mode is near a dip; the part of its greatest pressure below
which a place is near its null. No source, they only name causes."""


class Furnishing(enum.StrEnum):
    """Three plain choices of how much sound all surfaces absorb."""

    HARD = "hard"
    FURNISHED = "furnished"
    SOFT = "soft"

    @property
    def absorption(self) -> float:
        """Part of the energy that each surface absorbs at low frequencies.

        Common practice, no source: bare masonry; plasterboard, rug and shelves; a treated room.
        """
        return {"hard": 0.05, "furnished": 0.12, "soft": 0.3}[self.value]


def absorptions(
    furnishing: Furnishing, free: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Return the sound absorption of each surface: that of a furnishing, but for free figures.

    Args:
        furnishing: for all surfaces that ``free`` does not name.
        free: by front, right, back, left, floor or ceiling, 0 (rigid) to 1 (open).

    Raises:
        BadInput: for a surface that does not exist, or a figure outside 0 to 1.
    """
    found = dict.fromkeys(_SURFACES, furnishing.absorption)
    for name, value in (free or {}).items():
        if name not in found:
            raise BadInput(f"absorption: {name!r} is no surface; write one of {', '.join(found)}")
        if not 0 <= value <= 1:
            raise BadInput(f"absorption of {name}: {value:g} must lie between 0 and 1")
        found[name] = value
    return found


class Levels(NamedTuple):
    """Levels at the ears relative to the open, dB, at each of ``FREQUENCIES_HZ``."""

    left: Floats
    right: Floats
    pair: Floats
    """Relative to both cabinets in the open, arriving in step."""


class AxialOrder(msgspec.Struct, frozen=True):
    """An axial mode by its way and the number of half waves along it."""

    axis: Axis
    half_waves: int


class LevelDip(msgspec.Struct, frozen=True):
    """A minimum of one cabinet's level, and what makes most of it.

    ``cause`` is the surface of a first reflection, or an axial mode; None where none stands out.
    """

    frequency_hz: float
    level_db: float
    cause: str | AxialOrder | None = None


class Foresight:
    """One room with its ears, made once; any number of positions are then cheap."""

    def __init__(self, scene: Scene, absorbed: Mapping[str, float]) -> None:
        """Prepare the waves of a room.

        Args:
            scene: the room, the seat and the heights; where its cabinets stand does not matter.
            absorbed: the sound absorption of each surface, as ``absorptions`` returns it.

        Raises:
            BadInput: when the ceiling, the ears' height or that of a cabinet's sound is not known,
                the room is too far from a rectangle or too large, or the ears are in a wall.
        """
        self.scene = scene
        height = scene.room.height_mm
        if height is None:
            raise BadInput("room: the height of the ceiling is needed to foresee the bass")
        if scene.seat.ear_height_mm is None:
            raise BadInput(_NO_EARS)
        for side in Side:
            if scene.acoustic_heights_mm[side] is None:
                raise BadInput(
                    f"{side} cabinet: the height of its acoustic centre is needed to foresee the "
                    "bass"
                )
        if not scene.has_modes:
            raise BadInput(
                "room: it is out of square, too far from a rectangle to foresee the bass"
            )
        lost = {**absorbed, **{wall.value: 1.0 for wall in scene.room.datum}}
        (left, right), (front, back) = _AXES
        self.box = BoxRoom(
            (*scene.rectangle_mm, height),
            ((lost[left], lost[right]), (lost[front], lost[back]), (lost[FLOOR], lost[CEILING])),
            scene.speed_m_s,
        )
        waves = math.prod(wave_counts(self.box, FREQUENCIES_HZ))
        if waves > MOST_WAVES:
            raise BadInput(
                "room: it is too large to foresee the bass, which is calculated for rooms of up to "
                "about 1000 m³"
            )
        self._sources_at_once = max(1, _MOST_AT_ONCE // waves)
        self.ears = self._inside("the ears", scene.ears(Side.LEFT))
        self._modal = ModalSum(self.box, FREQUENCIES_HZ) if self.box.has_modes else None

    @classmethod
    def of(cls, setup: Setup, absorbed: Mapping[str, float]) -> Self:
        """Return the foresight of a setup at its seat."""
        return cls(Scene.of(setup, Pair[Placement | None](None, None)), absorbed)

    def heard_at(self, seat: Seat) -> Self:
        """Return the same room with the ears at another seat; what the room costs is shared.

        Raises:
            BadInput: when the height of the ears is not known, or they are in a wall.
        """
        if seat.ear_height_mm is None:
            raise BadInput(_NO_EARS)
        other = copy.copy(self)
        other.scene = msgspec.structs.replace(self.scene, seat=seat)
        other.ears = self._inside("the ears", other.scene.ears(Side.LEFT))
        return other

    def levels(self, positions: Sequence[Pair[Placement]]) -> tuple[Levels, ...]:
        """Return the levels of each position.

        Raises:
            BadInput: when a cabinet's acoustic centre lies outside the room, or at the ears.
        """
        sources = [self.source(side, one[side]) for one in positions for side in Side]
        if not sources:
            return ()
        pressures = self._pressures(sources)
        away_m = np.linalg.norm(np.array(sources) - self.ears, axis=1) / 1000
        alone = 20 * np.log10(np.abs(pressures) * away_m[:, None])
        both = pressures[0::2] + pressures[1::2]
        in_step = 1 / away_m[0::2] + 1 / away_m[1::2]
        pair = 20 * np.log10(np.abs(both) / in_step[:, None])
        return tuple(map(Levels, alone[0::2], alone[1::2], pair))

    def dips(self, side: Side, placement: Placement) -> tuple[LevelDip, ...]:
        """Return the dips of one cabinet's level from 40 to 200 Hz, the deepest first.

        Each is computed once more with each surface taken away. The surface without which the level
        is highest there is the cause, where that is 3 dB or more; it is the axial mode between two
        surfaces where one is near that frequency and has a null at the ears or the cabinet.
        """
        source = self.source(side, placement)
        (whole,) = self._pressures([source])
        away_m = math.dist(source, self.ears) / 1000
        level = 20 * np.log10(np.abs(whole) * away_m)
        places = [
            at for at in minima(level, DEEP_DB) if DIPS_FROM_HZ <= FREQUENCIES_HZ[at] <= DIPS_TO_HZ
        ]
        causes = self._causes(source, whole[places], FREQUENCIES_HZ[places])
        found = (
            LevelDip(float(FREQUENCIES_HZ[at]), float(level[at]), cause)
            for at, cause in zip(places, causes, strict=True)
        )
        return tuple(sorted(found, key=lambda dip: dip.level_db))

    def source(self, side: Side, placement: Placement) -> tuple[float, float, float]:
        """Return where a cabinet's sound begins in the rectangle, mm.

        Raises:
            BadInput: when that is outside the room, or where the ears are.
        """
        source = self._inside(f"the {side} cabinet", self.scene.source(side, placement))
        if math.dist(source, self.ears) < 100.0:
            raise BadInput(f"{side} cabinet: it stands where the ears are; move one of them")
        return source

    def detour_mm(self, surface: str, side: Side, placement: Placement) -> float:
        """Return how much longer a cabinet's way to the ears is by one surface than straight, mm.

        Raises:
            BadInput: as ``source`` does.
        """
        source = list(self.source(side, placement))
        straight = math.dist(source, self.ears)
        axis = next(axis for axis, names in enumerate(_NAMES) if surface in names)
        at = (0.0, self.box.sizes_mm[axis])[_NAMES[axis].index(surface)]
        source[axis] = 2 * at - source[axis]
        return math.dist(source, self.ears) - straight

    def _pressures(self, sources: Sequence[SpacePoint]) -> Pressures:
        at_once = self._sources_at_once
        return np.concatenate(
            [
                self._pressures_of(sources[begun : begun + at_once])
                for begun in range(0, len(sources), at_once)
            ]
        )

    def _pressures_of(self, sources: Sequence[SpacePoint]) -> Pressures:
        if self._modal is not None:
            return self._modal.pressures(sources, self.ears)
        return image_pressures(self.box, sources, self.ears, FREQUENCIES_HZ)

    def _causes(
        self, source: SpacePoint, whole: Pressures, frequencies_hz: Floats
    ) -> list[str | AxialOrder | None]:
        """Return what makes the dips at these frequencies."""
        if not len(whole):
            return []
        opened = pressures_without_each(
            self.box, source, self.ears, frequencies_hz, weakest=_ROUGHLY
        )
        without = {
            name: opened[axis, end]
            for axis, names in enumerate(_NAMES)
            for end, name in enumerate(names)
        }
        found: list[str | AxialOrder | None] = []
        for at, pressure in enumerate(whole):
            rises = {name: abs(one[at] / pressure) for name, one in without.items()}
            name = max(rises, key=rises.__getitem__)
            if 20 * math.log10(rises[name]) < _RISE_DB:
                found.append(None)
                continue
            axis = next(axis for axis, names in enumerate(_NAMES) if name in names)
            found.append(self._null_at(axis, float(frequencies_hz[at]), source) or name)
        return found

    def _null_at(self, axis: int, frequency_hz: float, source: SpacePoint) -> AxialOrder | None:
        """The mode along an axis near a frequency with a null at the source or the ears, if any."""
        size_mm = self.box.sizes_mm[axis]
        lowest = 1000 * self.box.speed_m_s / (2 * size_mm)
        half_waves = round(frequency_hz / lowest)
        is_near = abs(half_waves * lowest - frequency_hz) < _NEAR_MODE * frequency_hz
        if not is_near or half_waves > _MOST_HALF_WAVES or not self.box.rings(axis):
            return None
        per_mm = half_waves * math.pi / size_mm
        shares = [math.cos(per_mm * at[axis]) for at in (source, self.ears)]
        is_null = half_waves > 0 and min(map(abs, shares)) < _NEAR_NULL
        return AxialOrder(_AXIS_NAMES[axis], half_waves) if is_null else None

    def _inside(self, who: str, point: SpacePoint) -> tuple[float, float, float]:
        x, y = self.scene.in_rectangle((point[0], point[1]))
        place = (x, y, point[2])
        if not all(0 < at < size for at, size in zip(place, self.box.sizes_mm, strict=True)):
            raise BadInput(f"{who}: outside the room or in a wall; check position and height")
        return place


def minima(level_db: Floats, deepest_db: float) -> list[int]:
    """Return the places of the minima of a curve that are deep and stand apart.

    Args:
        level_db: the curve.
        deepest_db: a minimum counts at or below this level.
    """
    inner = range(1, len(level_db) - 1)
    found = [
        at
        for at in inner
        if level_db[at] <= deepest_db and level_db[at] == level_db[at - 1 : at + 2].min()
    ]
    return [at for at in found if _stands_apart(level_db, at)]


def _stands_apart(level_db: Floats, at: int) -> bool:
    """Return whether the curve rises by 3 dB on both sides before it falls lower than here."""
    for way in (level_db[at::-1], level_db[at:]):
        lower = np.flatnonzero(way < level_db[at])
        reach = way[: lower[0]] if lower.size else way
        if reach.max() < level_db[at] + _RISE_DB:
            return False
    return True


def difference_db(one: Floats, other: Floats) -> float:
    """Return how much two curves differ: the root of their mean squared difference, dB."""
    return float(np.sqrt(np.mean((one - other) ** 2)))


def third_octaves(level_db: Floats) -> tuple[Floats, Floats]:
    """Return a curve averaged in energy over one-third-octave bands: midbands, Hz, and levels.

    Exact midband frequencies and band edges by IEC 61260-1 with the octave ratio 10^(3/10); the
    bands from 25 to 250 Hz nominally, which lie within the lines wholly.
    """
    ratio = 10**0.3
    middles = 1000.0 * ratio ** (np.arange(-16, -5) / 3)
    energy = 10 ** (level_db / 10)
    bands = []
    for middle in middles:
        low, high = middle * ratio ** (-1 / 6), middle * ratio ** (1 / 6)
        inside = (low <= FREQUENCIES_HZ) & (high > FREQUENCIES_HZ)
        bands.append(10 * math.log10(float(energy[inside].mean())))
    return middles, np.array(bands)
