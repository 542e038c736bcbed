"""Learning made-up meters: a short run of the benchmark, with what it must hold to."""

from __future__ import annotations

import numpy as np
import pytest
from bench_learning import trials
from effort import cases

from witnessmark_simulators.made_up import draw_meter, draw_riddle

METERS = cases(80, 1000)


@pytest.mark.parametrize("shows_failure", [False, True])
def test_nearly_all_made_up_meters_are_learnt_and_none_wrong(shows_failure: bool) -> None:
    rng = np.random.default_rng(31)
    drawn = trials(draw_meter, rng, METERS, shows_failure=shows_failure)
    assert [trial.words for trial in drawn if trial.wrong] == []
    assert sum(trial.learnt for trial in drawn) / len(drawn) >= 0.90
    waiting = [trial for trial in drawn if trial.waits]
    assert len(waiting) > 15
    assert sum(trial.learnt for trial in waiting) / len(waiting) >= 0.90


def test_who_was_shown_a_failed_shot_takes_fewer_for_a_distance() -> None:
    taken_in = {}
    for shows_failure in (False, True):
        drawn = trials(draw_meter, np.random.default_rng(34), 50, shows_failure=shows_failure)
        taken_in[shows_failure] = sum(trial.taken_in > 0 for trial in drawn)
    assert taken_in[True] <= taken_in[False] / 2


def test_two_known_distances_teach_less_but_nothing_wrong() -> None:
    rng = np.random.default_rng(32)
    drawn = trials(draw_meter, rng, METERS, count=2)
    assert [trial.words for trial in drawn if trial.wrong] == []
    # rare units, decimal digits, sixteens, copies and commas need a third to be told apart
    assert sum(trial.learnt for trial in drawn) / len(drawn) >= 0.5


@pytest.mark.parametrize("count", [2, 3])
def test_what_nobody_could_learn_is_refused(count: int) -> None:
    riddles = trials(draw_riddle, np.random.default_rng(33), 40, count=count)
    assert [trial.words for trial in riddles if not trial.said] == []
