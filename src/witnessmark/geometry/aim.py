"""Where a cabinet's axis points, and the toe-in that points it at a spot."""

from __future__ import annotations

import enum
import math

import msgspec

from witnessmark.geometry.frame import FramePoint, SideFrame, side_frame
from witnessmark.model import Placement, PlanPoint, Setup, Side

EAR_MM = 87.5
"""Half the width of a head, the radius of Woodworth's sphere (0.0875 m)."""
SHOULDER_MM = 300.0
"""From the middle of the head to just outside the shoulder; common practice, no source."""
BEHIND_MM = 300.0
"""How far behind the head the axes cross for that aim; common practice, no source."""


class Aim(enum.StrEnum):
    """The spots that a pair is commonly aimed at."""

    STRAIGHT = "straight ahead"
    SHOULDER = "outside the shoulder"
    EAR = "the ear"
    HEAD = "the middle of the head"
    BEHIND = "behind the head"


class Crossing(msgspec.Struct, frozen=True):
    """Where a cabinet's axis passes the seat.

    ``outside_mm`` is how far outside the middle of the head, toward the cabinet's own side wall,
    the axis passes the seat; negative when it has crossed to the other side by then.
    ``beyond_mm`` is how far behind the seat the axis reaches the seat's centre line; negative in
    front of the seat; None when it never does.
    """

    outside_mm: float
    beyond_mm: float | None


def toe_in_to(setup: Setup, side: Side, placement: Placement, spot: PlanPoint) -> float:
    """Toe-in in degrees that points the axis from the reference point at ``spot`` (plan, mm)."""
    frame = side_frame(setup.room, side)
    along, out = frame.reference(placement)
    spot_along, spot_out = frame.from_plan(spot)
    return math.degrees(math.atan2(spot_along - along, spot_out - out))


def aim_toe_in(setup: Setup, side: Side, placement: Placement, aim: Aim) -> float:
    """Toe-in in degrees for one of the usual aims, from where the cabinet stands."""
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


def crossing(setup: Setup, side: Side, placement: Placement) -> Crossing:
    """Where the axis of a cabinet passes the seat.

    A seat abreast of or behind the baffle is passed at no distance: both figures then count
    backward along the axis.
    """
    frame = side_frame(setup.room, side)
    along, out = frame.reference(placement)
    seat_along, seat_out = frame.from_plan(setup.seat.plan)
    slope = math.tan(math.radians(placement.toe_in_deg))
    outside = seat_along - (along + slope * (seat_out - out))
    beyond = outside / slope if abs(slope) > 1e-9 else None
    return Crossing(outside, beyond)
