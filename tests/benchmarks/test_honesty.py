"""Some rounds of the study of honesty; ``bench_honesty.py`` runs twenty thousand."""

from __future__ import annotations

import numpy as np
import pytest
import scipy
from effort import cases
from honesty import METERS, outcomes

ROUNDS = cases(10, 600)
"""With each meter."""


def test_verdicts_are_honest_in_rooms_of_any_shape_with_any_meter() -> None:
    found = [
        one for seed, meter in enumerate(METERS.values()) for one in outcomes(ROUNDS, seed, meter)
    ]
    held = np.mean([list(one.held.values()) for one in found])
    assert held == pytest.approx(0.9545, abs=0.01)
    called_in = sum(one.called_in for one in found)
    assert called_in > len(found)
    assert sum(one.wrongly_in for one in found) <= 0.025 * called_in
    # at 1 % of rounds, more than this are accused one time in a hundred
    assert sum(one.accused for one in found) <= scipy.stats.binom.ppf(0.99, len(found), 0.01)
    assert np.mean([one.named for one in found]) >= 0.88
