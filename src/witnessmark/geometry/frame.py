"""The side frame of a cabinet: one geometry for both, the right the mirror image of the left.

In a cabinet's frame a point is (along, out), mm: ``along`` the front wall from the cabinet's own
front corner toward the other cabinet, ``out`` of the front wall into the room. Both axes are square
to each other even where the room is not; ``side_mm`` of a placement stays the distance that a tape
shows, square to the cabinet's own side wall.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

from witnessmark.model import Cabinet, Placement, PlanPoint, Room, Side, TouchPoint, Wall

FramePoint = tuple[float, float]
"""(along, out) in one cabinet's frame, mm."""


class WallLine(NamedTuple):
    """A wall in a cabinet's frame: unit normal into the room, and the distance of the origin."""

    normal_along: float
    normal_out: float
    offset_mm: float

    def distance_mm(self, point: FramePoint) -> float:
        """Return the perpendicular distance of a point; positive inside the room."""
        return self.normal_along * point[0] + self.normal_out * point[1] + self.offset_mm

    def nearer(self, by_mm: float) -> WallLine:
        """Return the surface of what stands proud of this wall."""
        return self._replace(offset_mm=self.offset_mm - by_mm)


class SideFrame(NamedTuple):
    """The frame of one cabinet in a room: origin and axes in plan, and the four walls in it."""

    origin: PlanPoint
    along: PlanPoint
    out: PlanPoint
    walls: dict[Wall, WallLine]
    own_wall: Wall

    def to_plan(self, point: FramePoint) -> PlanPoint:
        """Return the plan position of a point of this frame."""
        return (
            self.origin[0] + point[0] * self.along[0] + point[1] * self.out[0],
            self.origin[1] + point[0] * self.along[1] + point[1] * self.out[1],
        )

    def from_plan(self, point: PlanPoint) -> FramePoint:
        """Return the position in this frame of a point in plan."""
        dx, dy = point[0] - self.origin[0], point[1] - self.origin[1]
        return (
            dx * self.along[0] + dy * self.along[1],
            dx * self.out[0] + dy * self.out[1],
        )

    @property
    def per_side(self) -> float:
        """Derivative of ``along`` by ``side_mm`` at fixed setback; 1 in a square room."""
        return 1 / self.walls[self.own_wall].normal_along

    @property
    def per_setback(self) -> float:
        """Derivative of ``along`` by ``setback_mm`` at fixed side; 0 in a square room."""
        own = self.walls[self.own_wall]
        return -own.normal_out / own.normal_along

    def reference(self, placement: Placement) -> FramePoint:
        """Return the reference point of a placement: where its two tape distances meet."""
        along = self.per_side * placement.side_mm + self.per_setback * placement.setback_mm
        return (along, placement.setback_mm)

    def point(self, placement: Placement, touch: TouchPoint) -> FramePoint:
        """Return where a point of the cabinet is: reference + inward * i - forward * b."""
        along, out = self.reference(placement)
        toe_in = math.radians(placement.toe_in_deg)
        sine, cosine = math.sin(toe_in), math.cos(toe_in)
        return (
            along + cosine * touch.inward_mm - sine * touch.back_mm,
            out - sine * touch.inward_mm - cosine * touch.back_mm,
        )

    def tape_distances(self, point: FramePoint) -> tuple[float, float]:
        """Return (side_mm, setback_mm) of a point: square to its side wall and the front wall."""
        return self.walls[self.own_wall].distance_mm(point), self.walls[Wall.FRONT].distance_mm(
            point
        )


@lru_cache(maxsize=64)
def side_frame(room: Room, side: Side) -> SideFrame:
    """Return the frame of the cabinet on ``side`` of ``room``."""
    own, other = room.front_left, room.front_right
    if side is Side.RIGHT:
        own, other = other, own
    width = math.dist(own, other)
    along = ((other[0] - own[0]) / width, (other[1] - own[1]) / width)
    out = (-along[1], along[0]) if side is Side.LEFT else (along[1], -along[0])
    bare = SideFrame(own, along, out, {}, Wall.beside(side))
    walls = {wall: _wall_line(bare, room, wall) for wall in Wall}
    return bare._replace(walls=walls)


def _wall_line(frame: SideFrame, room: Room, wall: Wall) -> WallLine:
    start, end = (frame.from_plan(corner) for corner in room.wall(wall))
    length = math.dist(start, end)
    normal = ((start[1] - end[1]) / length, (end[0] - start[0]) / length)
    offset = -normal[0] * start[0] - normal[1] * start[1]
    line = WallLine(*normal, offset)
    middle = frame.from_plan(
        (sum(x for x, _ in room.corners) / 4, sum(y for _, y in room.corners) / 4)
    )
    if line.distance_mm(middle) < 0:
        return WallLine(-line.normal_along, -line.normal_out, -line.offset_mm)
    return line


def reference_in_plan(room: Room, side: Side, placement: Placement) -> PlanPoint:
    """Return the plan position of a cabinet's reference point."""
    frame = side_frame(room, side)
    return frame.to_plan(frame.reference(placement))


def point_in_plan(room: Room, side: Side, placement: Placement, touch: TouchPoint) -> PlanPoint:
    """Return the plan position of a point of a cabinet."""
    frame = side_frame(room, side)
    return frame.to_plan(frame.point(placement, touch))


def footprint(
    room: Room, side: Side, cabinet: Cabinet, placement: Placement
) -> tuple[PlanPoint, PlanPoint, PlanPoint, PlanPoint]:
    """Return the plan corners of a box: front-inner, front-outer, rear-outer, rear-inner."""
    half, depth = cabinet.width_mm / 2, cabinet.depth_mm
    frame = side_frame(room, side)
    front_inner, front_outer, rear_outer, rear_inner = (
        frame.to_plan(frame.point(placement, TouchPoint(inward, back)))
        for inward, back in ((half, 0.0), (-half, 0.0), (-half, depth), (half, depth))
    )
    return front_inner, front_outer, rear_outer, rear_inner
