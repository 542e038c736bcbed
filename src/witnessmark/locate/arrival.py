"""How the sound of the two cabinets meets at the seat; differences are left minus right."""

from __future__ import annotations

import math

from witnessmark.errors import BadInput
from witnessmark.model import PlanPoint, Seat
from witnessmark.model.limits import AIR


def speed_of_sound_m_s(temperature_c: float) -> float:
    """Return the speed of sound in air, m/s, at -20 to 50 degrees Celsius.

    Humidity is left out: at 20 degrees and half saturated air it adds 0.8 m/s, a quarter of a per
    cent. Source: ISO 9613-1:1993, formula (A.5).

    Raises:
        BadInput: when the temperature is outside the range.
    """
    AIR.check("temperature", temperature_c)
    return 343.2 * math.sqrt((temperature_c + 273.15) / 293.15)


def path_mm(reference_plan: PlanPoint, acoustic_height_mm: float | None, seat: Seat) -> float:
    """Return the straight distance, mm, from a cabinet's acoustic centre to the ears.

    ``reference_plan`` is the plan position of the cabinet's reference point, above which the
    acoustic centre is taken to stand. Where either height is unknown the two count as equal.
    """
    if acoustic_height_mm is None or seat.ear_height_mm is None:
        return math.dist(reference_plan, seat.plan)
    return math.dist((*reference_plan, acoustic_height_mm), (*seat.plan, seat.ear_height_mm))


def arrival_us(path_difference_mm: float, temperature_c: float = 20.0) -> float:
    """Return the difference of arrival for a path difference, µs; positive when left is later.

    Raises:
        BadInput: when the temperature is outside the range of :func:`speed_of_sound_m_s`.
    """
    return 1000 * path_difference_mm / speed_of_sound_m_s(temperature_c)


def level_db(path_left_mm: float, path_right_mm: float) -> float:
    """Return the level of left less that of right at the seat, dB; positive when left is louder.

    Direct sound of two equal sources, by the inverse-distance law.

    Raises:
        BadInput: when a path is not longer than nothing.
    """
    if not (path_left_mm > 0 and path_right_mm > 0):
        raise BadInput("path: the seat must stand away from both cabinets")
    return -20 * math.log10(path_left_mm / path_right_mm)
