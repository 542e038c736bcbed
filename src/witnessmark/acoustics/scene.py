"""A setup for the acoustics, and the first reflections of a cabinet as the listener gets them."""

from __future__ import annotations

import math
from typing import Self

import msgspec

from witnessmark.acoustics.reflections import (
    CEILING,
    FLOOR,
    Reflection,
    SpacePoint,
    first_reflections,
)
from witnessmark.errors import BadInput
from witnessmark.geometry.frame import reference_in_plan, side_frame
from witnessmark.locate.arrival import speed_of_sound_m_s
from witnessmark.model import (
    Corner,
    Pair,
    Placement,
    PlanPoint,
    Room,
    RoomKnown,
    Seat,
    Setup,
    Side,
    Wall,
)

_SQUARE_WITHIN_MM = 10.0
"""Largest difference of walls and diagonals, mm, at which a room is called a rectangle; no
source."""
_TOO_SKEW_SHARE = 0.1
"""Part of the shorter size by which a room may be out of square for its modes to mean anything."""

_HARDLY_MM = 1.0
"""Least detour of a reflection, mm; one shorter is of a cabinet that is built into its wall."""


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
        """Return where the pair was measured, and on its targets where it was not.

        Raises:
            BadInput: when the room was not measured whole, for then its seat is not known either.
        """
        if setup.known_of_room is not RoomKnown.WHOLE:
            raise BadInput(
                "room: it was not measured whole; measure its width and length, and the seat, to "
                "calculate its sound"
            )
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
    def is_rectangle(self) -> bool:
        """Whether the room is a rectangle as far as matters here."""
        return self.room.out_of_square_mm <= _SQUARE_WITHIN_MM

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
        return self.room.out_of_square_mm <= _TOO_SKEW_SHARE * shorter


class Bounce(msgspec.Struct, frozen=True):
    """A first reflection by way of one surface.

    ``extra_mm`` is what its path is longer than the direct one. ``angle_deg`` is from where it
    comes to the ears in plan, from straight toward the front wall, positive to the right;
    ``along_mm`` is where it meets a wall, from that wall's front end (of front and back wall: its
    left end); both are None of floor and ceiling. ``height_mm`` is None where heights are not
    known.
    """

    extra_mm: float
    delay_ms: float
    first_notch_hz: float
    angle_deg: float | None
    along_mm: float | None
    height_mm: float | None
    at_mm: PlanPoint
    """In plan."""


def bounces(scene: Scene, side: Side, placement: Placement) -> dict[str, Bounce]:
    """Return the first reflections of one cabinet by surface: walls that exist, floor, ceiling.

    Floor and ceiling are left out where the height of the cabinet's sound or of the ears is not
    known; both then count as equally high for the walls.
    """
    source, ears = scene.source(side, placement), scene.ears(side)
    found = first_reflections(scene.room, source, ears)
    level = (FLOOR, CEILING)
    return {
        name: _bounce(scene, side, reflection)
        for name, reflection in found.items()
        if reflection.extra_mm > _HARDLY_MM and (scene.has_heights(side) or name not in level)
    }


def _bounce(scene: Scene, side: Side, reflection: Reflection) -> Bounce:
    x, y, height = reflection.bounce
    wall = None if reflection.surface in (FLOOR, CEILING) else Wall(reflection.surface)
    speed = scene.speed_m_s
    return Bounce(
        extra_mm=reflection.extra_mm,
        delay_ms=reflection.delay_ms(speed),
        first_notch_hz=reflection.first_notch_hz(speed),
        angle_deg=_angle_deg(scene, (x, y)) if wall else None,
        along_mm=math.dist(_beginning(scene.room, wall), (x, y)) if wall else None,
        height_mm=height if scene.has_heights(side) else None,
        at_mm=(x, y),
    )


def _angle_deg(scene: Scene, point: PlanPoint) -> float:
    """From where something comes to the ears, from straight toward the front wall."""
    frame = side_frame(scene.room, Side.LEFT)
    along, out = frame.from_plan(point)
    seat_along, seat_out = frame.from_plan(scene.seat.plan)
    return math.degrees(math.atan2(along - seat_along, seat_out - out))


def _beginning(room: Room, wall: Wall) -> PlanPoint:
    """The front end of a side wall, the left end of the others."""
    ends = dict(zip(wall.ends, room.wall(wall), strict=True))
    order = (Corner.FRONT_LEFT, Corner.FRONT_RIGHT, Corner.BACK_LEFT)
    return next(ends[corner] for corner in order if corner in ends)
