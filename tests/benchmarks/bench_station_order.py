"""How many stations each order of the walk needs until the best one is found.

    python tests/benchmarks/bench_station_order.py

500 simulated listeners on 17 stations 300 mm apart. Each has a hidden preference along the walls:
one broad rise, highest at a place drawn evenly (1.2 grades, a Gaussian of 0.9 m standard
deviation), on a random smooth curve (0.5 grades, of correlation length 0.7 m). The mean of six
grades is given: each is 2.5 plus the preference, with an error of 0.5 grades common to the six and
of 0.7 of its own, rounded and held to 1 to 5.

A listener has found the best once the highest graded station so far lies within 300 mm of the
station of the highest hidden preference, and stays there to the end of that order.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np

from witnessmark.acoustics.box import Floats
from witnessmark.listening.order import halving

LISTENERS, STATIONS, STEP_MM, WITHIN_MM = 500, 17, 300.0, 300.0
RISE, RISE_MM, CURVE, CURVE_MM = 1.2, 900.0, 0.5, 700.0
COMMON, OWN, ATTRIBUTES = 0.5, 0.7, 6
ALONG = [5000.0 - STEP_MM * place for place in range(STATIONS)]
Next = Callable[[Mapping[int, float | None]], int | None]


def forward(heard: Mapping[int, float | None]) -> int | None:
    """The stations one after another."""
    return len(heard) if len(heard) < STATIONS else None


def halved(heard: Mapping[int, float | None]) -> int | None:
    """Those farthest apart first, then between the best."""
    return halving(ALONG, [at for at in range(STATIONS) if at not in heard], heard)


def preference(rng: np.random.Generator) -> Floats:
    """The hidden preference of one listener at each station, grades."""
    along = np.array(ALONG)
    apart = along[:, None] - along
    smooth = rng.multivariate_normal(
        np.zeros(STATIONS), CURVE**2 * np.exp(-((apart / CURVE_MM) ** 2) / 2), method="eigh"
    )
    peak = rng.uniform(along.min(), along.max())
    found: Floats = RISE * np.exp(-(((along - peak) / RISE_MM) ** 2) / 2) + smooth
    return found


def evening(hidden: Floats, grades: Sequence[float], following: Next) -> tuple[float, float, int]:
    """Stations until the best is found, until one as near is heard, and of the whole order."""
    best = int(np.argmax(hidden))
    heard: dict[int, float | None] = {}
    near, is_near = [], []
    while (place := following(heard)) is not None:
        heard[place] = grades[place]
        near.append(abs(ALONG[place] - ALONG[best]) <= WITHIN_MM)
        highest = max(heard, key=lambda at: grades[at])
        is_near.append(abs(ALONG[highest] - ALONG[best]) <= WITHIN_MM)
    misses = [at for at, found in enumerate(is_near) if not found]
    until = (misses[-1] + 2 if misses else 1) if is_near[-1] else math.inf
    return until, near.index(True) + 1 if True in near else math.inf, len(heard)


def main() -> None:
    """Print both orders side by side."""
    rng = np.random.default_rng(16)
    outcomes: dict[str, list[tuple[float, float, int]]] = {"forward": [], "halving": []}
    for _ in range(LISTENERS):
        hidden = preference(rng)
        given = 2.5 + hidden + rng.normal(0, COMMON, STATIONS)
        each = given[:, None] + rng.normal(0, OWN, (STATIONS, ATTRIBUTES))
        grades = np.clip(np.round(each), 1, 5).mean(axis=1).tolist()
        for name, following in (("forward", forward), ("halving", halved)):
            outcomes[name].append(evening(hidden, grades, following))
    print(f"{LISTENERS} listeners, {STATIONS} stations {STEP_MM:g} mm apart")
    print(f"{'':36}{'forward':>8}{'halving':>9}")
    ends = {name: np.array(found, dtype=float) for name, found in outcomes.items()}
    rows: dict[str, Callable[[Floats], str]] = {
        "found at the end, of 100": lambda one: f"{100 * np.isfinite(one[:, 0]).mean():.0f}",
        "median stations until it is found": lambda one: f"{np.median(one[:, 0]):g}",
        "  the same where it is found": lambda one: (
            f"{np.median(one[np.isfinite(one[:, 0]), 0]):g}"
        ),
        "median stations until one is heard": lambda one: f"{np.median(one[:, 1]):g}",
        "median stations of the whole order": lambda one: f"{np.median(one[:, 2]):g}",
    }
    for label, figure in rows.items():
        print(f"{label:36}{figure(ends['forward']):>8}{figure(ends['halving']):>9}")


if __name__ == "__main__":
    main()
