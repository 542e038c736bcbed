"""The walk foreseen against pyroomacoustics' image sources for the same figures, in one run.

    python tests/benchmarks/bench_foresight.py

Seventeen stations, three spreads, two cabinets, and lines of 1/24 octave from 20 to 300 Hz, in the
example room with all surfaces as furnished. pyroomacoustics is an open library of room acoustics.
It has its images by its own compiled code, up to an order that loses nothing louder than a
hundredth of the source (more would only make it slower); the level at each line is then the sum
over them, as it has no such sum of its own. It does three sources, and the time of the others is
that of these in proportion. Also printed: one position as the pair moves, in milliseconds.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
import pyroomacoustics

from witnessmark.acoustics.foresight import (
    FREQUENCIES_HZ,
    Foresight,
    Furnishing,
    absorptions,
)
from witnessmark.acoustics.scene import Scene
from witnessmark.model import Pair, Placement, Room, Seat, Side

AIM, AIM_MS = 20.0, 20.0
SIZES = (5360.0, 7240.0, 2500.0)
SCENE = Scene(
    Room.rectangular(*SIZES),
    Seat(5500.0, 2680.0, 1020.0),
    Pair(900.0, 900.0),
    Pair[Placement | None](None, None),
)
WALK = [
    Pair(Placement(side, 5500.0 - 300.0 * step, 0.0), Placement(side, 5500.0 - 300.0 * step, 0.0))
    for side in (1100.0, 1450.0, 1800.0)
    for step in range(17)
]
_ORDER = 72
"""(1 - 0.12) ** (72 / 2) is a hundredth."""
_TRIED = 3


def seconds(what: Callable[[], object]) -> float:
    """How long a call takes."""
    begin = time.perf_counter()
    what()
    return time.perf_counter() - begin


def theirs(source_mm: tuple[float, float, float], ears_mm: tuple[float, float, float]) -> object:
    """The level of one source at the ears at every line, dB."""
    furnished = pyroomacoustics.Material(Furnishing.FURNISHED.absorption)
    room = pyroomacoustics.ShoeBox(np.array(SIZES) / 1000, materials=furnished, max_order=_ORDER)
    room.add_source(np.array(source_mm) / 1000)
    room.add_microphone(np.array(ears_mm) / 1000)
    room.image_source_model()
    (heard,) = room.sources
    away = np.linalg.norm(heard.images - np.array(ears_mm)[:, None] / 1000, axis=0)
    amplitudes = np.broadcast_to(heard.damping, (heard.damping.shape[0], len(away)))[0] / away
    waves = math.tau * FREQUENCIES_HZ / SCENE.speed_m_s
    total = np.array([np.sum(amplitudes * np.exp(-1j * k * away)) for k in waves])
    return 20 * np.log10(np.abs(total) * math.dist(source_mm, ears_mm) / 1000)


def main() -> None:
    """Print the ratio and the time of one position."""
    absorbed = absorptions(Furnishing.FURNISHED)

    def ours() -> object:
        return Foresight(SCENE, absorbed).levels(WALK)

    ours()  # warms up
    foresight = Foresight(SCENE, absorbed)
    sources = [foresight.source(side, one[side]) for one in WALK for side in Side]
    own, other = [], []
    for turn in range(_TRIED):
        own.append(seconds(ours))
        source = sources[turn * len(sources) // _TRIED]
        other.append(seconds(lambda source=source: theirs(source, foresight.ears)))  # type: ignore[misc]
    whole = len(sources) * float(np.median(other))
    ratio = whole / float(np.median(own))
    one = float(np.median([seconds(lambda: foresight.levels(WALK[7:8])) for _ in range(30)]))
    print(f"the whole walk, {len(sources)} sources: {1000 * float(np.median(own)):.0f} ms")
    print(f"  pyroomacoustics takes {ratio:.0f} times as long (aim: {AIM:g})")
    print(f"one position: {1000 * one:.1f} ms (aim: below {AIM_MS:g})")


if __name__ == "__main__":
    main()
