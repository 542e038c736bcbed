"""Figures beside grades: rank correlation and its chance as scipy has them."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from listening_cases import SETUP, trial
from msgspec.structs import replace

from witnessmark.acoustics.box import Floats
from witnessmark.acoustics.foresight import Foresight, Furnishing, absorptions
from witnessmark.listening.association import (
    LEAST_POSITIONS,
    ForeseenFigure,
    associations,
    family,
    figures,
    ranks,
)
from witnessmark.model import GRADED, Attribute, Pair, Placement, Setup, Trial


@pytest.fixture(scope="module")
def foresight() -> Foresight:
    return Foresight.of(ceilinged(), absorptions(Furnishing.FURNISHED))


def ceilinged() -> Setup:
    return replace(SETUP, room=replace(SETUP.room, height_mm=2500.0))


def standing(place: int) -> Pair[Placement]:
    one = Placement(1300.0, 900.0 + 250.0 * place, 0.0)
    return Pair(one, one)


def evening(grades: list[int], attribute: Attribute = Attribute.BALANCE) -> dict[str, Trial]:
    return {
        f"t{place}": trial(place, targets=standing(place), grades={attribute: grade})
        for place, grade in enumerate(grades)
    }


def test_a_published_example() -> None:
    """IQ and hours of television of ten people: rho = -29/165, p = 0.627 (the worked example of
    the encyclopaedia article on Spearman's coefficient, from memory; p by Student's t)."""
    iq = [106, 100, 86, 101, 99, 103, 97, 113, 112, 110]
    hours = [7, 27, 2, 50, 28, 29, 20, 12, 6, 17]
    rho, chance = family(column(iq), column(hours))
    assert rho[0, 0] == pytest.approx(-29 / 165)
    assert chance[0, 0] == pytest.approx(0.627, abs=0.02)


def column(values: list[int]) -> Floats:
    return np.array(values, dtype=float)[:, None]


@pytest.mark.parametrize("seed", range(4))
def test_ranks_and_correlation_as_scipy_has_them_with_ties(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one, other = rng.integers(1, 6, 9).astype(float), rng.normal(size=9)
    assert ranks(one) == pytest.approx(scipy.stats.rankdata(one))
    rho, _ = family(one[:, None], other[:, None])
    assert rho[0, 0] == pytest.approx(scipy.stats.spearmanr(one, other).statistic)


def test_the_exact_test_as_scipy_has_it() -> None:
    one, other = np.array([1.0, 2, 3, 4, 5, 6]), np.array([2.0, 1, 3, 3, 5, 4])

    def strength(first: Floats) -> float:
        return float(abs(scipy.stats.spearmanr(first, other).statistic))

    theirs = scipy.stats.permutation_test(
        (one,), strength, permutation_type="pairings", alternative="greater", n_resamples=np.inf
    )
    _, chance = family(one[:, None], other[:, None])
    assert chance[0, 0] == pytest.approx(theirs.pvalue)


def test_the_drawn_test_is_near_the_exact_one() -> None:
    """Of eight, whose 40320 orders scipy tries all."""
    rng = np.random.default_rng(5)
    one = np.arange(8.0)
    other = one + rng.normal(0, 3, 8)

    def strength(first: Floats) -> float:
        return float(abs(first @ (other_ranks - other_ranks.mean())))

    other_ranks = scipy.stats.rankdata(other)
    theirs = scipy.stats.permutation_test(
        (one,), strength, permutation_type="pairings", alternative="greater", n_resamples=np.inf
    )
    _, chance = family(one[:, None], other[:, None])
    assert chance[0, 0] == pytest.approx(theirs.pvalue, abs=0.02)


def test_looking_at_more_makes_each_less_sure() -> None:
    rng = np.random.default_rng(2)
    values, grades = np.arange(6.0)[:, None], np.arange(6.0)[:, None]
    _, alone = family(values, grades)
    _, among = family(np.hstack((values, rng.normal(size=(6, 3)))), grades)
    assert alone[0, 0] == pytest.approx(2 / 720)
    assert among[0, 0] > alone[0, 0]


def test_without_a_relation_hardly_any_evening_finds_one(foresight: Foresight) -> None:
    """At most 5 % of 300 evenings of six positions and six grades each."""
    rng = np.random.default_rng(11)
    own = [list(figures(found).values()) for found in foresight.levels([*map(standing, range(6))])]
    values = np.array(own)[:, :4]
    false = 0
    for _ in range(300):
        grades = rng.integers(1, 6, (6, len(GRADED))).astype(float)
        _, chance = family(values, grades[:, np.ptp(grades, axis=0) > 0])
        false += bool((chance <= 0.05).any())
    assert false <= 15


def test_a_grade_that_follows_a_figure_is_found(foresight: Foresight) -> None:
    levels = foresight.levels([*map(standing, range(9))])
    bass = [figures(one)[ForeseenFigure.LOW_BASS] for one in levels]
    order = ranks(np.array(bass))
    found = associations(foresight, evening([1 + int(one) // 2 for one in order]))
    strongest = found.found[0]
    assert found.positions == 9
    assert strongest.attribute is Attribute.BALANCE
    low = next(one for one in found.found if one.figure is ForeseenFigure.LOW_BASS)
    assert low.rho > 0.9
    assert not low.could_be_chance


def test_below_six_positions_it_says_how_many_more(foresight: Foresight) -> None:
    found = associations(foresight, evening([3, 4, 2, 5]))
    assert (found.positions, found.missing, found.found) == (4, LEAST_POSITIONS - 4, ())


def test_a_repeat_is_no_further_position(foresight: Foresight) -> None:
    trials = evening([3, 4, 2, 5, 1])
    again = trial(9, targets=standing(0), grades={Attribute.BALANCE: 2}, repeats="t0")
    assert associations(foresight, {**trials, "t9": again}).positions == 5


def test_alike_everywhere_is_nothing_to_compare(foresight: Foresight) -> None:
    found = associations(foresight, evening([3] * 7))
    assert (found.missing, found.found) == (0, ())


def test_a_position_outside_the_room_is_left_out(foresight: Foresight) -> None:
    away = Placement(1300.0, 9000.0, 0.0)
    outside = trial(9, targets=Pair(away, away), grades={Attribute.BALANCE: 2})
    assert associations(foresight, {**evening([3, 4, 2, 5, 1, 3]), "t9": outside}).positions == 6
