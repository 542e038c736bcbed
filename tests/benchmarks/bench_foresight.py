"""The walk foreseen against pyroomacoustics' image sources for the same figures, in one run.

    python tests/benchmarks/bench_foresight.py

Seventeen stations, three spreads, two cabinets, and lines of 1/24 octave from 20 to 300 Hz, in the
example room with all surfaces as furnished. pyroomacoustics is an open library of room acoustics.
It has its images by its own compiled code; the level at each line is then the sum over them, as it
has no such sum of its own. Two orders: one up to which nothing louder than a hundredth of the
source is lost, which gives the same figures, and a low one that is quicker and far off. How far off
each is from ours is printed. It does three sources, and the time of the others is that of these in
proportion. Also printed: one position as the pair moves, in milliseconds, with and without what
makes its dips, and the same without the left wall of that room, where image sources are all there
is. The linear algebra library's own threads wait for one another where the machine is busy: the
milliseconds hold for an idle one, or with OPENBLAS_NUM_THREADS=1.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
import pyroomacoustics

from witnessmark.acoustics.box import Floats
from witnessmark.acoustics.foresight import (
    FREQUENCIES_HZ,
    Foresight,
    Furnishing,
    absorptions,
    difference_db,
)
from witnessmark.acoustics.reflections import SpacePoint
from witnessmark.acoustics.scene import Scene
from witnessmark.model import Pair, Placement, Room, Seat, Side, Wall

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
_ORDERS = (72, 20)
"""(1 - 0.12) ** (72 / 2) is a hundredth; ** (20 / 2) more than a quarter."""
_TRIED = 3


def seconds(what: Callable[[], object]) -> float:
    """How long a call takes."""
    begin = time.perf_counter()
    what()
    return time.perf_counter() - begin


def theirs(source_mm: SpacePoint, ears_mm: SpacePoint, order: int) -> Floats:
    """The level of one source at the ears at every line, dB."""
    furnished = pyroomacoustics.Material(Furnishing.FURNISHED.absorption)
    room = pyroomacoustics.ShoeBox(np.array(SIZES) / 1000, materials=furnished, max_order=order)
    room.add_source(np.array(source_mm) / 1000)
    room.add_microphone(np.array(ears_mm) / 1000)
    room.image_source_model()
    (heard,) = room.sources
    away = np.linalg.norm(heard.images - np.array(ears_mm)[:, None] / 1000, axis=0)
    amplitudes = np.broadcast_to(heard.damping, (heard.damping.shape[0], len(away)))[0] / away
    waves = math.tau * FREQUENCIES_HZ / SCENE.speed_m_s
    total = np.array([np.sum(amplitudes * np.exp(-1j * k * away)) for k in waves])
    level: Floats = 20 * np.log10(np.abs(total) * math.dist(source_mm, ears_mm) / 1000)
    return level


def main() -> None:
    """Print the ratio and the time of one position."""
    absorbed = absorptions(Furnishing.FURNISHED)

    def ours() -> object:
        return Foresight(SCENE, absorbed).levels(WALK)

    ours()  # warms up
    foresight = Foresight(SCENE, absorbed)
    sources = [foresight.source(side, one[side]) for one in WALK for side in Side]
    places = [turn * len(sources) // _TRIED for turn in range(_TRIED)]
    own = float(np.median([seconds(ours) for _ in places]))
    print(f"the whole walk, {len(sources)} sources: {1000 * own:.0f} ms")
    for order in _ORDERS:
        spent, off = [], []
        for place in places:
            begin = time.perf_counter()
            level = theirs(sources[place], foresight.ears, order)
            spent.append(time.perf_counter() - begin)
            (levels,) = foresight.levels([WALK[place // 2]])
            off.append(difference_db(level, levels[place % 2]))
        ratio = len(sources) * float(np.median(spent)) / own
        print(
            f"  pyroomacoustics up to order {order} takes {ratio:.0f} times as long "
            f"(aim: {AIM:g}) and differs by {np.median(off):.1f} dB"
        )
    one_position(foresight)
    open_left = Foresight(SCENE, {**absorbed, Wall.LEFT: 1.0})
    whole = seconds(lambda: open_left.levels(WALK))
    print(f"the whole walk without a left wall: {whole / own:.1f} times as long")
    one_position(open_left)


def one_position(foresight: Foresight) -> None:
    """Print what one position costs as the pair moves, with the causes of both cabinets' dips."""

    def with_causes() -> None:
        foresight.levels(WALK[7:8])
        for side in Side:
            foresight.dips(side, WALK[7][side])

    one = float(np.median([seconds(lambda: foresight.levels(WALK[7:8])) for _ in range(30)]))
    both = float(np.median([seconds(with_causes) for _ in range(30)]))
    print(
        f"one position: {1000 * one:.1f} ms, with the causes of its dips {1000 * both:.1f} ms "
        f"(aim: below {AIM_MS:g})"
    )


if __name__ == "__main__":
    main()
