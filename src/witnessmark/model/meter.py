"""What a meter is good for, and one number that came from it."""

from __future__ import annotations

import enum
import math
from datetime import datetime
from typing import Final

import msgspec

from witnessmark.errors import BadInput

BY_TAPE: Final = "tape"
"""``Reading.meter`` of what was read off a tape, which has none of the meter's errors."""


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

    def __post_init__(self) -> None:
        for name in ("repeatability", "resolution", "zero"):
            value = getattr(self, f"{name}_mm")
            if not 0 <= value <= 1000:
                raise BadInput(f"meter.{name}: {value:g} mm must lie between 0 and 1 m")
        for name in ("zero_correction", "edge_offset"):
            value = getattr(self, f"{name}_mm")
            if not -1000 <= value <= 1000:
                raise BadInput(f"meter.{name}: {value:g} mm must lie between -1 m and 1 m")
        if not 0 <= self.scale_ppm <= 100_000:
            raise BadInput(f"meter.scale: {self.scale_ppm:g} ppm must lie between 0 and 100000")
        if not 0 <= self.flush_deg <= 5:
            raise BadInput(f"meter.flush: {self.flush_deg:g} must lie between 0 and 5 degrees")
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
        """The distance from where the meter, or the tape, was held, mm."""
        return self.distance_mm + (0.0 if self.meter == BY_TAPE else meter.added_mm)
