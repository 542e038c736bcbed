"""The air between the cabinets and the seat."""

from __future__ import annotations

import math

from witnessmark.model.limits import AIR


def speed_of_sound_m_s(temperature_c: float) -> float:
    """Speed of sound in air, m/s, at ``temperature_c`` degrees Celsius, -20 to 50.

    Humidity is left out: at 20 degrees and half saturated air it adds 0.8 m/s, a quarter of a per
    cent. Source: ISO 9613-1:1993, formula (A.5).

    Raises:
        BadInput: when the temperature is outside the range.
    """
    AIR.check("temperature", temperature_c)
    return 343.2 * math.sqrt((temperature_c + 273.15) / 293.15)
