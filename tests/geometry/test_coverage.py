"""Stated intervals hold the truth as often as they say: ten thousand simulated rounds.

The rounds come from the simulated room and its meter, whose distances are its own ray casting. An
interval of k = 2 holds 95.45 % of a normal distribution; the zero error is drawn afresh for each
round, as its prior says.
"""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.geometry.pose import locate
from witnessmark.geometry.symmetry import QUANTITIES, SymmetryError, path_to_seat_mm, symmetry
from witnessmark.model import Pair, Placement, Setup, Shot, Side
from witnessmark.model.uncertainty import COVERAGE_FACTOR
from witnessmark.placing.walk import walk
from witnessmark.sound.arrival import arrival_us, level_db
from witnessmark_simulators.scenario import DEMO_SETUP, DEMO_TARGETS, Scenario, start_near

ROUNDS = 10_000
LEAST, MOST = 0.945, 0.965


def _true_symmetry(setup: Setup, truth: Pair[Placement]) -> SymmetryError:
    paths = [path_to_seat_mm(setup, side, truth[side]) for side in Side]
    difference = truth.left.minus(truth.right)
    return SymmetryError(
        difference.side_mm,
        difference.setback_mm,
        difference.toe_in_deg,
        paths[0] - paths[1],
        arrival_us(paths[0] - paths[1], setup.temperature_c),
        level_db(*paths),
    )


def _one_round(rng: np.random.Generator) -> list[bool]:
    """Whether each interval holds the truth: three of each cabinet, six of the symmetry."""
    person = Scenario(DEMO_SETUP, start_near(DEMO_TARGETS, rng)).person(rng)
    kinds = [kind for side in Side for kind in walk(DEMO_SETUP, side)]
    shots = [Shot(kind, answer.distance_mm or 0.0) for kind, answer in person.walk(kinds)]
    located = locate(DEMO_SETUP, shots)
    held = []
    for side in Side:
        off, width = located.placements[side].minus(person.truth[side]), located.expanded(side)
        held += [
            abs(getattr(off, name)) <= getattr(width, name)
            for name in ("side_mm", "setback_mm", "toe_in_deg")
        ]
    said, truth = symmetry(DEMO_SETUP, located), _true_symmetry(DEMO_SETUP, person.truth)
    held += [
        abs(getattr(said.error, name) - getattr(truth, name)) <= getattr(said.expanded, name)
        for name in QUANTITIES
    ]
    return held


@pytest.fixture(scope="module")
def shares() -> dict[str, float]:
    assert COVERAGE_FACTOR == 2.0
    rng = np.random.default_rng(2026)
    held = np.array([_one_round(rng) for _ in range(ROUNDS)]).mean(axis=0).tolist()
    names = [f"{side} {name}" for side in Side for name in ("side", "setback", "toe-in")]
    names += [f"symmetry {name}" for name in QUANTITIES]
    return dict(zip(names, held, strict=True))


def test_every_interval_holds_the_truth_as_often_as_it_says(shares: dict[str, float]) -> None:
    for name, share in shares.items():
        print(f"{name:26} {share:.2%}")
    assert all(LEAST <= share <= MOST for share in shares.values())
