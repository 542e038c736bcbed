"""A pose with its uncertainties: ``locate`` against scipy's ``least_squares``.

Run with ``python tests/benchmarks/bench_pose.py``. Both solve the very same problem: six or twelve
shots to walls of one cabinet, or of both, the meter's zero as one more unknown held by its prior,
with the same analytic Jacobian. What is printed are ratios of medians of one interleaved run.

``locate`` is timed with all that it does: it looks up the model of this walk, which it keeps from
the first time, finds its own start, solves, and names what it found. scipy is timed from a finished
model and from a start 30 to 40 mm and 3 degrees away, nearer than a first round begins; one
evaluation serves both its function and its Jacobian. The bare Gauss-Newton begins there, too.
"""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable, Sequence

import numpy as np
import scipy
from interleaved import medians_us

from witnessmark.geometry.adjust import FloatArray
from witnessmark.locate.observe import ShotModel
from witnessmark.locate.pose import locate, predict
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Meter,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
)

AIM, AIM_BARE = 8.0, 2.0
_SETTLED = 1e-3
"""Step, in standard deviations of the unknowns, at which the bare solve ends, as ``adjust``."""
STANDING = Placement(1423.7, 1881.2, 8.6)
STAND = {Side.LEFT: STANDING, Side.RIGHT: Placement(1391.2, 1904.5, 7.1)}
SETUP = Setup(
    room=Room.rectangular(4940.0, 6480.0),
    cabinets=Pair(Cabinet(256.0, 384.0), Cabinet(256.0, 384.0)),
    seat=Seat(from_front_mm=4310.0, from_left_mm=2470.0),
    meter=Meter(repeatability_mm=0.4, resolution_mm=1.0, zero_mm=0.7),
)
ROUND_THE_CABINET = (
    ("front-outer", AimedAt.LEFT),
    ("rear-outer", AimedAt.LEFT),
    ("rear-outer", AimedAt.FRONT),
    ("rear-inner", AimedAt.FRONT),
    ("rear-inner", AimedAt.RIGHT),
    ("front-inner", AimedAt.BACK),
    ("front-inner", AimedAt.RIGHT),
    ("front-inner", AimedAt.FRONT),
    ("rear-outer", AimedAt.BACK),
    ("front-outer", AimedAt.BACK),
    ("rear-inner", AimedAt.BACK),
    ("front-outer", AimedAt.FRONT),
)
"""Shots of the left cabinet; those of the right are their mirror image."""
MIRRORED = {AimedAt.LEFT: AimedAt.RIGHT, AimedAt.RIGHT: AimedAt.LEFT}


def noisy_shots(sides: Sequence[Side], count: int) -> list[Shot]:
    """``count`` shots a side, rounded to the millimetre, by a meter that reads 0.9 mm long."""
    kinds = [
        ShotKind(side, point, to if side is Side.LEFT else MIRRORED.get(to, to), Held.CABINET)
        for side in sides
        for point, to in ROUND_THE_CABINET[:count]
    ]
    true_mm = np.array([predict(SETUP, STAND, kind) for kind in kinds])
    noise_mm = np.random.default_rng(7).normal(0.0, 0.4, len(kinds))
    return list(map(Shot, kinds, np.round(true_mm + 0.9 + noise_mm).tolist()))


def by_scipy(
    model: ShotModel, start: FloatArray, observed: FloatArray, method: str
) -> Callable[[], tuple[FloatArray, FloatArray]]:
    """A solve of the same problem by scipy that returns the estimate and its covariance."""
    weighted_jacobian = np.zeros((0, 0))

    def misfit(unknowns: FloatArray) -> FloatArray:
        nonlocal weighted_jacobian
        predicted, jacobian = model(unknowns)
        weighted_jacobian = jacobian / model.sigma[:, None]
        difference: FloatArray = (predicted - observed) / model.sigma
        return difference

    def solve() -> tuple[FloatArray, FloatArray]:
        result = scipy.optimize.least_squares(
            misfit, start, jac=lambda _: weighted_jacobian, method=method, x_scale="jac"
        )
        return result.x, np.linalg.inv(result.jac.T @ result.jac)

    return solve


def bare(
    model: ShotModel, start: FloatArray, observed: FloatArray
) -> Callable[[], tuple[FloatArray, FloatArray]]:
    """The least that a solve can be: Gauss-Newton by the normal matrix, with nothing checked."""

    def solve() -> tuple[FloatArray, FloatArray]:
        unknowns = start
        while True:
            predicted, jacobian = model(unknowns)
            weighted = jacobian / model.sigma[:, None]
            covariance = np.linalg.inv(weighted.T @ weighted)
            pull = weighted.T @ ((observed - predicted) / model.sigma)
            step = covariance @ pull
            unknowns = unknowns + step
            if pull @ step < _SETTLED**2:
                return unknowns, covariance

    return solve


def compare(sides: Sequence[Side], count: int) -> None:
    """Print the ratios for so many shots of each side, and check that the answers agree."""
    shots = noisy_shots(sides, count)
    model = ShotModel(SETUP, [shot.kind for shot in shots])
    observed = model.observed(shots)
    near = [
        (STAND[side].side_mm + 30.0, STAND[side].setback_mm - 40.0, 0.1) for side in model.sides
    ]
    start = np.array([*itertools.chain(*near), 0.0])
    trf, lm = (by_scipy(model, start, observed, method) for method in ("trf", "lm"))
    least = bare(model, start, observed)
    own = locate(SETUP, shots).adjustment
    for solve in (trf, lm, least):
        estimate, covariance = solve()
        sigmas = np.sqrt(own.covariance.diagonal())
        assert (np.abs(estimate - own.estimate) < 1e-3 * sigmas).all()
        assert np.allclose(covariance, own.covariance, rtol=1e-3)
    ways = {"locate": lambda: locate(SETUP, shots), "trf": trf, "lm": lm, "bare": least}
    # a long turn is broken off more often than a short one, which would tell against it
    medians = medians_us(ways, clock=time.thread_time_ns)
    print(f"{len(shots)} shots of {' and '.join(sides)}: locate {medians['locate']:.0f} us")
    for method, aim in (("trf", f" (aim: {AIM:g})"), ("lm", "")):
        ratio = medians[method] / medians["locate"]
        print(f"  scipy least_squares {method:<3} takes {ratio:.1f} times as long{aim}")
    ratio = medians["locate"] / medians["bare"]
    print(f"  it takes {ratio:.1f} times as long as a bare Gauss-Newton (aim: {AIM_BARE:g})")


def main() -> None:
    """Print the ratios for one cabinet and for both, by few shots and by many."""
    for sides in ([Side.LEFT], list(Side)):
        for count in (6, 12):
            compare(sides, count)


if __name__ == "__main__":
    main()
