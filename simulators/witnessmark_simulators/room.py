"""A room that answers a shot with the true distance, by its own ray casting.

Points and directions of the plan are complex numbers here, x + iy. Because y runs toward the
listener, at the bottom of the page, a positive angle turns x toward y.

Not modelled: height (all shots run level with the touch points unless a beam is off square),
skirting boards, and anything standing in the beam, the cabinets included.
"""

from __future__ import annotations

import cmath
import math

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


class SimulatedRoom(msgspec.Struct, frozen=True):
    """A room with a seat and a pair of cabinets, and where they truly stand.

    In a room out of square the setback is the perpendicular distance of the reference point to the
    line of the front wall, the side distance that to the line of the cabinet's own side wall, and
    the toe-in is counted from the inward normal of the front wall.
    """

    room: Room
    cabinets: Pair[Cabinet]
    seat: Seat
    standing: Pair[Placement]

    def moved(self, side: Side, placement: Placement) -> SimulatedRoom:
        """The same room with one cabinet standing elsewhere."""
        return msgspec.structs.replace(self, standing=self.standing.replacing(side, placement))

    def plan_point(self, side: Side, name: str) -> PlanPoint:
        """Where a touch point of a cabinet truly is, mm in the plan frame.

        Raises:
            ImpossibleShot: when the cabinet has no point of that name.
        """
        point = self._touch_point(side, name)
        return (point.real, point.imag)

    def ray(self, origin: PlanPoint, direction: PlanPoint) -> Hit:
        """The first wall that a beam meets, and how far off; ``direction`` may have any length.

        Raises:
            ImpossibleShot: when the origin lies outside the room.
        """
        return self._cast(complex(*origin), complex(*direction))

    def true_distance(
        self, kind: ShotKind, beam_off_square_deg: tuple[float, float] = (0.0, 0.0)
    ) -> float:
        """The distance, mm, that a meter without error would show for a shot.

        ``beam_off_square_deg`` turns the beam in plan (from x toward y) and in elevation, away from
        the wall's normal when held on the wall and from the cabinet's axis when held on the
        cabinet. A shot between two points is aimed at its mark and has no such angle.

        Raises:
            ImpossibleShot: when the beam meets another wall than the one named, starts outside the
                room, or the kind makes no sense.
        """
        start = self._touch_point(kind.cabinet, kind.point)
        turn = cmath.rect(1.0, math.radians(beam_off_square_deg[0]))
        rise = math.cos(math.radians(beam_off_square_deg[1]))
        match kind.held:
            case Held.WALL:
                beam = -_inward_normal(self.room, _named_wall(kind))
                return self._cast_to(_named_wall(kind), start, beam * turn, kind) / rise
            case Held.CABINET:
                beam = self._axis_toward(_named_wall(kind), kind.cabinet)
                return self._cast_to(_named_wall(kind), start, beam * turn, kind) / rise
            case Held.POINT:
                return abs(self._mark(kind) - start)
            case Held.SPOT:
                return self._spot(kind, start, turn)

    def _axes(self, side: Side) -> tuple[complex, complex]:
        """Unit vectors forward and inward of a cabinet; the right one is the mirror image."""
        hand = -1 if side is Side.LEFT else 1
        toe_in = math.radians(self.standing[side].toe_in_deg)
        forward = _inward_normal(self.room, Wall.FRONT) * cmath.rect(1.0, hand * toe_in)
        return forward, forward * hand * 1j

    def _reference(self, side: Side) -> complex:
        """The reference point: along a parallel to the front wall until the side distance fits."""
        placement, own_wall = self.standing[side], Wall.beside(side)
        normal = _inward_normal(self.room, Wall.FRONT)
        start = _corner(self.room, Wall.FRONT) + normal * placement.setback_mm
        along = normal / 1j
        missing = placement.side_mm - _height_above(self.room, own_wall, start)
        return start + along * missing / _dot(_inward_normal(self.room, own_wall), along)

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
        """The cabinet's own axis that leads to a wall."""
        forward, inward = self._axes(side)
        return {
            Wall.FRONT: -forward,
            Wall.BACK: forward,
            Wall.beside(side): -inward,
            Wall.beside(side.other): inward,
        }[wall]

    def _mark(self, kind: ShotKind) -> complex:
        """What a shot between two points is aimed at."""
        if kind.to is AimedAt.SEAT:
            return complex(*self.seat.plan)
        if kind.to is AimedAt.CABINET:
            return self._touch_point(kind.cabinet.other, kind.point)
        raise ImpossibleShot(
            f"{_words(kind)}: a shot between points goes to the seat or the cabinet"
        )

    def _spot(self, kind: ShotKind, start: complex, turn: complex) -> float:
        """From the dot on the back wall square to the named side wall."""
        if kind.to not in (AimedAt.LEFT, AimedAt.RIGHT):
            raise ImpossibleShot(
                f"{_words(kind)}: a dot is measured from the left or the right wall"
            )
        forward, _ = self._axes(kind.cabinet)
        dot = start + forward * turn * self._cast_to(Wall.BACK, start, forward * turn, kind)
        return _height_above(self.room, Wall(kind.to), dot)

    def _cast_to(self, wall: Wall, start: complex, beam: complex, kind: ShotKind) -> float:
        hit = self._cast(start, beam)
        if hit.wall is not wall:
            raise ImpossibleShot(
                f"{_words(kind)}: the beam meets the {hit.wall} wall, not the {wall} wall"
            )
        return hit.distance_mm

    def _cast(self, start: complex, direction: complex) -> Hit:
        """The nearest of the walls that the beam runs toward: the room is convex."""
        beam = direction / abs(direction)
        hits = []
        for wall in Wall:
            height = _height_above(self.room, wall, start)
            if height < -_OUTSIDE_MM:
                raise ImpossibleShot(f"the beam starts {-height:.1f} mm behind the {wall} wall")
            approach = -_dot(_inward_normal(self.room, wall), beam)
            if approach > 0:
                hits.append(Hit(height / approach, wall))
        return min(hits, key=lambda hit: hit.distance_mm)


def _dot(first: complex, second: complex) -> float:
    return (first.conjugate() * second).real


def _corner(room: Room, wall: Wall) -> complex:
    return complex(*room.wall(wall)[0])


def _inward_normal(room: Room, wall: Wall) -> complex:
    """Unit normal into the room: a quarter turn from the way the corners go round."""
    start, end = (complex(*corner) for corner in room.wall(wall))
    return (end - start) / abs(end - start) * 1j


def _height_above(room: Room, wall: Wall, point: complex) -> float:
    """Perpendicular distance of a point from a wall's line, positive inside the room."""
    return _dot(_inward_normal(room, wall), point - _corner(room, wall))


def _named_wall(kind: ShotKind) -> Wall:
    if kind.to in (AimedAt.SEAT, AimedAt.CABINET):
        raise ImpossibleShot(f"{_words(kind)}: a shot held on the {kind.held} goes to a wall")
    return Wall(kind.to)


def _words(kind: ShotKind) -> str:
    return f"{kind.cabinet} {kind.point} to {kind.to}"
