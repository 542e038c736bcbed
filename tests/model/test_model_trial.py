"""What was heard, what is preferred, and what is marked: what such records refuse."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.model import (
    GRADED,
    Attribute,
    Cabinet,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Preference,
    Room,
    Seat,
    Setup,
    Side,
    Tilt,
    Trial,
    Varied,
)

AT = datetime(2026, 4, 2, 20, 15, tzinfo=UTC)
LEFT, RIGHT = Placement(1400.0, 1800.0, 8.0), Placement(1402.0, 1799.0, 8.1)
VARIANCES = (0.25, 0.36, 0.01, 0.49, 0.64, 0.04)
COVARIANCE = tuple(
    tuple(variance if row == column else 0.0 for column in range(6))
    for row, variance in enumerate(VARIANCES)
)
POSES = msgspec.convert(
    {
        "placements": {"left": LEFT, "right": RIGHT},
        "covariance": COVARIANCE,
        "tilts": {"left": Tilt(1.2, 0.1, 0.05), "right": None},
    },
    Poses,
)


def test_expanded_uncertainties_are_those_of_the_cabinets_own_rows() -> None:
    assert POSES.expanded(Side.LEFT) == Placement(1.0, 1.2, 0.2)
    assert POSES.expanded(Side.RIGHT) == Placement(1.4, 1.6, 0.4)


def test_poses_of_what_is_not_a_number_are_refused() -> None:
    wrong = [list(row) for row in COVARIANCE]
    wrong[2][2] = float("nan")
    with pytest.raises(BadInput, match="covariance"):
        Poses(POSES.placements, tuple(tuple(row) for row in wrong))  # type: ignore[arg-type, misc]


@pytest.mark.parametrize(
    "wrong",
    [
        {(1, 1): -1e-9},
        {(3, 4): 0.5},
        {(0, 1): 0.5, (1, 0): 0.5},
        {(0, 0): 0.0, (0, 1): 0.01, (1, 0): 0.01},
        {(5, 2): math.inf, (2, 5): math.inf},
    ],
)
def test_poses_of_what_is_no_covariance_are_refused(wrong: dict[tuple[int, int], float]) -> None:
    rows = [list(row) for row in COVARIANCE]
    for (row, column), value in wrong.items():
        rows[row][column] = value
    with pytest.raises(BadInput, match="covariance"):
        Poses(POSES.placements, tuple(map(tuple, rows)))  # type: ignore[arg-type]


@given(st.lists(st.lists(st.integers(-99, 99), min_size=6, max_size=6), min_size=1, max_size=6))
def test_a_product_of_a_factor_with_itself_is_a_covariance_and_none_with_a_variance_taken_off(
    factor: list[list[int]],
) -> None:
    product = np.array(factor).T @ np.array(factor) / 7.0
    Poses(POSES.placements, tuple(map(tuple, product.tolist())))  # type: ignore[arg-type]
    # along its weakest direction by more than rounding (eigenvalues of numpy)
    values, vectors = np.linalg.eigh(product + 0.1 * np.eye(6))
    less = product + 0.1 * np.eye(6) - 1.2 * values[0] * np.outer(vectors[:, 0], vectors[:, 0])
    less = (less + less.T) / 2
    with pytest.raises(BadInput, match="covariance"):
        Poses(POSES.placements, tuple(map(tuple, less.tolist())))  # type: ignore[arg-type]


def test_a_trial_stands_where_it_was_measured_or_else_where_it_was_to_stand() -> None:
    targets = Pair(LEFT, LEFT)
    trial = Trial(AT, Varied.STATION, targets, Impression())
    assert trial.standing == targets
    measured = msgspec.structs.replace(trial, measured=POSES)
    assert measured.standing == Pair(LEFT, RIGHT)


def test_grades_are_one_to_five_and_their_mean_is_of_those_that_were_given() -> None:
    assert Impression().mean_grade is None
    heard = Impression({Attribute.STEREO: 4, Attribute.TIMBRE: 3})
    assert heard.mean_grade == pytest.approx(3.5)
    with pytest.raises(BadInput, match="timbre: 6 is no"):
        Impression({Attribute.TIMBRE: 6})


def test_a_preference_is_between_two_different_trials() -> None:
    assert Preference(AT, "a", "b", None).better is None
    with pytest.raises(BadInput, match="with itself"):
        Preference(AT, "a", "a", "a")
    with pytest.raises(BadInput, match="one of the two"):
        Preference(AT, "a", "b", "c")


@pytest.mark.parametrize("name", ["", "  ", "two\nlines", "x" * 81])
def test_a_mark_needs_a_name_of_one_line(name: str) -> None:
    cabinet = Cabinet(250.0, 380.0)
    setup = Setup(Room.rectangular(5000.0, 6400.0), Pair(cabinet, cabinet), Seat(4200.0, 2500.0))
    with pytest.raises(BadInput, match="mark: it"):
        Mark(AT, name, setup, POSES, ())


def test_grades_of_what_is_no_longer_graded_stay_readable_and_out_of_the_mean() -> None:
    stored = b'{"grades":{"sources":5,"width":4,"depth":4,"bass":2,"voices":3,"treble":3}}'
    before = msgspec.json.decode(stored, type=Impression)
    assert before.grade_words == "sources 5, width 4, depth 4, bass 2, voices 3, treble 3"
    assert before.mean_grade is None
    assert msgspec.json.decode(msgspec.json.encode(before), type=Impression) == before
    both = Impression({**before.grades, Attribute.TIMBRE: 4, Attribute.STEREO: 5})
    assert both.mean_grade == 4.5
    assert not set(GRADED) & set(before.grades)
    assert len(GRADED) == 6
