"""The least differences that can be heard, and what a difference of arrival is as an angle.

The least difference of arrival that is noticed is about 10 microseconds under the best conditions
(tutorial of the CIPIC Interface Lab, UC Davis), that of level 0.5 to 1 dB (Breebaart & Faller,
Spatial Audio Processing (2007), 3.5.1).
"""

from __future__ import annotations

import math

LEAST_ARRIVAL_US = 10.0
LEAST_LEVEL_DB = 0.5
_HEAD_M = 0.0875
_SPEED_M_S = 343.0


def woodworth_us(azimuth_deg: float) -> float:
    """Difference of arrival at the two ears of a source so far to one side, microseconds.

    Woodworth's sphere, (a/c) (t + sin t) with a = 87.5 mm and c = 343 m/s, for -90 to 90 degrees
    (figures of the University of Manchester's demonstration).
    """
    azimuth = math.radians(azimuth_deg)
    return 1e6 * _HEAD_M / _SPEED_M_S * (azimuth + math.sin(azimuth))


def image_shift_deg(arrival_us: float) -> float:
    """To which side, and how far, a source would stand that arrives with such a difference.

    The inverse of ``woodworth_us``, of the same sign; at most 90 degrees.
    """
    wanted = min(abs(arrival_us) * 1e-6 * _SPEED_M_S / _HEAD_M, math.pi / 2 + 1)
    azimuth = wanted / 2
    for _ in range(6):
        azimuth += (wanted - azimuth - math.sin(azimuth)) / (1 + math.cos(azimuth))
    return math.copysign(math.degrees(azimuth), arrival_us)
