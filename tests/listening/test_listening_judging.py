"""What grades say, and that nothing is claimed which repeats do not bear out."""

from __future__ import annotations

import math
import statistics

import numpy as np
import pytest
import scipy
from hypothesis import given
from hypothesis import strategies as st
from listening_cases import choices, trial, trials

from witnessmark.listening.judging import FREEDOM, STUDENT, difference, judged, positions
from witnessmark.listening.ranking import best_so_far, rank
from witnessmark.model import Attribute, Trial
from witnessmark.words.listening import best_words, difference_words, judged_words

TIMBRE, STEREO, CLARITY = Attribute.TIMBRE, Attribute.STEREO, Attribute.CLARITY
NAMES = {"a": "station 4", "b": "station 5", "c": "station 6"}


def graded(**positions: list[int]) -> dict[str, Trial]:
    """Positions with the grade of the timbre at each trial; all but the first are blind repeats."""
    found = {}
    for place, (key, grades) in enumerate(positions.items()):
        for again, grade in enumerate(grades):
            name = key if not again else f"{key}{again}"
            found[name] = trial(
                10 * again + place,
                grades={TIMBRE: grade},
                blind=again > 0,
                repeats=key if again else None,
            )
    return found


def test_students_factors_are_those_of_the_distribution() -> None:
    coverage = math.erf(2 / math.sqrt(2))
    for freedom, factor in zip(FREEDOM, STUDENT, strict=True):
        assert factor == pytest.approx(scipy.stats.t.ppf((1 + coverage) / 2, freedom), abs=0.006)


def test_means_and_spread_of_repeats_blind_and_in_sight() -> None:
    own = graded(a=[4, 2, 3], b=[5])
    first, second = judged(own)
    assert (first.key, first.trials) == ("a", ("a", "a1", "a2"))
    assert first.grades.count == 3
    assert first.grades.mean == pytest.approx(3.0)
    assert first.grades.spread == pytest.approx(1.0)
    assert (first.blind.count, first.blind.mean) == (2, pytest.approx(2.5))
    assert (first.in_sight.count, first.in_sight.mean, first.in_sight.spread) == (1, 4.0, None)
    assert (second.grades.count, second.grades.spread, second.blind.mean) == (1, None, None)


def test_a_trial_is_judged_by_the_mean_of_its_grades() -> None:
    own = {"a": trial(0, grades={TIMBRE: 4, STEREO: 2}), "b": trial(1, grades={STEREO: 5})}
    assert [one.grades.mean for one in judged(own)] == [3.0, 5.0]


grades = st.lists(st.integers(1, 5), min_size=1, max_size=5)


@given(grades, grades, grades)
def test_the_interval_is_students_of_the_pooled_repeats(
    one: list[int], other: list[int], third: list[int]
) -> None:
    found = difference(graded(a=one, b=other, c=third), "a", "b")
    assert found.grade == pytest.approx(statistics.fmean(one) - statistics.fmean(other))
    lists = (one, other, third)
    freedom = sum(len(values) - 1 for values in lists)
    if not freedom:
        assert found.expanded is None
        assert found.told is None
        return
    squares = sum(np.var(values) * len(values) for values in lists)
    sigma = max(math.sqrt(squares / freedom), math.sqrt(1 / 12))
    factor = scipy.stats.t.ppf((1 + math.erf(math.sqrt(2))) / 2, freedom)
    expected = factor * sigma * math.sqrt(1 / len(one) + 1 / len(other))
    # between the degrees of freedom of the table the greater factor is taken
    assert expected * 0.997 < (found.expanded or 0) < expected * 1.025


@given(grades, grades)
def test_the_difference_turns_its_sign_with_the_order(one: list[int], other: list[int]) -> None:
    own = graded(a=one, b=other)
    forth, back = difference(own, "a", "b"), difference(own, "b", "a")
    assert (forth.grade or 0.0) == pytest.approx(-(back.grade or 0.0))
    assert (forth.expanded, forth.told) == (back.expanded, back.told)


def test_repeats_that_are_all_alike_are_still_known_to_a_rounding_only() -> None:
    found = difference(graded(a=[4, 4], b=[4, 4], c=[3, 3]), "a", "c")
    assert found.expanded == pytest.approx(3.31 / math.sqrt(12))
    assert found.told
    assert not difference(graded(a=[4, 4], c=[3, 3]), "a", "c").told


def test_of_a_mean_of_four_the_rounding_counts_half() -> None:
    four = dict.fromkeys(list(Attribute)[:4], 4)
    own = {
        "a": trial(0, grades=four),
        "a1": trial(1, grades=four, blind=True, repeats="a"),
        "b": trial(2, grades=dict.fromkeys(four, 3)),
    }
    assert difference(own, "a", "b").expanded == pytest.approx(
        13.97 / math.sqrt(12) / 2 * math.sqrt(1 / 2 + 1)
    )


def test_positions_are_compared_on_what_both_were_graded_on() -> None:
    own = {
        "a": trial(0, grades={TIMBRE: 4, STEREO: 5}),
        "b": trial(1, grades={TIMBRE: 3}),
        "c": trial(2, grades={CLARITY: 3}),
        "d": trial(3),
    }
    assert difference(own, "a", "b").grade == pytest.approx(1.0)
    for other in ("c", "d"):
        found = difference(own, "a", other)
        assert found.grade is found.expanded is found.told is None
    assert difference_words(difference(own, "a", "c"), NAMES) == (
        "station 4 and station 6 were not graded on the same attributes: their grades "
        "cannot be compared"
    )


