"""Where the axis of a cabinet passes the seat, to check against where it is aimed."""

from __future__ import annotations

import math

import msgspec

from witnessmark.geometry.frame import side_frame
from witnessmark.model import Placement, Setup, Side


class Crossing(msgspec.Struct, frozen=True):
    """Where a cabinet's axis passes the seat.

    ``outside_mm`` is how far outside the middle of the head, toward the cabinet's own side wall,
    the axis passes the seat; negative when it has crossed to the other side by then.
    ``beyond_mm`` is how far behind the seat the axis reaches the seat's centre line; negative in
    front of the seat; None when it never does.
    """

    outside_mm: float
    beyond_mm: float | None


def crossing(setup: Setup, side: Side, placement: Placement) -> Crossing:
    """Return where the axis of a cabinet passes the seat.

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
