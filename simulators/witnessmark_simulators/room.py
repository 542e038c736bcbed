"""A room that answers a shot with the true distance, by its own ray casting.

Points and directions of the plan are complex numbers here, x + iy. Because y runs toward the
listener, at the bottom of the page, a positive angle turns x toward y.

A beam starts at the height of its touch point, or the one its shot names, and climbs only where it
is off square; what stands proud of a wall is met where the beam arrives at its height. Not
modelled: the upper and lower faces of such things, and anything standing in the beam, the cabinets
included.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from functools import cached_property
from typing import NamedTuple

import msgspec

from witnessmark.errors import WitnessmarkError
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Pair,
    Placement,
    PlanPoint,
    Room,
    Seat,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
)

_OUTSIDE_MM = 1e-6


class ImpossibleShot(WitnessmarkError):
    """The shot cannot be taken here: ``left rear-inner to right: the beam meets the back wall``."""


class Hit(msgspec.Struct, frozen=True):
    """Where a beam ends: how far along it, mm, and on which wall."""

    distance_mm: float
    wall: Wall


class _Beam(NamedTuple):
    """Where a beam starts, which way it runs in plan, how high, and how much it climbs per mm."""

    start: complex
    direction: complex
    height_mm: float = 0.0
    climb: float = 0.0

    def height_after(self, distance_mm: float) -> float:
        return self.height_mm + self.climb * distance_mm


class _Line(NamedTuple):
    """A wall seen from above: the corner where it begins, and its unit normal into the room."""

    corner: complex
    normal: complex

    def height_of(self, point: complex) -> float:
        """Return the perpendicular distance of a point from the line, positive inside the room."""
        return _dot(self.normal, point - self.corner)


class SimulatedRoom(msgspec.Struct, frozen=True, dict=True):
    """A room with a seat and a pair of cabinets, and where they truly stand.

    In a room out of square the setback is the perpendicular distance of the reference point to the
    line of the front wall, the side distance that to the line of the cabinet's own side wall, and
    the toe-in is counted from the inward normal of the front wall.
    """

    room: Room
    cabinets: Pair[Cabinet]
    seat: Seat
    standing: Pair[Placement]

    @cached_property
    def _lines(self) -> dict[Wall, _Line]:
        return {wall: _line(self.room, wall) for wall in Wall}

    def moved(self, side: Side, placement: Placement) -> SimulatedRoom:
        """Return the same room with one cabinet standing elsewhere."""
        return msgspec.structs.replace(self, standing=self.standing.replacing(side, placement))

    def plan_point(self, side: Side, name: str) -> PlanPoint:
        """Return where a touch point of a cabinet truly is, mm in the plan frame.

        Raises:
            ImpossibleShot: when the cabinet has no point of that name.
        """
        point = self._touch_point(side, name)
        return (point.real, point.imag)

    def ray(self, origin: PlanPoint, direction: PlanPoint, height_mm: float = 0.0) -> Hit:
        """Return the first wall that a level beam meets, and how far off.

        ``direction`` may have any length. What stands proud of a wall at that height is met first.

        Raises:
            ImpossibleShot: when the origin lies outside the room.
        """
        beam = complex(*direction)
        return self._cast(_Beam(complex(*origin), beam / abs(beam), height_mm))

    def true_distance(
        self, kind: ShotKind, beam_off_square_deg: tuple[float, float] = (0.0, 0.0)
    ) -> float:
        """Return the distance, mm, that a meter without error would show for a shot.

        ``beam_off_square_deg`` turns the beam in plan (from x toward y) and in elevation, away from
        the wall's normal when held on the wall and from the cabinet's axis when held on the
        cabinet. A shot between two points is aimed at its mark and has no such angle: it runs
        straight from the touch point at its height to the seat mark on the floor, or to the same
        point of the other cabinet at its own, and level only where the shot names a height.

        Raises:
            ImpossibleShot: when the beam meets another wall than the one named, starts outside the
                room, or the kind makes no sense.
        """
        if kind.held is Held.POINT:
            across = abs(self._mark(kind) - self._touch_point(kind.cabinet, kind.point))
            return abs(complex(across, self._climb_to_mark(kind)))
        turn = cmath.rect(1.0, math.radians(beam_off_square_deg[0]))
        rise = math.radians(beam_off_square_deg[1])
        if kind.held is Held.SPOT:
            return self._spot(kind, self._beam(kind, self._axes(kind.cabinet)[0] * turn, rise))
        wall = _named_wall(kind)
        if kind.held is Held.WALL:
            direction = -self._lines[wall].normal
        else:
            self._check_wall(kind, wall)
            direction = self._axis_toward(wall, kind.cabinet)
        beam = self._beam(kind, direction * turn, rise)
        return self._cast_to(wall, beam, kind) / math.cos(rise)

    def _beam(self, kind: ShotKind, direction: complex, rise: float) -> _Beam:
        start, height = self._touch_point(kind.cabinet, kind.point), kind.height_mm
        if height is None:
            height = self.cabinets[kind.cabinet].touch_points[kind.point].height_mm
        return _Beam(start, direction, height, math.tan(rise))

    def _axes(self, side: Side) -> tuple[complex, complex]:
        """Return unit vectors forward and inward of a cabinet; the right one mirrors the left."""
        hand = -1 if side is Side.LEFT else 1
        toe_in = math.radians(self.standing[side].toe_in_deg)
        forward = self._lines[Wall.FRONT].normal * cmath.rect(1.0, hand * toe_in)
        return forward, forward * hand * 1j

    def _reference(self, side: Side) -> complex:
        """Return the reference point, along a parallel to the front wall until the side fits."""
        placement, own_wall = self.standing[side], Wall.beside(side)
        normal = self._lines[Wall.FRONT].normal
        start = self._lines[Wall.FRONT].corner + normal * placement.setback_mm
        along = normal / 1j
        missing = placement.side_mm - self._lines[own_wall].height_of(start)
        return start + along * missing / _dot(self._lines[own_wall].normal, along)

    def _touch_point(self, side: Side, name: str) -> complex:
        points = self.cabinets[side].touch_points
        if name not in points:
            known = ", ".join(points)
            raise ImpossibleShot(f'{side} cabinet: no touch point "{name}"; it has {known}')
        return self._of_cabinet(side, points[name])

    def _of_cabinet(self, side: Side, point: TouchPoint) -> complex:
        forward, inward = self._axes(side)
        return self._reference(side) + inward * point.inward_mm - forward * point.back_mm

    def _axis_toward(self, wall: Wall, side: Side) -> complex:
        """Return the cabinet's own axis that leads to a wall."""
        forward, inward = self._axes(side)
        return {
            Wall.FRONT: -forward,
            Wall.BACK: forward,
            Wall.beside(side): -inward,
            Wall.beside(side.other): inward,
        }[wall]

    def _mark(self, kind: ShotKind) -> complex:
        """Return what a shot between two points is aimed at."""
        if kind.to is AimedAt.SEAT:
            return complex(*self.seat.plan)
        if kind.to is AimedAt.CABINET:
            return self._touch_point(kind.cabinet.other, kind.point)
        raise ImpossibleShot(
            f"{_words(kind)}: a shot between points goes to the seat or the cabinet"
        )

    def _climb_to_mark(self, kind: ShotKind) -> float:
        """Return how much higher one end of a shot between two points is; 0 for one held level."""
        if kind.height_mm is not None:
            return 0.0
        start = self.cabinets[kind.cabinet].touch_points[kind.point].height_mm
        if kind.to is AimedAt.SEAT:
            return start
        return start - self.cabinets[kind.cabinet.other].touch_points[kind.point].height_mm

    def _spot(self, kind: ShotKind, beam: _Beam) -> float:
        """Return the way from the dot on the back wall square to the named wall, at its height."""
        if kind.to not in (AimedAt.LEFT, AimedAt.RIGHT):
            raise ImpossibleShot(
                f"{_words(kind)}: a dot is measured from the left or the right wall"
            )
        self._check_wall(kind, Wall.BACK)
        away = self._cast_to(Wall.BACK, beam, kind)
        dot, side = beam.start + beam.direction * away, Wall(kind.to)
        square = _Beam(dot, -self._lines[side].normal, beam.height_after(away))
        return min(self._ways(side, square))

    def _check_wall(self, kind: ShotKind, wall: Wall) -> None:
        if wall in self.room.datum:
            raise ImpossibleShot(f"{_words(kind)}: a beam does not stop at the {wall} datum line")

    def _cast_to(self, wall: Wall, beam: _Beam, kind: ShotKind) -> float:
        hit = self._cast(beam)
        if hit.wall is not wall:
            raise ImpossibleShot(
                f"{_words(kind)}: the beam meets the {hit.wall} wall, not the {wall} wall"
            )
        return hit.distance_mm

    def _cast(self, beam: _Beam) -> Hit:
        """Return the nearest surface that the beam meets: the room is convex."""
        hits = []
        for wall in Wall:
            height = self._lines[wall].height_of(beam.start)
            if height < -_OUTSIDE_MM:
                raise ImpossibleShot(f"the beam starts {-height:.1f} mm behind the {wall} wall")
            hits += [Hit(distance, wall) for distance in self._ways(wall, beam)]
        return min(hits, key=lambda hit: hit.distance_mm)

    def _ways(self, wall: Wall, beam: _Beam) -> Iterator[float]:
        """Yield how far it is along a beam to the wall and to each thing that is met before it."""
        approach = -_dot(self._lines[wall].normal, beam.direction)
        if approach <= 0:
            return
        bare = self._lines[wall].height_of(beam.start)
        yield bare / approach
        for offset in self.room.offsets:
            way = (bare - offset.proud_mm) / approach
            low, high = offset.from_height_mm, offset.to_height_mm
            if offset.wall is wall and low <= beam.height_after(way) <= high:
                if way < -_OUTSIDE_MM:
                    raise ImpossibleShot(
                        f"the beam starts behind what sticks out from the {wall} wall"
                    )
                yield way


def _dot(first: complex, second: complex) -> float:
    return (first.conjugate() * second).real


def _line(room: Room, wall: Wall) -> _Line:
    start, end = (complex(*corner) for corner in room.wall(wall))
    # a quarter turn from the way the corners go round
    return _Line(start, (end - start) / abs(end - start) * 1j)


def _named_wall(kind: ShotKind) -> Wall:
    if kind.to in (AimedAt.SEAT, AimedAt.CABINET):
        raise ImpossibleShot(f"{_words(kind)}: a shot held on the {kind.held} goes to a wall")
    return Wall(kind.to)


def _words(kind: ShotKind) -> str:
    return f"{kind.cabinet} {kind.point} to {kind.to}"
