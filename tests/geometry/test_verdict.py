"""In, out or unsure."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import scipy
from geometry_cases import many
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.geometry.verdict import Verdict, probability_within, verdict, worst
from witnessmark.model.pair import COVERAGE_FACTOR


@pytest.mark.parametrize(
    ("error", "expanded", "tolerance", "said"),
    [
        (0.0, 1.0, 3.0, Verdict.IN),
        (2.0, 1.0, 3.0, Verdict.IN),  # the edge belongs to in
        (2.001, 1.0, 3.0, Verdict.UNSURE),
        (-2.0, 1.0, 3.0, Verdict.IN),
        (-2.001, 1.0, 3.0, Verdict.UNSURE),
        (4.0, 1.0, 3.0, Verdict.UNSURE),  # and so does this one to unsure
        (4.001, 1.0, 3.0, Verdict.OUT),
        (-4.001, 1.0, 3.0, Verdict.OUT),
        (0.0, 3.5, 3.0, Verdict.UNSURE),  # too coarse a meter never says in
        (3.0, 0.0, 3.0, Verdict.IN),
    ],
)
def test_edges(error: float, expanded: float, tolerance: float, said: Verdict) -> None:
    assert verdict(error, expanded, tolerance) is said


def test_an_edge_is_not_decided_by_rounding() -> None:
    assert 0.1 + 0.2 > 0.3
    assert verdict(0.1, 0.2, 0.3) is Verdict.IN
    assert verdict(0.3 + 0.1 + 0.2, 0.3, 0.3) is Verdict.UNSURE


@many
@given(st.floats(-20, 20, allow_subnormal=False), st.floats(0.01, 5), st.floats(0.5, 10), st.data())
def test_wider_or_farther_is_never_better(
    error: float, expanded: float, tolerance: float, data: st.DataObject
) -> None:
    order = [Verdict.IN, Verdict.UNSURE, Verdict.OUT]
    said = order.index(verdict(error, expanded, tolerance))
    assert verdict(-error, expanded, tolerance) is order[said]
    farther = error * data.draw(st.floats(1, 3))
    assert order.index(verdict(farther, expanded, tolerance)) >= said
    wider = expanded * data.draw(st.floats(1, 3))
    vaguer = verdict(error, wider, tolerance)
    assert vaguer is order[said] or vaguer is Verdict.UNSURE


@many
@given(st.floats(-10, 10), st.floats(0.1, 5), st.floats(0.5, 10))
def test_probability_against_the_normal_distribution(
    error: float, standard: float, tolerance: float
) -> None:
    held = scipy.stats.norm.cdf(tolerance, error, standard) - scipy.stats.norm.cdf(
        -tolerance, error, standard
    )
    assert probability_within(error, standard, tolerance) == pytest.approx(held, abs=1e-12)


def test_in_is_right_at_least_as_often_as_the_guard_band_promises() -> None:
    """An error said to be in with k = 2 lies within with 97.7 % or more (JCGM 106:2012, 8.3)."""
    for error in np.linspace(-3, 3, 61):
        for standard in (0.1, 0.5, 1.0, 1.4):
            if verdict(float(error), 2 * standard, 3.0) is Verdict.IN:
                assert probability_within(float(error), standard, 3.0) > 0.9544


def test_the_worst_of_several() -> None:
    for verdicts in itertools.product(Verdict, repeat=3):
        expected = max(verdicts, key=[Verdict.IN, Verdict.UNSURE, Verdict.OUT].index)
        assert worst(list(verdicts)) is expected
    assert worst([]) is Verdict.IN


# derived from JCGM 106:2012, 7 and 8: |deviation| <= 5 mm, u = 1 mm
@pytest.mark.parametrize(
    ("deviation", "probability", "said"),
    [
        (3.0, 0.9772, Verdict.IN),
        (3.4, 0.9452, Verdict.UNSURE),
        (4.0, 0.8413, Verdict.UNSURE),
        (5.0, 0.5, Verdict.UNSURE),
        (6.0, 0.1587, Verdict.UNSURE),
        (7.0, 0.0228, Verdict.UNSURE),
        (7.01, 0.0222, Verdict.OUT),
    ],
)
@pytest.mark.parametrize("sign", [1, -1])
def test_conformity_ladder(deviation: float, probability: float, said: Verdict, sign: int) -> None:
    assert probability_within(sign * deviation, 1.0, 5.0) == pytest.approx(probability, abs=1e-4)
    assert verdict(sign * deviation, COVERAGE_FACTOR * 1.0, 5.0) is said
