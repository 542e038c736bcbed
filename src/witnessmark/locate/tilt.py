"""How far a baffle leans, and where that sends its axis.

Tilt is positive when the baffle leans back. A face that leans back by t is farther from a plumb
line or wall in front of it the higher one looks; a rear face parallel to it comes nearer to what is
behind. With two readings r_high and r_low taken d apart, measured along what the meter is held to,

    held on the wall      r_high - r_low = +-d tan(t) / cos(a)    d straight up the wall
    held on the cabinet   r_high - r_low = +-d tan(t)             d up the cabinet's face

where a is the angle between the face and the wall in plan, and the sign is - behind the cabinet.
The meter's zero is the same in both readings and drops out.
"""

from __future__ import annotations

import math

import msgspec

from witnessmark.errors import BadInput
from witnessmark.geometry.frame import side_frame
from witnessmark.geometry.verdict import Verdict, verdict
from witnessmark.model import (
    Held,
    Inclinometer,
    Meter,
    Placement,
    PlumbReadings,
    Setup,
    Side,
    Tilt,
    TiltReadings,
)
from witnessmark.model.limits import TILT_SHOWN
from witnessmark.model.pair import COVERAGE_FACTOR


def tilt_of(taken: TiltReadings, setup: Setup) -> Tilt:
    """Return the tilt from what was read of it, with the setup's meter or inclinometer.

    Raises:
        BadInput: when the readings would mean a cabinet that is falling over.
    """
    if isinstance(taken, PlumbReadings):
        return tilt_from_distances(taken, setup.meter)
    return tilt_from_angle(taken.angle_deg, setup.inclinometer)


def tilt_from_distances(readings: PlumbReadings, meter: Meter) -> Tilt:
    """Return the tilt of a face from two distances, with the meter's own spread.

    The uncertainty of ``toe_in_deg`` and the meter's scale are left out: of a tilt of 2 degrees
    they make less than a hundredth of one.

    Raises:
        BadInput: when the readings would mean a cabinet that is falling over.
    """
    cosine = math.cos(math.radians(readings.toe_in_deg)) if readings.held is Held.WALL else 1.0
    base = readings.apart_mm / cosine * (-1 if readings.behind else 1)
    slope = (readings.high_mm - readings.low_mm) / base
    tilt = math.degrees(math.atan(slope))
    if not TILT_SHOWN.admits(tilt):
        raise BadInput(
            f"tilt: these readings mean a lean of {abs(tilt):.0f}°; measure both distances and the "
            "height between them again"
        )
    by_readings = math.sqrt(2) * meter.shot_sigma_mm / base
    by_spacing = slope * readings.apart_sigma_mm / readings.apart_mm
    by_slope = math.degrees(math.hypot(by_readings, by_spacing)) / (1 + slope**2)
    return Tilt(tilt, math.hypot(by_slope, readings.upright_deg))


def tilt_from_angle(reading_deg: float, inclinometer: Inclinometer) -> Tilt:
    """Return the tilt as an inclinometer on the baffle shows it; leaning back is positive.

    Raises:
        BadInput: when the angle would mean a cabinet that is falling over.
    """
    if not TILT_SHOWN.admits(reading_deg):
        raise BadInput(
            f"tilt.angle: {reading_deg:g}° is not a lean from the upright; an instrument that "
            "counts from the level shows 90° on an upright baffle: give what is left of 90°"
        )
    own = math.hypot(inclinometer.repeatability_deg, inclinometer.resolution_deg / math.sqrt(12))
    return Tilt(reading_deg, own, inclinometer.zero_deg)


class TiltSymmetry(msgspec.Struct, frozen=True):
    """Tilt of the left less that of the right, its expanded uncertainty (k = 2), and a verdict."""

    tilt_deg: float
    expanded_deg: float
    verdict: Verdict


def tilt_symmetry(left: Tilt, right: Tilt, tolerance_deg: float) -> TiltSymmetry:
    """Return how the two tilts differ; what one instrument does to both alike drops out."""
    difference = left.tilt_deg - right.tilt_deg
    own = math.hypot(left.own_deg, right.own_deg)
    expanded = COVERAGE_FACTOR * math.hypot(own, left.shared_deg - right.shared_deg)
    return TiltSymmetry(difference, expanded, verdict(difference, expanded, tolerance_deg))


class AxisHeight(msgspec.Struct, frozen=True):
    """How high above the floor a cabinet's axis passes abreast of the seat, mm.

    ``expanded_mm`` is its expanded uncertainty (k = 2) for that of the tilt; ``over_ear_mm`` is
    positive above the ears, None where their height is not known.
    """

    height_mm: float
    expanded_mm: float
    over_ear_mm: float | None


def axis_height(setup: Setup, side: Side, placement: Placement, tilt: Tilt) -> AxisHeight:
    """Return where the tilted axis of a cabinet meets the listening distance in height.

    The axis leaves the baffle square to it, at the acoustic height as the cabinet now stands, and
    is followed to the point of it that is abreast of the seat. On a baffle that leans back the
    acoustic centre stands behind the reference point.

    Raises:
        BadInput: when the cabinet's acoustic height is not known.
    """
    acoustic = _acoustic_height_mm(setup, side)
    slope = math.tan(math.radians(tilt.tilt_deg))
    run = _run_mm(setup, side, placement) + acoustic * slope
    height = acoustic + run * slope
    per_radian = (run + acoustic * slope) * (1 + slope**2)
    expanded = abs(per_radian) * math.radians(tilt.expanded_deg)
    ears = setup.seat.ear_height_mm
    return AxisHeight(height, expanded, None if ears is None else height - ears)


def tilt_to_ears(setup: Setup, side: Side, placement: Placement) -> float:
    """Return the tilt in degrees that sends the axis past the seat at the height of the ears.

    Raises:
        BadInput: when a height is not known, or the seat is too near to be reached so.
    """
    acoustic, ears = _acoustic_height_mm(setup, side), setup.seat.ear_height_mm
    if ears is None:
        raise BadInput('seat.ear_height: it is needed to aim in height; give it as "1.02 m"')
    run = _run_mm(setup, side, placement)
    # acoustic s^2 + run s + acoustic - ears = 0, in the form that keeps its digits for small s
    square = run**2 - 4 * acoustic * (acoustic - ears)
    if run <= 0 or square < 0:
        raise BadInput("seat: it is too near to the cabinet for its axis to be tilted to the ears")
    return math.degrees(math.atan(2 * (ears - acoustic) / (run + math.sqrt(square))))


def _acoustic_height_mm(setup: Setup, side: Side) -> float:
    height = setup.cabinets[side].acoustic_height_mm
    if height is None:
        raise BadInput(
            f"cabinet.acoustic_height: it is needed to follow the {side} cabinet's axis in height; "
            'give it as "940 mm"'
        )
    return height


def _run_mm(setup: Setup, side: Side, placement: Placement) -> float:
    """From the reference point along the axis to abreast of the seat, in plan."""
    frame = side_frame(setup.room, side)
    along, out = frame.reference(placement)
    seat_along, seat_out = frame.from_plan(setup.seat.plan)
    toe_in = math.radians(placement.toe_in_deg)
    return math.sin(toe_in) * (seat_along - along) + math.cos(toe_in) * (seat_out - out)
