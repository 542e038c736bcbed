"""The three ways to choose where a pair begins; all stand as mirror images of each other."""

from __future__ import annotations

import math

import msgspec

from witnessmark.errors import BadInput, LengthError
from witnessmark.layout.footprint import rear_gap_mm
from witnessmark.layout.mirror import MirrorLine, Stance
from witnessmark.layout.practice import Practice
from witnessmark.lengths import Units, format_length, parse_length
from witnessmark.model import Cabinet, Pair, Room, Seat
from witnessmark.model.limits import DISTANCE, LENGTH, TOE_IN


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


def default_seat(
    room: Room,
    practice: Practice,
    *,
    from_front_mm: float | None = None,
    from_left_mm: float | None = None,
    ear_height_mm: float | None = None,
) -> Seat:
    """Return the seat as far as it is known.

    What is not known is as usual: on the room's centre line, at the usual part of the length from
    the back. A height has no usual value.
    """
    if from_front_mm is None:
        from_front_mm = room.length_mm - practice.seat_from_back * room.length_mm
    if from_left_mm is None:
        from_left_mm = room.width_mm / 2
    return Seat(from_front_mm, from_left_mm, ear_height_mm)


def stations(
    line: MirrorLine,
    lane_base_mm: float,
    practice: Practice,
    cabinets: Pair[Cabinet] | None = None,
) -> tuple[Station, ...]:
    """Return the stations from abreast of the seat forward, as far as a cabinet fits behind them.

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


class Triangle(msgspec.Struct, frozen=True, tag_field="kind", tag="triangle"):
    """The listening triangle, both cabinets facing the seat.

    Its size is given by ``base_mm`` (between the middles of the baffles) or by ``setback_mm``;
    without either the base spans the middles of the two lanes.

    Raises:
        BadInput: when both are given, or one is not positive.
    """

    base_mm: float | None = None
    setback_mm: float | None = None

    def __post_init__(self) -> None:
        if self.base_mm is not None and self.setback_mm is not None:
            raise BadInput("triangle: give its base or its setback; one follows from the other")
        for name, value in (("base", self.base_mm), ("setback", self.setback_mm)):
            if value is not None:
                DISTANCE.check(f"triangle.{name}", value)

    def stance(self, line: MirrorLine, lane_base_mm: float, practice: Practice) -> Stance:
        """Return the stance whose triangle has the height base / 2 / tan(half the angle).

        Raises:
            BadInput: when the setback lies at or behind the seat.
        """
        half_angle = math.radians(practice.triangle_deg / 2)
        seat = line.seat
        if self.setback_mm is None:
            base = lane_base_mm if self.base_mm is None else self.base_mm
            setback = seat.from_front_mm - base / 2 / math.tan(half_angle)
            return Stance(base, setback, practice.triangle_deg / 2)
        height = seat.from_front_mm - self.setback_mm
        if height <= 0:
            raise BadInput(
                f"triangle.setback: {self.setback_mm:g} mm leaves no triangle; it must be less "
                f"than the seat's {seat.from_front_mm:g} mm from the front wall"
            )
        return Stance(2 * height * math.tan(half_angle), self.setback_mm, practice.triangle_deg / 2)


class InLane(msgspec.Struct, frozen=True, tag_field="kind", tag="lane"):
    """At a station, on the middle of the lanes; a cabinet turned in is moved to stay in its middle.

    Raises:
        BadInput: when the toe-in is not an angle up to 90 degrees either way.
    """

    setback_mm: float
    toe_in_deg: float = 0.0

    def __post_init__(self) -> None:
        LENGTH.check("setback", self.setback_mm)
        TOE_IN.check("toe-in", self.toe_in_deg)

    def stance(self, line: MirrorLine, lane_base_mm: float, practice: Practice) -> Stance:
        """Return the stance in the middles of the lanes at this setback."""
        return Stance(lane_base_mm, self.setback_mm, self.toe_in_deg)


class Free(msgspec.Struct, frozen=True, tag_field="kind", tag="free"):
    """The person's own numbers for the left cabinet; the right one is its mirror image.

    Without ``toe_in_deg`` both face the seat.

    Raises:
        BadInput: when the toe-in is not an angle up to 90 degrees either way.
    """

    side_mm: float
    setback_mm: float
    toe_in_deg: float | None = None

    def __post_init__(self) -> None:
        LENGTH.check("setback", self.setback_mm)
        if self.toe_in_deg is not None:
            TOE_IN.check("toe-in", self.toe_in_deg)

    def stance(self, line: MirrorLine, lane_base_mm: float, practice: Practice) -> Stance:
        """Return the stance with this distance to the mirror image, which faces the seat.

        Raises:
            BadInput: when the side lies on or beyond the mirror line.
        """
        base = line.base_mm(self.side_mm, self.setback_mm)
        if not (self.side_mm >= 0 and base > 0):
            raise BadInput(
                f"side: {self.side_mm:g} mm must lie between 0 and {line.mirror.words}, "
                f"{line.side_mm(0.0, self.setback_mm):g} mm from the left wall"
            )
        toe_in = self.toe_in_deg
        if toe_in is None:
            toe_in = facing_deg(base, line.seat.from_front_mm - self.setback_mm)
        return Stance(base, self.setback_mm, toe_in)


Start = Triangle | InLane | Free
"""How the beginning was chosen."""


def facing_deg(base_mm: float, forward_mm: float) -> float:
    """Return the toe-in, degrees, that faces a seat on the mirror line, ``forward_mm`` away."""
    return math.degrees(math.atan2(base_mm / 2, forward_mm))


def read_seat(text: str) -> Seat:
    """Return a seat that is written as three lengths with commas between.

    Its distances from the front wall and from the left wall, and the height of the ears.

    Raises:
        BadInput: when it is not.
    """
    try:
        front, left, ears = (parse_length(part).mm for part in text.split(","))
    except (LengthError, ValueError):  # the latter where they are not three
        raise BadInput(
            f'"{text}" is not a seat; write its distance from the front wall, from the left wall '
            "and the height of the ears, as in 4.4m,1.9m,1.0m"
        ) from None
    return Seat(front, left, ears)


def write_seat(seat: Seat, units: Units) -> str:
    """Return a seat as ``read_seat`` reads it."""
    lengths = (seat.from_front_mm, seat.from_left_mm, seat.ear_height_mm or 0.0)
    return ",".join(format_length(length, units) for length in lengths)
