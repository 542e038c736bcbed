"""One slip among a thousand shots: what finding it costs, over an answer to shots without one.

Run with ``python tests/benchmarks/bench_blunders.py``. What is printed are ratios of medians of one
interleaved run. Each way is given rounds that were never solved before, because answers are kept.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator

import numpy as np
from bench_pose import SETUP, STANDING
from interleaved import medians_us

from witnessmark.locate.blunders import explain
from witnessmark.locate.pose import locate, predict
from witnessmark.model import AimedAt, Held, Shot, ShotKind, Side

SHOTS = 1000
TURNS = 12
ROUND_THE_CABINET = (
    ("front-outer", AimedAt.LEFT),
    ("rear-outer", AimedAt.LEFT),
    ("rear-outer", AimedAt.FRONT),
    ("rear-inner", AimedAt.FRONT),
    ("rear-inner", AimedAt.RIGHT),
    ("front-inner", AimedAt.RIGHT),
    ("front-inner", AimedAt.BACK),
    ("front-outer", AimedAt.BACK),
)
SLIPS_MM = (15.0, 120.0, 3000.0, -900.0)


def rounds(rng: np.random.Generator, *, slip: bool) -> Iterator[list[Shot]]:
    """Yield rounds of a thousand noisy shots, one of them wrong where there is to be a slip."""
    kinds = [ShotKind(Side.LEFT, point, to, Held.CABINET) for point, to in ROUND_THE_CABINET]
    true_mm = [predict(SETUP, {Side.LEFT: STANDING}, kind) for kind in kinds]
    for slip_mm in itertools.cycle(SLIPS_MM):
        readings = np.resize(true_mm, SHOTS) + rng.normal(0.0, 0.5, SHOTS)
        if slip:
            readings[rng.integers(SHOTS)] += slip_mm
        yield [
            Shot(kind, float(reading))
            for kind, reading in zip(itertools.cycle(kinds), readings, strict=False)
        ]


def solved(
    answer: Callable[[list[Shot]], object], given: Iterator[list[Shot]]
) -> Callable[[], object]:
    """Return a call that solves the next of ``given``, which are drawn beforehand."""
    ready = list(itertools.islice(given, TURNS + TURNS // 10 + 1))
    return lambda: answer(ready.pop())


def main() -> None:
    """Print the ratios."""
    rng = np.random.default_rng(3)
    medians = medians_us(
        {
            "slip": solved(lambda shots: explain(SETUP, shots), rounds(rng, slip=True)),
            "clean": solved(lambda shots: explain(SETUP, shots), rounds(rng, slip=False)),
            "locate": solved(lambda shots: locate(SETUP, shots), rounds(rng, slip=False)),
        },
        turns=TURNS,
        calls=1,
    )
    print(f"{SHOTS} shots, checked: {medians['clean'] / 1e3:.0f} ms")
    print(f"  with one slip {medians['slip'] / medians['clean']:.1f} times as long (aim: 10)")
    print(f"  the pose alone {medians['locate'] / medians['clean']:.2f} times as long")


if __name__ == "__main__":
    main()
