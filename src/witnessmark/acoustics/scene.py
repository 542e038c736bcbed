"""What the arithmetic needs: the room, the ears, and where the sound of each cabinet begins."""

from __future__ import annotations

import math
from typing import Self

import msgspec

from witnessmark.acoustics.reflections import SpacePoint
from witnessmark.geometry.frame import reference_in_plan, side_frame
from witnessmark.locate.arrival import speed_of_sound_m_s
from witnessmark.model import Pair, Placement, PlanPoint, Room, Seat, Setup, Side, Wall

_SQUARE_WITHIN_MM = 10.0
"""Largest difference of walls and diagonals, mm, at which a room is called a rectangle; no
source."""
_TOO_SKEW_SHARE = 0.1
"""Part of the shorter size by which a room may be out of square for its modes to mean anything."""


class Scene(msgspec.Struct, frozen=True):
    """A pair in a room with a listener.

    ``measured`` names the cabinets whose placements were measured; the others stand on targets. A
    cabinet without a placement is left out.
    """

    room: Room
    seat: Seat
    acoustic_heights_mm: Pair[float | None]
    placements: Pair[Placement | None]
    measured: frozenset[Side] = frozenset()
    temperature_c: float = 20.0

    @classmethod
    def of(cls, setup: Setup, measured: Pair[Placement | None]) -> Self:
        """Return where the pair was measured, and on its targets where it was not."""
        return cls(
            setup.room,
            setup.seat,
            Pair(*(setup.cabinets[side].acoustic_height_mm for side in Side)),
            Pair(*(measured[side] or setup.targets[side] for side in Side)),
            frozenset(side for side in Side if measured[side]),
            setup.temperature_c,
        )

    @property
    def standing(self) -> dict[Side, Placement]:
        """The cabinets that have a placement."""
        return {side: place for side in Side if (place := self.placements[side]) is not None}

    @property
    def speed_m_s(self) -> float:
        """Of sound."""
        return speed_of_sound_m_s(self.temperature_c)

    def has_heights(self, side: Side) -> bool:
        """Return whether it is known how high both this cabinet's sound and the ears are."""
        known = self.acoustic_heights_mm[side], self.seat.ear_height_mm
        return None not in known

    def source(self, side: Side, placement: Placement) -> SpacePoint:
        """Return where a cabinet's sound begins; its height counts only where ``has_heights``."""
        height = self.acoustic_heights_mm[side]
        level = height if self.has_heights(side) and height is not None else 0.0
        return (*reference_in_plan(self.room, side, placement), level)

    def ears(self, side: Side) -> SpacePoint:
        """Return where the ears are; at the height of the cabinet's sound where one is unknown."""
        height = self.seat.ear_height_mm
        level = height if self.has_heights(side) and height is not None else 0.0
        return (*self.seat.plan, level)

    def is_wall(self, *walls: Wall) -> bool:
        """Return whether there are walls, and no datum lines, on all these sides."""
        return not any(wall in self.room.datum for wall in walls)

    @property
    def out_of_square_mm(self) -> float:
        """How far the room is from a rectangle: in opposite walls, or in its diagonals."""
        corners = self.room.corners
        pairs = (
            *((self.room.wall(wall), self.room.wall(wall.opposite)) for wall in _ONE_OF_EACH),
            ((corners[0], corners[2]), (corners[1], corners[3])),
        )
        return max(abs(_length(one) - _length(other)) for one, other in pairs)

    @property
    def is_rectangle(self) -> bool:
        """Whether the room is a rectangle as far as matters here."""
        return self.out_of_square_mm <= _SQUARE_WITHIN_MM

    @property
    def rectangle_mm(self) -> tuple[float, float]:
        """Width and length of the rectangle that is nearest to the room."""
        room = self.room
        width = (room.side_length_mm(Wall.FRONT) + room.side_length_mm(Wall.BACK)) / 2
        return width, room.length_mm

    def in_rectangle(self, point: PlanPoint) -> tuple[float, float]:
        """Return where a point of the plan is in that rectangle, from the left and front walls.

        It keeps which part of the way from each wall to the one across the room it is at.
        """
        frame = side_frame(self.room, Side.LEFT)
        at = frame.from_plan(point)

        def share(first: Wall) -> float:
            before, after = (frame.walls[wall].distance_mm(at) for wall in (first, first.opposite))
            return before / (before + after)

        width, length = self.rectangle_mm
        return width * share(Wall.LEFT), length * share(Wall.FRONT)

    @property
    def has_modes(self) -> bool:
        """Whether the modes of a rectangle say anything of this room."""
        shorter = min(self.room.width_mm, self.room.length_mm)
        return self.out_of_square_mm <= _TOO_SKEW_SHARE * shorter


_ONE_OF_EACH = (Wall.FRONT, Wall.LEFT)


def _length(ends: tuple[PlanPoint, PlanPoint]) -> float:
    return math.dist(*ends)
