"""The fractions and the step from which everything else in this package follows."""

from __future__ import annotations

import msgspec

from witnessmark.errors import BadInput
from witnessmark.lengths import Units

FOOT_MM = 304.8


class Practice(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How a pair is begun; lanes, seat and stations are common practice, no source.

    A lane runs from ``lane_from`` to ``lane_to`` of the room's width from the side wall, the seat
    stands ``seat_from_back`` of its length from the back wall, the stations are ``station_step_mm``
    apart. The angle between the pair at the seat is that of Rec. ITU-R BS.775-3, figure 1.

    Raises:
        BadInput: when a value leaves nothing to lay out.
    """

    lane_from: float = 1 / 4
    lane_to: float = 1 / 3
    seat_from_back: float = 1 / 3
    station_step_mm: float = 300.0
    triangle_deg: float = 60.0

    @classmethod
    def in_units(cls, units: Units) -> Practice:
        """Return the usual practice, with stations a foot apart where lengths are in inches."""
        in_feet = not units.is_metric
        return cls(station_step_mm=FOOT_MM) if in_feet else cls()

    def __post_init__(self) -> None:
        if not 0 <= self.lane_from < self.lane_to <= 1 / 2:
            raise BadInput("lane: it must run from 0 or more to at most half of the room's width")
        if not 0 < self.seat_from_back < 1:
            raise BadInput("seat_from_back: the fraction must lie between 0 and 1")
        if not 20 <= self.station_step_mm <= 2000:
            raise BadInput(
                f"station step: {self.station_step_mm:g} mm must lie between 20 mm and 2 m"
            )
        if not 10 <= self.triangle_deg <= 120:
            raise BadInput("triangle: the angle at the seat must lie between 10 and 120 degrees")
