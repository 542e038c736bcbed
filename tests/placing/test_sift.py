"""Shots of which one is wrong by far: the pose of the others, and the name of the wrong one."""

from __future__ import annotations

import itertools

import msgspec
import pytest
from exact_shots import LEFT, RIGHT, SETUP, off, world_of
from witnessmark.placing.sift import sift

from witnessmark.errors import TooFewShots
from witnessmark.model import AimedAt, Held, Setup, Shot, ShotKind, Side
from witnessmark.placing.walk import walk

STANDING = off(12, -25, 2.5)
WORLD = world_of(SETUP, STANDING, STANDING)
EIGHT = (
    ("front-outer", "left"),
    ("rear-outer", "left"),
    ("rear-outer", "front"),
    ("rear-inner", "front"),
    ("rear-inner", "right"),
    ("front-inner", "right"),
    ("front-inner", "back"),
    ("front-outer", "back"),
)


def shots(held: Held, places: tuple[tuple[str, str], ...] = EIGHT) -> list[Shot]:
    kinds = (ShotKind(LEFT, point, AimedAt(to), held) for point, to in places)
    return [Shot(kind, WORLD.true_distance(kind)) for kind in kinds]


def spoilt(right: list[Shot], place: int, factor: float) -> list[Shot]:
    wrong = Shot(right[place].kind, right[place].reading_mm * factor)
    return [*right[:place], wrong, *right[place + 1 :]]


def four(held: Held, side: Side = LEFT) -> list[Shot]:
    setup: Setup = msgspec.structs.replace(SETUP, held=held)
    return [Shot(kind, WORLD.true_distance(kind)) for kind in walk(setup, side)]


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
@pytest.mark.parametrize("factor", [0.1, 0.3048, 1 / 0.3048, 10.0])
def test_the_wrong_one_is_found_and_left_out(held: Held, factor: float) -> None:
    right = shots(held)
    for place in range(len(right)):
        given = spoilt(right, place, factor)
        located, checks = sift(SETUP, given)
        assert located.placements[LEFT].side_mm == pytest.approx(STANDING.side_mm, abs=0.01)
        assert located.placements[LEFT].toe_in_deg == pytest.approx(STANDING.toe_in_deg, abs=2e-3)
        assert [check.shot for check in checks] == given
        assert [check.suspect for check in checks] == [row == place for row in range(len(given))]
        wrong = checks[place]
        expected_mm = right[place].reading_mm
        assert wrong.shot.reading_mm + wrong.residual_mm == pytest.approx(expected_mm, abs=0.05)
        assert wrong.cause is not None


def test_sound_shots_are_not_touched() -> None:
    located, checks = sift(SETUP, shots(Held.CABINET))
    assert len(located.kinds) == len(EIGHT)
    assert not any(check.suspect for check in checks)


def test_a_small_error_stays_in_the_pose_and_is_only_named() -> None:
    given = shots(Held.WALL)
    given[0] = Shot(given[0].kind, given[0].reading_mm + 15)
    located, checks = sift(SETUP, given)
    assert len(located.kinds) == len(EIGHT)
    assert [check.suspect for check in checks] == [True] + [False] * 7


def test_both_cabinets_with_one_wrong_shot_among_them() -> None:
    left = spoilt(shots(Held.WALL), 2, 10.0)
    located, checks = sift(SETUP, [*left, *four(Held.WALL, RIGHT)])
    assert located.placements[RIGHT].side_mm == pytest.approx(STANDING.side_mm, abs=0.01)
    assert [row for row, check in enumerate(checks) if check.suspect] == [2]


def test_shots_that_could_either_be_wrong_are_both_named() -> None:
    with pytest.raises(TooFewShots) as raised:
        sift(SETUP, spoilt(four(Held.WALL), 3, 0.3048))
    words = str(raised.value)
    assert "these contradict one another" in words
    assert "left rear-outer to front wall" in words
    assert "left rear-inner to front wall" in words
    assert "left wall" not in words


def test_what_no_cabinet_could_do_speaks_against_the_others() -> None:
    """Four shots check each other once only, but one ten times too long leaves no other way out."""
    given = spoilt(four(Held.CABINET), 3, 10.0)
    located, checks = sift(SETUP, given)
    assert [check.suspect for check in checks] == [False, False, False, True]
    assert checks[3].cause == "decimal point one place too far right"
    assert located.placements[LEFT].setback_mm == pytest.approx(STANDING.setback_mm, abs=0.01)


def test_where_more_than_one_is_wrong_all_are_named() -> None:
    given = spoilt(spoilt(shots(Held.WALL), 0, 10.0), 5, 10.0)
    with pytest.raises(TooFewShots) as raised:
        sift(SETUP, given)
    for shot in given:
        assert f"left {shot.kind.point} to {shot.kind.to} wall" in str(raised.value)


def test_shots_that_are_missing_are_still_called_missing() -> None:
    for pair in itertools.combinations(four(Held.CABINET), 2):
        with pytest.raises(TooFewShots, match=r"^left: missing ") as raised:
            sift(SETUP, pair)
        assert "contradict" not in str(raised.value)


def test_among_a_great_many_shots_a_wrong_one_is_named_all_the_same() -> None:
    given = shots(Held.CABINET) * 30
    given[7] = Shot(given[7].kind, given[7].reading_mm * 10)
    located, checks = sift(SETUP, given)
    assert [row for row, check in enumerate(checks) if check.suspect] == [7]
    assert located.placements[LEFT].side_mm == pytest.approx(STANDING.side_mm, abs=0.1)
