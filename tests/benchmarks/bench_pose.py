"""One pose with its uncertainties: ``locate`` against scipy's ``least_squares``.

Run with ``python tests/benchmarks/bench_pose.py``. Both solve the very same problem: six shots to
walls of one cabinet, the meter's zero as a fourth unknown held by its prior, with the same analytic
Jacobian. What is printed are ratios of medians of one interleaved run.

``locate`` is timed with all that it does: it looks up the model of this walk, which it keeps from
the first time, finds its own start, solves, and names what it found. scipy is timed from a finished
model and from a start 30 to 40 mm and 3 degrees away, nearer than a first round begins; one
evaluation serves both its function and its Jacobian. The bare Gauss-Newton begins there, too.
"""

from __future__ import annotations

from collections.abc import Callable

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
)


def six_shots(rng: np.random.Generator) -> list[Shot]:
    """Noisy shots, rounded to the millimetre, by a meter that reads 0.9 mm long."""
    kinds = [ShotKind(Side.LEFT, point, to, Held.CABINET) for point, to in ROUND_THE_CABINET]
    true_mm = np.array([predict(SETUP, {Side.LEFT: STANDING}, kind) for kind in kinds])
    readings = np.round(true_mm + 0.9 + rng.normal(0.0, 0.4, len(kinds)))
    return [Shot(kind, float(reading)) for kind, reading in zip(kinds, readings, strict=True)]


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


def main() -> None:
    """Print the ratios, and how well the answers agree."""
    shots = six_shots(np.random.default_rng(20))
    model = ShotModel(SETUP, [shot.kind for shot in shots])
    observed = model.observed(shots)
    start = np.array([STANDING.side_mm + 30.0, STANDING.setback_mm - 40.0, 0.1, 0.0])
    trf, lm = (by_scipy(model, start, observed, method) for method in ("trf", "lm"))
    least = bare(model, start, observed)
    own = locate(SETUP, shots).adjustment
    for solve in (trf, lm, least):
        estimate, covariance = solve()
        sigmas = np.sqrt(own.covariance.diagonal())
        assert (np.abs(estimate - own.estimate) < 1e-3 * sigmas).all()
        assert np.allclose(covariance, own.covariance, rtol=1e-3)
    ways = {"locate": lambda: locate(SETUP, shots), "trf": trf, "lm": lm, "bare": least}
    medians = medians_us(ways)
    print(f"one pose of six shots with its uncertainties: locate {medians['locate']:.0f} us")
    for method, aim in (("trf", f" (aim: {AIM:g})"), ("lm", "")):
        ratio = medians[method] / medians["locate"]
        print(f"  scipy least_squares {method:<3} takes {ratio:.1f} times as long{aim}")
    ratio = medians["locate"] / medians["bare"]
    print(f"  it takes {ratio:.1f} times as long as a bare Gauss-Newton (aim: {AIM_BARE:g})")


if __name__ == "__main__":
    main()
