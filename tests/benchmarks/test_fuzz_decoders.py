"""A short run of the fuzzing; the long one is a script."""

from __future__ import annotations

import numpy as np
import pytest
from effort import cases
from fuzz_decoders import CASES, Case, fuzz

BYTES = cases(15_000, 1_000_000)


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_no_bytes_crash_a_decoder_or_make_a_wrong_distance(case: Case) -> None:
    fed, distances = fuzz(case, np.random.default_rng(11), BYTES)
    assert fed >= BYTES
    assert distances > 30  # the fuzzing reaches what it is to test
