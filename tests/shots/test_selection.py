"""The fewest observations that do: growing and exchanging against looking through every set."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from witnessmark.shots import selection
from witnessmark.shots.selection import Selection

FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


def problem(seed: int, offered: int = 9) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rows of four unknowns, the last of them shared and known beforehand, and three limits."""
    rng = np.random.default_rng(seed)
    rows = rng.normal(size=(offered, 4))
    rows[:, 3] = 2.0
    return rows, np.array([[0.0, 0.0, 0.0, 1.4]]), rng.uniform(0.5, 2.0, 3)


def chosen_from(seed: int, *, repeated: bool = True) -> Selection:
    return Selection(*problem(seed), kept=0.0 if repeated else None)


def worst_by_hand(seed: int, chosen: tuple[int, ...]) -> float:
    """The largest uncertainty over its limit, by the pseudo-inverse of one set's own design."""
    rows, priors, limits = problem(seed)
    design = np.vstack((rows[list(chosen)], priors))
    covariance = np.linalg.pinv(design) @ np.linalg.pinv(design).T
    return float((2 * np.sqrt(covariance.diagonal()[:3]) / limits).max())


@pytest.mark.parametrize("seed", range(5))
def test_every_set_of_a_size_is_weighed(seed: int) -> None:
    ranked = chosen_from(seed).of_size(4)
    every = list(itertools.combinations_with_replacement(range(9), 4))
    assert sorted(map(tuple, ranked.sets.tolist())) == every
    best = ranked.sets[0].tolist()
    weighed = {one: worst_by_hand(seed, one) for one in every if len(set(one)) >= 3}
    assert ranked.shortfall[0] == pytest.approx(min(weighed.values()), rel=1e-6)
    assert weighed[tuple(best)] == pytest.approx(min(weighed.values()), rel=1e-6)
    assert (np.diff(ranked.shortfall) >= 0).all()


def test_without_repeats_each_is_taken_once() -> None:
    ranked = chosen_from(1, repeated=False).of_size(4)
    every = list(itertools.combinations(range(9), 4))
    assert sorted(map(tuple, ranked.sets.tolist())) == every


@pytest.mark.parametrize("repeated", [True, False])
def test_growing_and_exchanging_comes_as_near_as_looking_through_all(
    monkeypatch: pytest.MonkeyPatch, repeated: bool
) -> None:
    ratios = []
    for seed in range(30):
        every = chosen_from(seed, repeated=repeated).of_size(6).shortfall[0]
        with monkeypatch.context() as patch:
            patch.setattr(selection, "MOST_SETS", 200)
            few = chosen_from(seed, repeated=repeated)
            smaller = few.of_size(3)
            for size in (4, 5, 6):
                smaller = few.of_size(size, smaller)
            assert len(smaller.sets) < 200
            if not repeated:
                assert all(len(set(one)) == 6 for one in smaller.sets.tolist())
        ratios.append(smaller.shortfall[0] / every)
    assert min(ratios) >= 1 - 1e-9
    assert float(np.median(ratios)) == pytest.approx(1.0)
    assert max(ratios) < 1.05


def test_the_nearest_is_no_better_than_the_best() -> None:
    for seed in range(10):
        one = chosen_from(seed)
        best = one.of_size(5).shortfall[0]
        assert best - 1e-9 <= one.nearest(5) <= max(1.1 * best, 1.0)


def test_what_repeats_do_not_take_away_stays_however_often_one_is_taken() -> None:
    rows, priors = np.array([[1.0]]), np.zeros((0, 1))
    chosen = Selection(rows, priors, np.array([1.0]), kept=0.25)
    widths = [float(chosen.expanded(np.zeros((1, n), dtype=np.intp))[0, 0]) for n in (1, 2, 4, 400)]
    # n shots of variance 1 leave 0.25 + 0.75 / n
    expected = [2 * math.sqrt(0.25 + 0.75 / n) for n in (1, 2, 4, 400)]
    assert widths == pytest.approx(expected, rel=1e-6)
