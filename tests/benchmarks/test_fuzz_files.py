"""A short run of the fuzzing of files; the long one is a script."""

from __future__ import annotations

from typing import Final

import numpy as np
import pytest
from effort import cases
from fuzz_files import CASES, Case, fuzz

BYTES: Final = {"imported rooms": cases(150_000, 5_000_000), "lessons": cases(3_000, 300_000)}
"""A room is a hundred times as long as a profile, and a lesson takes longer to learn."""


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_no_file_crashes_its_reader_or_makes_a_wrong_figure(case: Case) -> None:
    count = BYTES.get(case.name, cases(30_000, 1_000_000))
    fed = fuzz(case, np.random.default_rng(11), count)
    assert fed.count >= count
    assert fed.figures > 30  # the fuzzing reaches what it is to test
    assert 100 * fed.misled <= fed.figures
