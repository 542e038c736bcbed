"""The whole loop from many random starts, all in process: what is called in stands in."""

from __future__ import annotations

import numpy as np
import pytest
from effort import cases
from person_at_work import SETUP, Ended, Worker, work_through

from witnessmark.model import Side

STARTS, WORKED_THROUGH = 300, cases(14, 300)
TRULY_IN = 0.975


@pytest.fixture(scope="module")
def ends() -> list[Ended]:
    return [work_through(seed) for seed in range(WORKED_THROUGH)]


def test_the_starts_are_what_they_should_be() -> None:
    """Up to 80 mm and 5 degrees off; 0.4 mm repeatability, 1 mm steps, 0.7 mm zero."""
    errors = [Worker(seed).error(side) for seed in range(STARTS) for side in Side]
    for name, limit in (("side_mm", 80), ("setback_mm", 80), ("toe_in_deg", 5)):
        sizes = [abs(getattr(error, name)) for error in errors]
        assert 0.97 * limit < max(sizes) <= limit
    meter = SETUP.meter
    assert (meter.repeatability_mm, meter.resolution_mm, meter.zero_mm) == (0.4, 1.0, 0.7)
    assert (SETUP.tolerance.position_mm, SETUP.tolerance.toe_in_deg) == (3.0, 0.5)
    assert not any(Worker(seed).truly_in(side) for seed in range(20) for side in Side)


def test_what_is_called_in_truly_stands_in(ends: list[Ended]) -> None:
    called = [end.called_in[place] for end in ends for place in range(2)]
    truly = [end.truly_in[place] for end in ends for place in range(2) if end.called_in[place]]
    assert all(called)
    assert sum(truly) >= TRULY_IN * len(truly)
    assert all(end.finished for end in ends)


def test_it_takes_no_more_than_a_few_nudges(
    ends: list[Ended], capsys: pytest.CaptureFixture[str]
) -> None:
    readings = [end.readings for end in ends]
    nudges = [count for end in ends for count in end.nudges]
    wrong = sum(not truly for end in ends for truly in end.truly_in)
    with capsys.disabled():
        print(
            f"\n{len(ends)} starts: readings for both cabinets median {np.median(readings):g}, "
            f"90th percentile {np.quantile(readings, 0.9):g}; nudges a cabinet median "
            f"{np.median(nudges):g}, 90th percentile {np.quantile(nudges, 0.9):g}; "
            f"{wrong} of {2 * len(ends)} called in and not"
        )
    assert np.median(nudges) <= 3
    assert np.quantile(nudges, 0.9) <= 6
    assert np.median(readings) <= 40


def test_the_same_seed_is_the_same_story(ends: list[Ended]) -> None:
    assert work_through(WORKED_THROUGH - 1) == ends[-1]