def test_alike_positions_are_seldom_told_apart() -> None:
    """Grades rounded from what a listener hears, whose repeats scatter by 0.7."""
    rng = np.random.default_rng(4)
    told = []
    for _ in range(600):
        heard = np.clip(np.rint(rng.normal(3.3, 0.7, (3, 3))), 1, 5).astype(int).tolist()
        own = graded(a=heard[0], b=heard[1], c=heard[2])
        told.append(difference(own, "a", "b").told)
    assert np.mean(told) < 0.065


def test_positions_two_grades_apart_are_told_apart() -> None:
    rng = np.random.default_rng(5)
    told = []
    for _ in range(300):
        heard = np.rint(rng.normal([[4.3], [2.0], [3.4]], 0.4, (3, 3))).clip(1, 5)
        heard = heard.astype(int).tolist()
        found = difference(graded(a=heard[0], b=heard[1], c=heard[2]), "a", "b")
        assert (found.grade or 0.0) > 0
        told.append(found.told)
    assert np.mean(told) > 0.95


def test_a_difference_in_words() -> None:
    def words(**positions: list[int]) -> str:
        return difference_words(difference(graded(**positions), "a", "b"), NAMES)

    assert words(a=[4], b=[3]) == (
        "station 4 was graded 1.0 higher than station 5; to see how much is chance, grade one "
        "position twice"
    )
    assert words(a=[2, 2, 2], b=[4, 4, 5]) == (
        "station 5 was graded 2.3 higher than station 4, more than repeats of one position differ "
        "(±1.0)"
    )
    assert words(a=[4, 3, 3], b=[3, 3]) == (
        "station 4 was graded 0.3 higher than station 5, no more than repeats of one position "
        "differ (±1.4)"
    )
    assert words(a=[4, 3], b=[3]) == (
        "station 4 was graded 0.5 higher than station 5; more repeats are needed to say how "
        "much is chance"
    )
    assert words(a=[4], b=[4]).startswith("station 4 and station 5 were graded alike; to see how")


def test_repeats_in_sight_of_the_earlier_grades_are_pointed_out() -> None:
    own = graded(a=[4, 3, 4], b=[3])
    seen = own | {"a1": trial(10, grades={TIMBRE: 3}, repeats="a")}
    assert not difference(own, "a", "b").in_sight
    assert difference(seen, "a", "b").in_sight
    assert difference_words(difference(seen, "a", "b"), NAMES).endswith(
        "; some repeats were graded with the earlier grades in sight"
    )


def test_how_a_position_was_graded_in_words() -> None:
    def words(own: dict[str, Trial]) -> str:
        return judged_words(judged(own)[0], NAMES)

    assert words({"a": trial(0)}) == "station 4 is not graded"
    assert words(graded(a=[4])) == "station 4: 4.0, graded once"
    assert words(graded(a=[4, 2, 3])) == (
        "station 4: 3.0 on average over 3 gradings, which scatter by 1.0; 2.5 with earlier "
        "grades out of sight, 4.0 with them in sight"
    )
    seen = {
        "a": trial(0, grades={TIMBRE: 4}),
        "a1": trial(1, grades={TIMBRE: 4}, repeats="a"),
    }
    assert words(seen).endswith("which scatter by 0.0, all with earlier grades in sight")


def test_the_best_by_flag_grade_and_choices() -> None:
    own = {
        "a": trial(0, grades={TIMBRE: 4}, best=True),
        "b": trial(1, grades={TIMBRE: 5}),
        "c": trial(2, grades={TIMBRE: 3}, best=True),
        "a1": trial(3, grades={TIMBRE: 4}, repeats="a", best=True),
    }
    best = best_so_far(own, rank(own, choices("c", "a", 6) + choices("a", "b", 6)))
    assert (best.flagged, best.graded, best.chosen) == ("a", ("b",), "c")
    (told,) = best_words(best, NAMES)
    assert told == (
        "your flag, your grades and your choices disagree: station 4 is flagged as the best; "
        "station 5 is graded highest; station 6 is preferred most in pairs"
    )


def test_the_best_where_all_agree_is_one_sentence() -> None:
    own = {"a": trial(0, grades={TIMBRE: 5}, best=True), "b": trial(1, grades={TIMBRE: 5})}
    best = best_so_far(own, rank(own, choices("a", "b", 6)))
    assert best.graded == ("a", "b")
    assert best_words(best, NAMES) == (
        "station 4: flagged as the best, graded highest and preferred most in pairs",
    )


def test_what_was_not_said_is_not_made_up() -> None:
    own = {"a": trial(0), "b": trial(1), "c": trial(2), "d": trial(3)}
    best = best_so_far(own, rank(own, []))
    assert (best.flagged, best.graded, best.chosen) == (None, (), None)
    assert best_words(best, NAMES) == ()
    apart = rank(own, choices("a", "b", 6) + choices("c", "d", 6))
    assert best_so_far(own, apart).chosen is None
    barely = best_so_far(own, rank(own, choices("b", "a", 2)))
    assert barely.chosen == "b"
    assert best_words(barely, NAMES) == (
        "station 5: preferred most in pairs (your choices do not single it out)",
    )


def test_grades_of_different_attributes_are_pointed_out() -> None:
    own = {"a": trial(0, grades={TIMBRE: 5}), "b": trial(1, grades={STEREO: 3})}
    assert best_words(best_so_far(own, rank(own, [])), NAMES) == (
        "station 4: graded highest",
        ("these means cannot be compared: not all positions were graded on the same attributes"),
    )


def test_positions_come_in_the_order_in_which_they_were_stored_whatever_the_clock_said() -> None:
    again = trial(9, repeats="t2")
    kept = {"again": again, **dict(reversed(trials(4).items()))}
    assert list(positions(kept)) == ["again", "t3", "t2", "t1", "t0"]
    # where a repeat came first into this store, it stands for the position
    assert positions(kept)["again"] == positions(kept)["t2"] == "again"
