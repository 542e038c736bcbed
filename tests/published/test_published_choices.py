"""Choices between pairs against a textbook's worked example."""

from __future__ import annotations

import numpy as np
import pytest

from witnessmark.listening.ranking import better, beyond_chance, strengths

TEAMS = ("Milwaukee", "Detroit", "Toronto", "New York", "Boston", "Cleveland", "Baltimore")
WINS = np.array(
    [
        [0, 7, 9, 7, 7, 9, 11],
        [6, 0, 7, 5, 11, 9, 9],
        [4, 6, 0, 7, 7, 8, 12],
        [6, 8, 6, 0, 6, 7, 10],
        [6, 2, 6, 7, 0, 7, 12],
        [4, 4, 5, 6, 6, 0, 6],
        [2, 4, 1, 3, 1, 7, 0],
    ],
    dtype=float,
)
"""The row's wins over the column: Agresti, Categorical Data Analysis, 2nd edition (2002), section
10.6, the American League's baseball season of 1987 (table from memory)."""
AGAINST_BALTIMORE = {
    "Milwaukee": 1.58,
    "Detroit": 1.44,
    "Toronto": 1.29,
    "New York": 1.25,
    "Boston": 1.11,
    "Cleveland": 0.68,
}
"""Table 10.11, without the advantage of the home team. The six values were read in the
tests of the R package BradleyTerry2 (tests/testthat, baseball), which reproduce pp. 437 and 438 of
the book; which team has which is from memory."""
TIMES = 10_000
"""The same season so many times over: the prior then counts for nothing."""


def test_strengths_of_a_baseball_season() -> None:
    assert (WINS + WINS.T)[~np.eye(7, dtype=bool)] == pytest.approx(13)
    found, _ = strengths(TIMES * WINS)
    assert found.sum() == pytest.approx(0.0, abs=1e-9)
    for team, value in zip(TEAMS, found - found[-1], strict=True):
        assert value == pytest.approx(AGAINST_BALTIMORE.get(team, 0.0), abs=0.005), team


def test_standard_errors_of_a_baseball_season() -> None:
    """About 0.3 each: the book, by the same tests of BradleyTerry2."""
    _, covariance = strengths(TIMES * WINS)
    own = np.diag(covariance)
    against_last = own + own[-1] - 2 * covariance[-1]
    assert np.sqrt(TIMES * against_last[:-1]) == pytest.approx(0.33, abs=0.02)


def test_one_season_leaves_the_order_as_it_is_and_pulls_strengths_together_a_little() -> None:
    one, covariance = strengths(WINS)
    many, _ = strengths(TIMES * WINS)
    assert list(np.argsort(one)) == list(np.argsort(many))
    share = one / many
    assert np.all((share > 0.85) & (share < 1.0))
    assert beyond_chance(WINS)
    # five of the six are surely better than the last, and the first four are not told apart
    probability = better(one, covariance)
    assert np.all(probability[:5, -1] > 0.98)
    assert np.all(probability[:4, :4] < 0.9)
