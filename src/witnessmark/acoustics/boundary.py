"""What near walls do to the power that a source gives off at low frequencies.

A source beside n walls that stand square to each other drives, beside itself, its mirror images.
With k = 2 pi f / c and j(x) = sin x / x the power over that in the open is

    W/W0 = 1 + sum j(2 k d)

where d runs over the distances to the walls and to the edges and the corner that they make, the
root of the sum of the squares of any of them (Waterhouse, JASA 27, 247 (1955) and 30, 4 (1958);
Allison, JAES 22, 314 (1974); formula from memory). Walls are taken as rigid and endless.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import LENGTH

_LOWEST_HZ, _STEP = 20.0, 1.01


class Dip(msgspec.Struct, frozen=True):
    """Where the walls take most power away: frequency, Hz, and level against the open, dB."""

    frequency_hz: float
    level_db: float


def power_level_db(distances_mm: Sequence[float], frequency_hz: float, speed_m_s: float) -> float:
    """Return the power of a source near walls square to each other, dB above that in the open.

    Args:
        distances_mm: from the source to one, two or three walls.
        frequency_hz: above 0.
        speed_m_s: of sound.

    Raises:
        BadInput: when there are not one to three distances, or one is negative.
    """
    if not 1 <= len(distances_mm) <= 3 or not all(LENGTH.admits(d) for d in distances_mm):
        raise BadInput("boundary: give the distances to one, two or three walls, 0 to 100 m each")
    per_mm = 2 * math.tau * frequency_hz / speed_m_s / 1000
    power = 1.0
    for count in range(1, len(distances_mm) + 1):
        for some in itertools.combinations(distances_mm, count):
            power += _sinc(per_mm * math.hypot(*some))
    return 10 * math.log10(power)


def power_dip(distances_mm: Sequence[float], most_hz: float, speed_m_s: float) -> Dip:
    """Return the deepest dip from 20 Hz up to a frequency, to a hundredth of a hertz."""
    steps = math.ceil(math.log(most_hz / _LOWEST_HZ, _STEP))
    scanned = [_LOWEST_HZ * _STEP**step for step in range(steps + 1)]

    def level(frequency_hz: float) -> float:
        return power_level_db(distances_mm, frequency_hz, speed_m_s)

    best = min(scanned, key=level)
    low, high = best / _STEP, min(best * _STEP, most_hz)
    while high - low > 0.01:
        third = (high - low) / 3
        if level(low + third) < level(high - third):
            high -= third
        else:
            low += third
    frequency = (low + high) / 2
    return Dip(frequency, level(frequency))


def _sinc(x: float) -> float:
    return math.sin(x) / x if x else 1.0
