"""The misfit of shots to walls as a function of the toe-in: every least of it, and without each."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
import scipy
from geometry_cases import (
    POINTS,
    SETUP,
    STANDING,
    WALLS,
    is_possible,
    many,
    noisy,
    round_of,
    some,
    stood,
    true_shots,
)
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.locate.observe import ShotModel
from witnessmark.locate.walls import Misfit, _roots_of_four
from witnessmark.model import Held, Meter, Pair, Placement, Setup, Shot, ShotKind, Side

FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
GRID = np.radians(np.arange(-180.0, 180.0, 0.25))
LEFT_WALLS = [
    ShotKind(Side.LEFT, point, to, held)
    for point in POINTS[:4]
    for to in WALLS
    for held in (Held.WALL, Held.CABINET)
    if is_possible(SETUP, STANDING, ShotKind(Side.LEFT, point, to, held))
]


def misfit_of(setup: Setup, shots: list[Shot], without: int | None = None) -> Misfit | None:
    model = ShotModel(setup, [shot.kind for shot in shots])
    sigma = model.sigma_of(shots).copy()
    if without is not None:
        sigma[without] = np.inf
    walls = model.weighed_walls(sigma)
    return walls.misfits(model.observed(shots)[: model.shots])[0]


def drawn_misfit(rows: list[int], toe_in: float, seed: int) -> tuple[list[Shot], Misfit]:
    standing = Pair(Placement(1430.0, 1890.0, toe_in), STANDING.right)
    wanted = [LEFT_WALLS[row] for row in rows]
    assume(all(is_possible(SETUP, standing, kind) for kind in wanted))
    shots = noisy(true_shots(SETUP, standing, wanted), 6.0, seed)
    misfit = misfit_of(SETUP, shots)
    assume(misfit is not None)
    assert misfit is not None
    return shots, misfit


some_walls = st.lists(st.integers(0, len(LEFT_WALLS) - 1), min_size=3, max_size=8, unique=True)


@some
@given(some_walls, st.floats(-20.0, 30.0), st.integers(0, 2**32 - 1))
def test_every_least_is_found(rows: list[int], toe_in: float, seed: int) -> None:
    """Against a grid of all toe-ins, each low of it followed down by Brent's method (scipy)."""
    _, misfit = drawn_misfit(rows, toe_in, seed)
    on_grid = misfit.at(GRID)
    assume(float(np.ptp(on_grid)) > 1.0)
    step = float(GRID[1] - GRID[0])
    lows = misfit.least()
    found = [low.toe_in for low in lows]
    for place in np.flatnonzero((on_grid < np.roll(on_grid, 1)) & (on_grid < np.roll(on_grid, -1))):
        low = scipy.optimize.minimize_scalar(
            lambda turn: float(misfit.at(np.array([turn]))[0]),
            bracket=(GRID[place] - step, GRID[place], GRID[place] + step),
            method="brent",
        )
        apart = min(abs(math.remainder(turn - low.x, math.tau)) for turn in found)
        here = min(misfit.at(np.array(found)), key=lambda chi: abs(chi - low.fun))
        assert apart < 1e-3 or abs(here - low.fun) < 1e-6
    values = [low.chi_square for low in lows]
    assert values == sorted(values)
    rounding = 1e-15 * float((misfit.rows**2).sum())
    assert values == pytest.approx(misfit.at(np.array(found)), abs=rounding)
    assert values[0] <= on_grid.min() + 1e-6 * max(1.0, on_grid.min())


@many
@given(
    st.lists(
        st.builds(complex, st.floats(-3.0, 3.0), st.floats(-3.0, 3.0)), min_size=1, max_size=4
    ),
    st.floats(-9.0, 1.0),
)
def test_roots_that_meet_or_lie_far_away_are_found(apart: list[complex], digits: float) -> None:
    """Near enough to begin from, where some of them are one or one is far from the others."""
    true = [*apart, *[apart[0]] * 4][:4]
    for roots in (true, [10.0**-digits * true[0], *true[1:]]):
        factors = np.poly(roots).astype(complex).tolist()
        found = _roots_of_four(factors)
        again = np.poly(found)
        size = max(map(abs, [1.0, *roots]))
        assert len(found) == 4
        assert np.abs(again - factors).max() < 1e-5 * size * np.abs(factors).max()


@some
@given(some_walls, st.floats(-20.0, 30.0), st.integers(0, 2**32 - 1))
def test_what_is_left_without_each_shot_is_that_of_the_others(
    rows: list[int], toe_in: float, seed: int
) -> None:
    """Against taking each shot away and beginning anew, on the same toe-ins."""
    assume(len(rows) > 4)
    shots, misfit = drawn_misfit(rows, toe_in, seed)
    turns = np.linspace(-math.pi / 2, math.pi / 2, 361)
    least = misfit.least_without_each()
    for row in range(len(shots)):
        others = misfit_of(SETUP, shots, without=row)
        # a shot that nothing checks takes nothing with it
        if others is None or misfit.redundancy[row] < 1e-6:
            continue
        assert least[row] == pytest.approx(others.at(turns).min(), rel=1e-6, abs=1e-6)


@some
@given(stood(square=True, toe_in_deg=25.0), st.floats(-150.0, 150.0), st.integers(0, 2**32 - 1))
def test_a_far_zero_of_the_meter_bends_no_misfit(
    case: tuple[Setup, Pair[Placement]], zero_mm: float, seed: int
) -> None:
    """The other cabinet's shots tell the zero: turned as it is they must not pull it to nothing."""
    setup, standing = case
    setup = msgspec.structs.replace(setup, meter=Meter(0.4, 1.0, 100.0))
    wanted = [kind for side in Side for kind in round_of(side, Held.WALL, more=True)]
    assume(all(is_possible(setup, standing, kind) for kind in wanted))
    shots = noisy(true_shots(setup, standing, wanted, zero_mm), 0.5, seed)
    model = ShotModel(setup, wanted)
    walls = model.weighed_walls(model.sigma)
    turns = [math.radians(standing[side].toe_in_deg) for side in Side]
    for place, misfit in enumerate(
        walls.misfits_beside(model.observed(shots)[: model.shots], turns, zero_mm)
    ):
        assert misfit is not None
        at_truth = float(misfit.at(np.array([turns[place]]))[0])
        # the linear problem in positions and zero, at the true toe-ins, by scipy
        design, right = linear_problem(setup, standing, shots)
        assert at_truth == pytest.approx(
            2 * scipy.optimize.lsq_linear(design, right).cost, rel=1e-3, abs=1e-3
        )


def linear_problem(
    setup: Setup, standing: Pair[Placement], shots: list[Shot]
) -> tuple[FloatArray, FloatArray]:
    """Weighted changes of the readings by positions and zero, and what the readings are off."""
    sigma = setup.meter.shot_sigma_mm
    wanted = [shot.kind for shot in shots]
    true = np.array([shot.reading_mm for shot in true_shots(setup, standing, wanted)])
    columns = []
    for side in Side:
        for field in ("side_mm", "setback_mm"):
            place = standing[side]
            moved = msgspec.structs.replace(place, **{field: getattr(place, field) + 1.0})
            shifted = true_shots(setup, standing.replacing(side, moved), wanted)
            columns.append(np.array([shot.reading_mm for shot in shifted]) - true)
    columns.append(np.ones(len(shots)))
    design = np.vstack((np.stack(columns, axis=1) / sigma, np.zeros(5)))
    design[-1, -1] = 1.0 / setup.meter.zero_mm
    off = (np.array([shot.reading_mm for shot in shots]) - true) / sigma
    return design, np.append(off, 0.0)
