"""Positions ranked from choices: against independent implementations, and what is not claimed."""

from __future__ import annotations

import importlib
import math
from itertools import pairwise

import numpy as np
import pytest
import scipy
from effort import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from listening_cases import choices, trial, trials

from witnessmark.listening.ranking import (
    PRIOR_VARIANCE,
    SEPARATED,
    better,
    beyond_chance,
    chi_square_point,
    difference_variance,
    rank,
    strengths,
    worth,
)
from witnessmark.model import Preference
from witnessmark.words.listening import ranking_words

FloatArray = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


@st.composite
def tables(draw: st.DrawFn, most: int = 12) -> FloatArray:
    """Wins of the row over the column, some pairs never compared."""
    count = draw(st.integers(2, 6))
    cells = st.integers(0, most)
    wins = np.array([[draw(cells) for _ in range(count)] for _ in range(count)], dtype=float)
    np.fill_diagonal(wins, 0.0)
    return wins


def drawn_wins(rng: np.random.Generator, true: FloatArray, times: int) -> FloatArray:
    """Each pair compared so many times by someone to whom positions are of these strengths."""
    count = len(true)
    wins = np.zeros((count, count))
    for row, column in zip(*np.triu_indices(count, 1), strict=True):
        chance = 1 / (1 + math.exp(true[column] - true[row]))
        wins[row, column] = rng.binomial(times, chance)
        wins[column, row] = times - wins[row, column]
    return wins


