"""Stated intervals hold the truth as often as they say: ten thousand simulated rounds.

All of them at once are shot and adjusted here, by formulas of the walk's eight shots and normal
equations whose derivatives are complex steps: another way than the program's. Hundreds more are
gone through as a whole, by the simulated room and its meter, and there the program's figures are
compared with those of this batch. An interval of k = 2 holds 95.45 % of a normal distribution; the
zero error is drawn afresh for each round, as its prior says.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from effort import cases
from numpy.typing import NDArray

from witnessmark.locate.pose import locate
from witnessmark.locate.symmetry import SymmetryError, symmetry
from witnessmark.model import OneCabinet, Shot, Side
from witnessmark.placing.shot_list import usual_shots
from witnessmark_simulators.scenario import DEMO_SETUP, DEMO_TARGETS, Scenario, start_near

Array = NDArray[np.float64]
Function = Callable[[NDArray[np.complex128]], NDArray[np.complex128]]
"""Of unknowns (..., 7): side mm, setback mm and toe-in in radians of both cabinets, zero mm."""

ROUNDS, WHOLE = 10_000, cases(300, 10_000)
NAMES = [f"{side} {name}" for side in Side for name in ("side", "setback", "toe-in")]
NAMES += [f"symmetry {name}" for name in SymmetryError.__struct_fields__]
TARGET = np.array([1310.0, 1750.0, math.radians(12.0)] * 2 + [0.0])
WIDTH, DEPTH = 248.0, 372.0
SEAT = (2310.0, 4070.0)
ABOVE_MM = 1040.0 - 910.0
"""The ears above the middle of the drivers."""
SIGMA_MM = math.hypot(0.4, 1.0 / math.sqrt(12))
ZERO_MM = 0.7
SOUND_M_S = 343.2
"""At 20 degrees (ISO 9613-1)."""


def shots_of(unknowns: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Readings (..., 8): rear-inner and rear-outer to the front wall, both outer ones aside."""
    readings = []
    for place in (0, 3):
        side, setback, toe_in = (unknowns[..., place + each] for each in range(3))
        sine, cosine = np.sin(toe_in), np.cos(toe_in)
        tangent, outer = sine / cosine, (side - cosine * WIDTH / 2) / cosine
        ahead = setback / cosine - DEPTH
        readings += [ahead - tangent * WIDTH / 2, ahead + tangent * WIDTH / 2]
        readings += [outer - tangent * DEPTH, outer]
    return np.stack(readings, axis=-1) + unknowns[..., 6:]


