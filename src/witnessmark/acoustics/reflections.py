"""First reflections from a cabinet to the ears, by mirror images of the source.

The image of the source behind a surface sends its sound along a straight line; where that crosses
the surface it bounces (Allen & Berkley, JASA 65, 943 (1979), for rooms of square corners; here for
any four walls). Points in space are (x, y) of the plan frame and the height, mm.
"""

from __future__ import annotations

import math

import msgspec

from witnessmark.model import Room, Wall

SpacePoint = tuple[float, float, float]
"""(x, y) in the plan frame and the height above the floor, mm."""
FLOOR, CEILING = "floor", "ceiling"


class Reflection(msgspec.Struct, frozen=True):
    """A path by way of one surface, mm: its length, and what it is longer than the direct one."""

    surface: str
    path_mm: float
    extra_mm: float
    bounce: SpacePoint

    def delay_ms(self, speed_m_s: float) -> float:
        """Return how much later than the direct sound it comes, ms."""
        return self.extra_mm / speed_m_s

    def first_notch_hz(self, speed_m_s: float) -> float:
        """Return the lowest frequency at which it is half a wave behind the direct sound, Hz.

        From the true difference of the paths: a quarter wave to the wall holds only on its axis.
        """
        return 1000 * speed_m_s / (2 * self.extra_mm) if self.extra_mm > 0 else math.inf


def first_reflections(room: Room, source: SpacePoint, ears: SpacePoint) -> dict[str, Reflection]:
    """Return the path by way of each wall, the floor and, where its height is known, the ceiling.

    Left out are datum lines, and walls that the path does not meet between their ends.
    """
    found: dict[str, Reflection] = {}
    for wall in Wall:
        if wall not in room.datum and (reflection := _by_wall(room, wall, source, ears)):
            found[wall.value] = reflection
    levels = {FLOOR: 0.0} | ({} if room.height_mm is None else {CEILING: room.height_mm})
    for name, level in levels.items():
        image = (source[0], source[1], 2 * level - source[2])
        above, below = abs(level - source[2]), abs(level - ears[2])
        found[name] = _reflection(name, source, ears, image, above, below)
    return found


def _by_wall(room: Room, wall: Wall, source: SpacePoint, ears: SpacePoint) -> Reflection | None:
    start, end = room.wall(wall)
    length = math.dist(start, end)
    along = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)

    def inside(point: SpacePoint) -> float:
        return along[0] * (point[1] - start[1]) - along[1] * (point[0] - start[0])

    before, after = inside(source), inside(ears)
    if before < 0 or after < 0:
        return None
    image = (source[0] + 2 * before * along[1], source[1] - 2 * before * along[0], source[2])
    found = _reflection(wall.value, source, ears, image, before, after)
    x, y, _ = found.bounce
    reached = (x - start[0]) * along[0] + (y - start[1]) * along[1]
    return found if 0 <= reached <= length else None


def _reflection(
    surface: str,
    source: SpacePoint,
    ears: SpacePoint,
    image: SpacePoint,
    source_off: float,
    ears_off: float,
) -> Reflection:
    """The path from an image; ``..._off`` are the distances of source and ears from the surface."""
    path, off = math.dist(image, ears), source_off + ears_off
    share = source_off / off if off else 0.0
    x, y, z = (one + share * (two - one) for one, two in zip(image, ears, strict=True))
    return Reflection(surface, path, path - math.dist(source, ears), (x, y, z))