@examples(25, 150)
@given(tables())
def test_strengths_as_choix_has_them(wins: FloatArray) -> None:
    # imported here, because it takes two seconds of the one worker that runs this
    choix = importlib.import_module("choix")
    games = [
        (row, column)
        for row, column in np.argwhere(wins > 0).tolist()
        for _ in range(int(wins[row, column]))
    ]
    # its penalty is alpha times the squares, without a half
    alpha = 1 / (2 * PRIOR_VARIANCE)
    expected = choix.opt_pairwise(len(wins), games, alpha=alpha, method="BFGS", tol=1e-6)
    found, _ = strengths(wins)
    assert found == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_strengths_and_covariance_as_a_logit_has_them_when_there_are_many(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wins = 3e4 * (drawn_wins(rng, rng.normal(0, 0.6, 4), 8) + 1)
    np.fill_diagonal(wins, 0.0)
    rows = [(i, j) for i in range(4) for j in range(i)]
    design = np.zeros((len(rows), 4))
    for row, (i, j) in enumerate(rows):
        design[row, [i, j]] = 1.0, -1.0
    counts = np.array([(wins[i, j], wins[j, i]) for i, j in rows])
    import statsmodels.api as sm  # noqa: PLC0415 - takes a second, and only this test needs it

    fit = sm.GLM(counts, design[:, 1:], family=sm.families.Binomial()).fit(tol=1e-12)
    found, covariance = strengths(wins)
    assert found[1:] - found[0] == pytest.approx(fit.params, abs=1e-4)
    from_first = np.hstack((-np.ones((3, 1)), np.eye(3)))
    mine = from_first @ covariance @ from_first.T
    assert mine == pytest.approx(fit.cov_params(), rel=1e-3)


@given(tables(most=3000))
def test_the_strengths_are_where_the_slope_is_nothing(wins: FloatArray) -> None:
    found, covariance = strengths(wins)
    chance = 1 / (1 + np.exp(found - found[:, None]))
    slope = (wins - (wins + wins.T) * chance).sum(axis=1) - found / PRIOR_VARIANCE
    assert slope == pytest.approx(0.0, abs=1e-6)
    assert found.sum() == pytest.approx(0.0, abs=1e-7)
    assert np.linalg.eigvalsh(covariance)[0] > 0


@given(tables(), st.permutations(range(6)))
def test_the_order_in_which_positions_are_listed_changes_nothing(
    wins: FloatArray, order: list[int]
) -> None:
    order = [place for place in order if place < len(wins)]
    found, covariance = strengths(wins)
    again, spread = strengths(wins[np.ix_(order, order)])
    assert again == pytest.approx(found[order], abs=1e-8)
    assert spread == pytest.approx(covariance[np.ix_(order, order)], abs=1e-8)


@given(tables())
def test_to_prefer_the_other_each_time_turns_every_sign(wins: FloatArray) -> None:
    found, covariance = strengths(wins)
    turned, spread = strengths(wins.T.copy())
    assert turned == pytest.approx(-found, abs=1e-8)
    assert spread == pytest.approx(covariance, abs=1e-8)
    assert better(turned, spread) == pytest.approx(1 - better(found, covariance), abs=1e-8)


def two(won: float, lost: float) -> tuple[float, float]:
    """How much stronger the first of two is, and the probability that it is."""
    estimate, covariance = strengths(np.array([[0.0, won], [lost, 0.0]]))
    return float(estimate[0] - estimate[1]), float(better(estimate, covariance)[0, 1])


def integrated(won: float, lost: float) -> float:
    """The same probability by integration over the difference."""

    def density(apart: float) -> float:
        chance = 1 / (1 + math.exp(-apart))
        likely = chance**won * (1 - chance) ** lost
        return likely * math.exp(-(apart**2) / (4 * PRIOR_VARIANCE))

    above, below = (scipy.integrate.quad(density, *ends)[0] for ends in ((0, 30), (-30, 0)))
    return float(above / (above + below))


def test_the_prior_holds_every_chance_to_be_about_alike() -> None:
    rng = np.random.default_rng(1)
    one, other = rng.normal(0.0, math.sqrt(PRIOR_VARIANCE), (2, 200_000))
    chance = 1 / (1 + np.exp(other - one))
    shares, _ = np.histogram(chance, bins=10, range=(0, 1))
    assert shares / 20_000 == pytest.approx(1.0, abs=0.22)


@pytest.mark.parametrize("count", [1, 2, 3, 5, 8, 12])
def test_a_perfect_record_stays_near_the_rule_of_succession(count: int) -> None:
    apart, _ = two(count, 0)
    assert 1 / (1 + math.exp(-apart)) == pytest.approx((count + 1) / (count + 2), abs=0.06)


@pytest.mark.parametrize(
    ("won", "lost"), [(1, 0), (2, 0), (3, 0), (5, 0), (8, 0), (2, 1), (5, 1), (11, 1), (20, 5)]
)
def test_the_probability_is_a_little_below_what_integration_gives(won: int, lost: int) -> None:
    _, probability = two(won, lost)
    exact = integrated(won, lost)
    assert exact - 0.031 < probability < exact


def test_the_priors_pull_halves_when_the_choices_double() -> None:
    """At three of four its pull is 0.3; after 64 choices a tenth of the standard uncertainty."""
    pulls = [math.log(3) - two(0.75 * count, 0.25 * count)[0] for count in (4, 8, 16, 32, 64, 128)]
    assert pulls[0] == pytest.approx(0.30, abs=0.01)
    shares = [later / earlier for earlier, later in pairwise(pulls)]
    assert all(0.45 < share < 0.62 for share in shares)
    assert shares[-1] == pytest.approx(0.5, abs=0.02)
    sigma = 1 / math.sqrt(64 * 0.75 * 0.25)
    assert pulls[4] < 0.1 * sigma


def test_five_of_five_separate_two_and_four_of_four_do_not() -> None:
    own = trials(2)
    for won, separated in ((4, False), (5, True)):
        (group,) = rank(own, choices("t0", "t1", won)).groups
        assert group.keys == ("t0", "t1")
        assert group.separated("t0", "t1") is separated
        assert group.separated("t1", "t0") is separated
        assert group.probability("t0", "t1") > 0.94


def test_probabilities_are_no_greater_than_how_often_they_are_right() -> None:
    """Listeners whose positions are as the prior has it; 1000 of them, six positions, two each."""
    rng = np.random.default_rng(3)
    stated, right = [], []
    for _ in range(400):
        true = rng.normal(0.0, math.sqrt(PRIOR_VARIANCE), 6)
        probability = better(*strengths(drawn_wins(rng, true, 2)))
        surer = probability > 0.5
        stated += probability[surer].tolist()
        right += (true[:, None] > true)[surer].tolist()
    told, held = np.array(stated), np.array(right)
    for low, high in ((0.5, 0.7), (0.7, 0.85), (0.85, 0.95), (0.95, 1.0)):
        inside = (told >= low) & (told < high)
        assert held[inside].mean() == pytest.approx(told[inside].mean(), abs=0.03)
        assert held[inside].mean() > told[inside].mean() - 0.02


@pytest.mark.parametrize(("count", "times"), [(2, 6), (4, 3), (6, 2), (10, 1)])
def test_tosses_of_a_coin_seldom_separate_anything(count: int, times: int) -> None:
    rng = np.random.default_rng(count)
    told = [beyond_chance(drawn_wins(rng, np.zeros(count), times)) for _ in range(800)]
    assert np.mean(told) < 0.07


def test_the_point_for_chance_is_that_of_chi_square() -> None:
    for freedom in (1, 2, 5, 9, 20):
        assert chi_square_point(freedom) == pytest.approx(
            scipy.stats.chi2.ppf(0.95, freedom), rel=0.03
        )


def test_trials_that_no_chain_of_choices_ties_together_are_not_compared() -> None:
    own = trials(6)
    said = choices("t0", "t1", 3) + choices("t1", "t2", 2, 1) + choices("t3", "t4", 4)
    ranking = rank(own, said)
    assert [group.keys for group in ranking.groups] == [("t0", "t1", "t2"), ("t3", "t4")]
    assert ranking.alone == ("t5",)
    for group in ranking.groups:
        assert math.fsum(group.strengths) == pytest.approx(0.0, abs=1e-9)
        assert np.array(group.covariance).sum(axis=0) == pytest.approx(0.0, abs=1e-9)
    # a chain of neither ties as well as any other
    (group,) = rank(own, [*said, *choices("t2", "t3", 0, 0, 1)]).groups
    assert len(group.keys) == 5


def test_neither_counts_half_to_each() -> None:
    own = trials(2)
    (neither,) = rank(own, choices("t0", "t1", 0, 0, 6)).groups
    (halves,) = rank(own, choices("t0", "t1", 3, 3)).groups
    assert neither == halves
    ranking = rank(own, choices("t0", "t1", 2, 0, 1))
    assert ranking.tally("t0", "t1") == (2.5, 3.0)
    assert ranking.tally("t1", "t0") == (0.5, 3.0)


def test_a_repeat_counts_as_the_position_it_repeats() -> None:
    own = trials(2) | {"again": trial(5, repeats="t0"), "once more": trial(6, repeats="again")}
    said = choices("again", "t1", 3) + choices("t1", "once more", 0, 2)
    ranking = rank(own, [*said, *choices("t0", "again", 4)])
    (group,) = ranking.groups
    assert group.keys == ("t0", "t1")
    assert ranking.tally("t0", "t1") == (5.0, 5.0)
    assert ("t0", "t0") not in ranking.preferred


def test_choices_of_trials_that_are_not_there_are_left_out() -> None:
    ranking = rank(trials(2), [*choices("t0", "t9", 3), *choices("t0", "t1", 1)])
    assert set(ranking.preferred) == {("t0", "t1"), ("t1", "t0")}


def test_what_would_tell_most_is_what_shrinks_the_uncertainty_most() -> None:
    """By trying: half a choice each way lowers the determinant most for the pair that is named."""
    rng = np.random.default_rng(8)
    for _ in range(20):
        wins = drawn_wins(rng, rng.normal(0, 1, 5), 3) * rng.integers(0, 2, (5, 5))
        estimate, covariance = strengths(wins)
        told = worth(estimate, covariance)
        fall = {}
        for row, column in zip(*np.triu_indices(5, 1), strict=True):
            weight = 1 / (2 + 2 * math.cosh(estimate[row] - estimate[column]))
            way = np.zeros(5)
            way[[row, column]] = 1.0, -1.0
            with_it = np.linalg.inv(covariance) + weight * np.outer(way, way)
            fall[row, column] = np.linalg.det(covariance) * np.linalg.det(with_it)
            assert fall[row, column] == pytest.approx(1 + told[row, column], rel=1e-9)
        assert difference_variance(covariance).diagonal() == pytest.approx(0.0)


def test_the_pair_to_compare_next_is_first_one_that_nothing_is_known_of() -> None:
    own = trials(4)
    assert rank({"t0": own["t0"]}, []).most_telling is None
    assert rank(own, []).most_telling == ("t0", "t1")
    said = choices("t0", "t1", 9, 1)
    assert rank(own, said).most_telling == ("t2", "t3")
    tied = [*said, *choices("t1", "t2", 9, 9), *choices("t2", "t3", 1, 1)]
    assert rank(own, tied).most_telling == ("t1", "t3")


NAMES = {f"t{place}": f"station {place + 4}" for place in range(6)}


def words(said: list[Preference], count: int = 3) -> tuple[str, ...]:
    return ranking_words(rank(trials(count), said), NAMES)


def test_what_is_separated_and_what_is_not_in_words() -> None:
    said = choices("t0", "t1", 11, 1) + choices("t1", "t2", 4, 2)
    assert words(said) == (
        "by your choices, best first: station 4, station 5, station 6",
        "station 4 before station 5: 11 of 12 choices",
        "your choices do not decide between station 5 and station 6",
        "most useful next: compare station 5 with station 6",
    )


def test_what_only_others_separate_in_words() -> None:
    said = choices("t0", "t1", 11, 4) + choices("t1", "t2", 11, 4)
    told = words(said)
    assert "your choices do not decide between station 4 and station 5" in told
    assert "your choices do not decide between station 5 and station 6" in told
    assert "station 4 before station 6: through the other comparisons" in told
    assert not [sentence for sentence in told if sentence.startswith("station 5 before")]


def test_choices_by_chance_in_words() -> None:
    assert words(choices("t0", "t1", 2, 1, 1))[:2] == (
        "by your choices, best first: station 4, station 5",
        "this result could be chance: your choices do not separate them",
    )


def test_groups_and_those_alone_in_words() -> None:
    told = words(choices("t0", "t1", 6) + choices("t2", "t3", 6), count=5)
    assert "station 4 before station 5: 6 of 6 choices" in told
    assert (
        "the group of station 4 and the group of station 6 are not compared with each other: no "
        "choice connects them" in told
    )
    assert "not compared with any other: station 8" in told
    assert words([], count=1) == words([], count=0) == ()


@settings(deadline=None)
@given(st.integers(0, 10_000))
def test_what_is_said_to_be_before_is_separated_and_every_neighbour_is_spoken_of(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wins = drawn_wins(rng, rng.normal(0, 1.5, 5), 4)
    said = [
        choice
        for row, column in zip(*np.triu_indices(5, 1), strict=True)
        for choice in choices(
            f"t{row}", f"t{column}", int(wins[row, column]), int(wins[column, row])
        )
    ]
    ranking = rank(trials(5), said)
    (group,) = ranking.groups
    names = {key: key for key in group.keys}
    told = ranking_words(ranking, names)
    before = [s.split(":")[0].split(" before ") for s in told if " before " in s]
    assert all(group.separated(*pair) for pair in before)
    if group.beyond_chance:
        for one, other in zip(group.keys, group.keys[1:], strict=False):
            silent = f"your choices do not decide between {one} and {other}" not in told
            assert silent is group.separated(one, other)
    assert all(
        group.separated(one, other) is (group.beyond_chance and probability >= SEPARATED)
        for place, one in enumerate(group.keys)
        for other, probability in list(zip(group.keys, group.better[place], strict=True))[
            place + 1 :
        ]
    )
