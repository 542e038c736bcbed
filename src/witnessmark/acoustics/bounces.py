"""The first reflections of a cabinet as the listener gets them."""

from __future__ import annotations

import math

import msgspec

from witnessmark.acoustics.reflections import CEILING, FLOOR, Reflection, first_reflections
from witnessmark.acoustics.scene import Scene
from witnessmark.geometry.frame import side_frame
from witnessmark.model import Corner, Placement, PlanPoint, Room, Side, Wall

_HARDLY_MM = 1.0
"""Least detour of a reflection, mm; one shorter is of a cabinet that is built into its wall."""


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
