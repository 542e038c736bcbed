"""What a meter is good for, and one number that came from it."""

from __future__ import annotations

import enum
import math
from collections.abc import Mapping
from datetime import datetime
from typing import ClassVar, Final

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import BEAM, METER_ERROR, METER_SHIFT, SCALE, Limit, check_fields

BY_TAPE: Final = "tape"
"""``Reading.meter`` of what was read off a tape, which has none of the meter's errors."""


ROUNDS_OF_MARKS: Final = 5
"""How often each distance between three marks is shot at most to check a meter's zero: by then its
uncertainty is less than half of that by one round."""


class Edge(enum.StrEnum):
    """The part of the meter that is held where a distance begins."""

    REAR = "rear"
    FRONT = "front"
    THREAD = "thread"
    """The tripod thread."""
    OTHER = "other"
    """An end piece, a plate, whatever the person holds to the mark."""


class Meter(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Error model of a distance meter: standard deviations, not expanded.

    ``repeatability_mm`` is drawn afresh for each shot. ``resolution_mm`` is the step of the display
    (rectangular, standard uncertainty step / sqrt 12, GUM 4.3.7). ``zero_mm`` is the standard
    deviation of the one zero error shared by all shots of the meter, ``scale_ppm`` that of its one
    scale error. ``flush_deg`` is that of the angle between its beam and the face that it lies on:
    no distance to speak of, but at the end of a room it moves the dot of a spot shot.

    Two lengths of either sign are added to each of its readings: ``zero_correction_mm`` takes the
    zero error away as far as it is known (``zero_mm`` says how well that is), ``edge_offset_mm``
    makes the distance count from the ``edge`` that is held, where the meter counts from elsewhere.

    Raises:
        BadInput: when a standard deviation is negative, repeatability and resolution are both zero,
            or a figure is out of all reason.
    """

    repeatability_mm: float = 0.5
    resolution_mm: float = 1.0
    zero_mm: float = 0.7
    scale_ppm: float = 0.0
    flush_deg: float = 0.0
    zero_correction_mm: float = 0.0
    edge: Edge = Edge.REAR
    edge_offset_mm: float = 0.0

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "repeatability_mm": METER_ERROR,
        "resolution_mm": METER_ERROR,
        "zero_mm": METER_ERROR,
        "zero_correction_mm": METER_SHIFT,
        "edge_offset_mm": METER_SHIFT,
        "scale_ppm": SCALE,
        "flush_deg": BEAM,
    }

    def __post_init__(self) -> None:
        check_fields("meter", self, self.LIMITS)
        if self.shot_sigma_mm == 0:
            raise BadInput(
                "meter.repeatability: repeatability and resolution cannot both be 0; "
                "give the spread of repeated shots, such as 0.5 mm"
            )

    @property
    def shot_sigma_mm(self) -> float:
        """Standard uncertainty that each shot has of its own, mm."""
        return math.hypot(self.repeatability_mm, self.resolution_mm / math.sqrt(12))

    @property
    def added_mm(self) -> float:
        """What is added to each reading of the meter, mm."""
        return self.zero_correction_mm + self.edge_offset_mm


class Reading(msgspec.Struct, frozen=True):
    """A number from a meter, when it came (UTC), from which meter, and the bytes it came in."""

    distance_mm: float
    at: datetime
    meter: str
    raw: bytes = b""

    def from_the_edge_mm(self, meter: Meter) -> float:
        """Return the distance from where the meter, or the tape, was held, mm."""
        return self.distance_mm + (0.0 if self.meter == BY_TAPE else meter.added_mm)
