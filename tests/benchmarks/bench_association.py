"""How often grades are said to go along with what was foreseen, where they do and where not.

    python tests/benchmarks/bench_association.py

Simulated evenings on the walk of the example room, the middle spread, positions drawn without
order. Six attributes are graded from 1 to 5. Without a relation every grade is drawn by itself.
With one, every grade is 3 plus 1.2 times the standardised unevenness of the position, plus an error
of one grade's standard deviation of its own, rounded and held to 1 to 5.
"""

from __future__ import annotations

import numpy as np

from witnessmark.acoustics.box import Floats
from witnessmark.acoustics.foresight import Furnishing, absorptions
from witnessmark.listening.association import (
    CHANCE,
    LEAST_POSITIONS,
    ForeseenFigure,
    family,
    figures,
)
from witnessmark.listening.foreseen import ForeseenWalk
from witnessmark.model import GRADED, Cabinet, Pair, Room, Seat, Setup

EVENINGS = 300
SLOPE, ERROR = 1.2, 1.0
CABINET = Cabinet(262.0, 391.0, 900.0)
SETUP = Setup(
    room=Room.rectangular(5360.0, 7240.0, 2500.0),
    cabinets=Pair(CABINET, CABINET),
    seat=Seat(4826.0, 2680.0, 1020.0),
)


def found(values: Floats, grades: Floats) -> bool:
    """Whether anything is said to go along."""
    values = values[:, np.ptp(values, axis=0) >= 0.5].round(2)
    grades = grades[:, np.ptp(grades, axis=0) > 0]
    _, chance = family(values, grades)
    return bool((chance <= CHANCE).any())


def main() -> None:
    """Print a line for each count of positions."""
    walk = ForeseenWalk(SETUP, absorptions(Furnishing.FURNISHED))
    every = np.array([list(figures(one.levels).values()) for one in walk.spreads[1].positions])
    uneven = every[:, list(ForeseenFigure).index(ForeseenFigure.UNEVENNESS)]
    preferred = -(uneven - uneven.mean()) / uneven.std()
    rng = np.random.default_rng(16)
    print(f"{EVENINGS} evenings each; said to go along, of 100:")
    for count in (LEAST_POSITIONS, 9, 12, len(every)):
        none = some = 0
        for _ in range(EVENINGS):
            chosen = rng.permutation(len(every))[:count]
            none += found(every[chosen], rng.integers(1, 6, (count, len(GRADED))).astype(float))
            heard = 3 + SLOPE * preferred[chosen, None]
            heard = heard + rng.normal(0, ERROR, (count, len(GRADED)))
            some += found(every[chosen], np.clip(np.round(heard), 1, 5))
        print(
            f"  {count:2} positions: {100 * none / EVENINGS:4.1f} without a relation, "
            f"{100 * some / EVENINGS:5.1f} with one"
        )


if __name__ == "__main__":
    main()
