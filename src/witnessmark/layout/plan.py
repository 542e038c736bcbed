"""One layout: the advice, the chosen beginning, and what is to be said about it."""

from __future__ import annotations

import math

import msgspec

from witnessmark.geometry.frame import reference_in_plan
from witnessmark.layout.footprint import Band, FloorPoint, band, lane_pair, tape_points
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.practice import Practice
from witnessmark.layout.remarks import LayoutCase, conflicts, notes
from witnessmark.layout.start import (
    InLane,
    Start,
    Station,
    Triangle,
    default_seat,
    facing_deg,
    stations,
)
from witnessmark.lengths import Units
from witnessmark.model import Cabinet, Mirror, Pair, Placement, Room, Seat, Side


class TapeView(msgspec.Struct, frozen=True):
    """One cabinet as a tape finds it: along the floor to the seat, and every touch point."""

    to_seat_mm: float
    points: dict[str, FloorPoint]


class Layout(msgspec.Struct, frozen=True):
    """Where to begin, mm and degrees.

    ``lanes``, ``seat`` and ``stations`` are the advice; ``placements`` are the beginning that
    ``start`` chose, ``base_mm`` apart from baffle to baffle and ``angle_deg`` as seen from the
    seat. ``conflicts`` are sentences that say what cannot stand so, ``notes`` what is worth
    knowing.
    """

    width_mm: float
    length_mm: float
    lanes: Pair[Band]
    seat: Seat
    stations: tuple[Station, ...]
    start: Start
    base_mm: float
    angle_deg: float
    placements: Pair[Placement]
    stands: Pair[TapeView]
    conflicts: tuple[str, ...]
    notes: tuple[str, ...]


def lay_out(
    room: Room,
    cabinets: Pair[Cabinet] | None = None,
    seat: Seat | None = None,
    start: Start = Triangle(),  # noqa: B008 - frozen
    practice: Practice | None = None,
    units: Units = Units.MM,
    mirror: Mirror = Mirror.SEAT,
) -> Layout:
    """Return lanes, seat, stations and a beginning symmetrical about the mirror line.

    Without ``practice`` the usual one of ``units`` is taken, whose stations are a foot apart where
    lengths are in inches. Without ``seat`` the practice's own is taken, without ``cabinets``
    nothing is said about how they fit. A room out of square is laid out by its width and length;
    how the cabinets fit is counted in the room as it is. Sentences have their lengths in ``units``.

    Raises:
        BadInput: when the start has no place in this room at all.
    """
    practice = practice or Practice.in_units(units)
    seat = seat or default_seat(room, practice)
    line = MirrorLine(room, seat, mirror)
    lanes = lane_pair(line, practice)
    lane_base = room.width_mm - lanes.left.middle_mm - lanes.right.middle_mm
    stance = start.stance(line, lane_base, practice)
    if cabinets and isinstance(start, InLane):
        stance = _centred(line, cabinets, lanes, stance)
    placements = line.placements(stance)
    steps = stations(line, lane_base, practice, cabinets)
    case = LayoutCase(line, cabinets, lanes, steps, start, stance, placements, units)
    return Layout(
        width_mm=room.width_mm,
        length_mm=room.length_mm,
        lanes=lanes,
        seat=seat,
        stations=steps,
        start=start,
        base_mm=stance.base_mm,
        angle_deg=2 * facing_deg(stance.base_mm, seat.from_front_mm - stance.setback_mm),
        placements=placements,
        stands=_stands(room, cabinets, seat, placements),
        conflicts=conflicts(case),
        notes=notes(case),
    )


def _centred(
    line: MirrorLine, cabinets: Pair[Cabinet], lanes: Pair[Band], stance: Stance
) -> Stance:
    """The stance moved together or apart until what the cabinets take up is mid-lane."""
    placements = line.placements(stance)
    taken = [band(line.room, side, cabinets[side], placements[side]) for side in Side]
    inward = sum(
        lanes[side].middle_mm - strip.middle_mm for side, strip in zip(Side, taken, strict=True)
    )
    return stance._replace(base_mm=stance.base_mm - inward)


def _stands(
    room: Room, cabinets: Pair[Cabinet] | None, seat: Seat, placements: Pair[Placement]
) -> Pair[TapeView]:
    def stand(side: Side) -> TapeView:
        placement = placements[side]
        return TapeView(
            to_seat_mm=math.dist(reference_in_plan(room, side, placement), seat.plan),
            points=tape_points(room, side, cabinets[side], placement) if cabinets else {},
        )

    return Pair(stand(Side.LEFT), stand(Side.RIGHT))
