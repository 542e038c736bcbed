"""The seat, and the steps from abreast of it to the front wall."""

from __future__ import annotations

import math

import msgspec

from witnessmark.layout.footprint import rear_gap_mm
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.practice import Practice
from witnessmark.layout.start import facing_deg
from witnessmark.model import Cabinet, Pair, Room, Seat


class Station(msgspec.Struct, frozen=True):
    """One step of the walk, both cabinets on the middle of their lanes.

    ``to_seat_mm`` is from each baffle's middle along the floor, ``angle_deg`` that between the two
    at the seat, ``facing_deg`` the toe-in that faces the seat, and ``rear_gap_mm`` what is then
    left between the rear of the cabinet and the front wall (negative: the wall is in the way).
    """

    number: int
    setback_mm: float
    to_seat_mm: float
    angle_deg: float
    facing_deg: float
    rear_gap_mm: float | None


def default_seat(room: Room, practice: Practice) -> Seat:
    """The seat on the room's centre line, the practice's fraction of the length from the back."""
    return Seat(
        from_front_mm=room.length_mm - practice.seat_from_back * room.length_mm,
        from_left_mm=room.width_mm / 2,
    )


def stations(
    line: MirrorLine,
    lane_base_mm: float,
    practice: Practice,
    cabinets: Pair[Cabinet] | None = None,
) -> tuple[Station, ...]:
    """Every station from abreast of the seat forward, while the cabinet fits behind its baffle.

    ``lane_base_mm`` is the distance between the middles of the two lanes.
    """
    seat = line.seat
    depth = max(cabinets.left.depth_mm, cabinets.right.depth_mm) if cabinets else 0.0
    # the billionth keeps a station that fits exactly
    steps = math.floor((seat.from_front_mm - depth) / practice.station_step_mm + 1e-9)

    def station(step: int) -> Station:
        forward = step * practice.station_step_mm
        setback = seat.from_front_mm - forward
        facing = facing_deg(lane_base_mm, forward)
        placements = line.placements(Stance(lane_base_mm, setback, facing))
        return Station(
            number=step + 1,
            setback_mm=setback,
            to_seat_mm=math.hypot(lane_base_mm / 2, forward),
            angle_deg=2 * facing,
            facing_deg=facing,
            rear_gap_mm=rear_gap_mm(line.room, cabinets, placements) if cabinets else None,
        )

    return tuple(station(step) for step in range(steps + 1))
