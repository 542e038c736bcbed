"""Where a cabinet's axis points, and the toe-in that points it at a spot."""

from __future__ import annotations

import enum
import math

from witnessmark.geometry.frame import FramePoint, SideFrame, side_frame
from witnessmark.model import Pair, Placement, PlanPoint, Room, Setup, Side, TouchPoint

EAR_MM = 87.5
"""Half the width of a head, mm: the radius of Woodworth's sphere, 0.0875 m."""
SHOULDER_MM = 300.0
"""Distance from the middle of the head to just beside the shoulder, mm; common practice, no
source."""
BEHIND_MM = 300.0
"""Distance behind the head at which the axes cross, mm; common practice, no source."""
_PARALLEL = 1e-6
"""Angle between two axes, radians, below which they cross in no room."""


class Aim(enum.StrEnum):
    """The spots that a pair is commonly aimed at."""

    STRAIGHT = "straight ahead"
    SHOULDER = "beside the shoulder"
    EAR = "the ear"
    HEAD = "the middle of the head"
    BEHIND = "behind the head"


def toe_in_to(setup: Setup, side: Side, placement: Placement, spot: PlanPoint) -> float:
    """Return the toe-in in degrees that points the axis at ``spot`` (plan, mm)."""
    frame = side_frame(setup.room, side)
    along, out = frame.reference(placement)
    spot_along, spot_out = frame.from_plan(spot)
    return math.degrees(math.atan2(spot_along - along, spot_out - out))


def aim_toe_in(setup: Setup, side: Side, placement: Placement, aim: Aim) -> float:
    """Return the toe-in in degrees for a usual aim, from where the cabinet stands."""
    if aim is Aim.STRAIGHT:
        return 0.0
    frame = side_frame(setup.room, side)
    return toe_in_to(setup, side, placement, frame.to_plan(_spot(frame, setup, aim)))


def _spot(frame: SideFrame, setup: Setup, aim: Aim) -> FramePoint:
    along, out = frame.from_plan(setup.seat.plan)
    outward, behind = {
        Aim.SHOULDER: (SHOULDER_MM, 0.0),
        Aim.EAR: (EAR_MM, 0.0),
        Aim.HEAD: (0.0, 0.0),
        Aim.BEHIND: (0.0, BEHIND_MM),
    }[aim]
    return along - outward, out + behind


def axes_meet(room: Room, placements: Pair[Placement]) -> PlanPoint | None:
    """Return where the axes of both cabinets cross before them, in plan; None where they do not."""
    (left, along_left), (right, along_right) = (_ray(room, side, placements[side]) for side in Side)
    apart = right[0] - left[0], right[1] - left[1]
    turned = _cross(along_left, along_right)
    if abs(turned) < _PARALLEL:
        return None
    by_left, by_right = _cross(apart, along_right) / turned, _cross(apart, along_left) / turned
    if by_left < 0 or by_right < 0:
        return None
    return left[0] + by_left * along_left[0], left[1] + by_left * along_left[1]


def _ray(room: Room, side: Side, placement: Placement) -> tuple[PlanPoint, PlanPoint]:
    """The reference point and a step of 1 mm forward from it, in plan."""
    frame = side_frame(room, side)
    start = frame.to_plan(frame.reference(placement))
    x, y = frame.to_plan(frame.point(placement, TouchPoint(0.0, -1.0)))
    return start, (x - start[0], y - start[1])


def _cross(one: PlanPoint, other: PlanPoint) -> float:
    return one[0] * other[1] - one[1] * other[0]