def figures_of(unknowns: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """Figures (..., 12) in the order of ``NAMES``."""
    degrees = np.array([1.0, 1.0, 180.0 / math.pi])
    left, right = unknowns[..., :3] * degrees, unknowns[..., 3:6] * degrees
    paths = [
        np.sqrt((one[..., 0] - SEAT[0]) ** 2 + (one[..., 1] - SEAT[1]) ** 2 + ABOVE_MM**2)
        for one in (left, right)
    ]
    path = paths[0] - paths[1]
    level = 20.0 * np.log(paths[1] / paths[0]) / math.log(10.0)
    rest = np.stack([path, path * 1e3 / SOUND_M_S, level], axis=-1)
    return np.concatenate([left, right, left - right, rest], axis=-1)


def derivatives(function: Function, at: Array) -> Array:
    """By complex steps, which lose no digit: (..., values, 7)."""
    step = 1e-30
    moved = [function(at + 1j * step * unit).imag / step for unit in np.eye(7)]
    return np.stack(moved, axis=-1)


def adjusted(readings: Array) -> tuple[Array, Array]:
    """Figures (..., 12) and their expanded uncertainties, of readings (..., 8)."""
    prior = np.zeros((7, 7))
    prior[6, 6] = 1.0 / ZERO_MM**2
    unknowns = np.broadcast_to(TARGET, (*readings.shape[:-1], 7)).copy()
    for _ in range(8):
        slope = derivatives(shots_of, unknowns)
        normal = np.swapaxes(slope, -1, -2) @ slope / SIGMA_MM**2 + prior
        off = readings - shots_of(unknowns.astype(complex)).real
        pull = (np.swapaxes(slope, -1, -2) @ off[..., None])[..., 0] / SIGMA_MM**2
        unknowns += np.linalg.solve(normal, (pull - unknowns @ prior)[..., None])[..., 0]
    by = derivatives(figures_of, unknowns)
    variances = np.einsum("...ij,...jk,...ik->...i", by, np.linalg.inv(normal), by)
    return figures_of(unknowns.astype(complex)).real, 2.0 * np.sqrt(variances)


def test_every_interval_holds_the_truth_as_often_as_it_says() -> None:
    rng = np.random.default_rng(2026)
    limits = np.array([80.0, 80.0, math.radians(5.0)] * 2)
    truth = np.broadcast_to(TARGET, (ROUNDS, 7)).copy()
    truth[:, :6] += rng.uniform(-limits, limits, (ROUNDS, 6))
    truth[:, 6] = rng.normal(0.0, ZERO_MM, ROUNDS)
    exact = shots_of(truth.astype(complex)).real
    found, expanded = adjusted(np.round(exact + rng.normal(0.0, 0.4, exact.shape)))
    held = np.abs(found - figures_of(truth.astype(complex)).real) <= expanded
    for name, share in zip(NAMES, held.mean(axis=0).tolist(), strict=True):
        print(f"{name:26} {share:.2%}")
        assert 0.945 <= share <= 0.965


@pytest.fixture(scope="module")
def whole() -> tuple[Array, Array, Array, Array]:
    """Readings, the program's figures and uncertainties, and the truth, of whole rounds."""
    rng = np.random.default_rng(2026)
    readings, figures, widths, truths = [], [], [], []
    for _ in range(WHOLE):
        person = Scenario(DEMO_SETUP, start_near(DEMO_TARGETS, rng)).person(rng)
        kinds = [kind for side in Side for kind in usual_shots(OneCabinet(DEMO_SETUP, side))]
        shots = [Shot(kind, answer.distance_mm or 0.0) for kind, answer in person.walk(kinds)]
        located = locate(DEMO_SETUP, shots)
        said = symmetry(DEMO_SETUP, located)
        read = {(shot.kind.cabinet, shot.kind.point, shot.kind.to): shot for shot in shots}
        readings.append(
            [
                read[side, point, to].reading_mm
                for side in Side
                for point, to in (
                    ("rear-inner", "front"),
                    ("rear-outer", "front"),
                    ("rear-outer", side.value),
                    ("front-outer", side.value),
                )
            ]
        )
        stands = [located.placements[side] for side in Side]
        spreads = [located.expanded(side) for side in Side]
        parts = ("side_mm", "setback_mm", "toe_in_deg")
        figures.append([getattr(one, part) for one in stands for part in parts])
        widths.append([getattr(one, part) for one in spreads for part in parts])
        figures[-1] += [getattr(said.error, name) for name in SymmetryError.__struct_fields__]
        widths[-1] += [getattr(said.expanded, name) for name in SymmetryError.__struct_fields__]
        true = [getattr(person.truth[side], part) for side in Side for part in parts]
        true[2], true[5] = math.radians(true[2]), math.radians(true[5])
        truths.append(figures_of(np.array([*true, 0.0], dtype=complex)).real)
    return np.array(readings), np.array(figures), np.array(widths), np.array(truths)


def test_whole_rounds_come_to_the_same_as_the_batch(
    whole: tuple[Array, Array, Array, Array],
) -> None:
    readings, figures, widths, _ = whole
    found, expanded = adjusted(readings)
    # the program stops within a thousandth of a standard deviation
    assert (np.abs(figures - found) <= 1e-3 * expanded).all()
    assert widths == pytest.approx(expanded, rel=1e-3)


def test_whole_rounds_hold_the_truth_as_often(whole: tuple[Array, Array, Array, Array]) -> None:
    _, figures, widths, truths = whole
    shares = (np.abs(figures - truths) <= widths).mean(axis=0)
    # five standard deviations of a share of so many rounds
    assert np.abs(shares - 0.9545).max() <= 0.0104 * math.sqrt(10_000 / WHOLE)
