"""Shots of which one is wrong by far: the pose of the others, and the name of the wrong one."""

from __future__ import annotations

import itertools

import msgspec
import pytest
from geometry_cases import SETUP, noisy, simulated

from witnessmark.errors import TooFewShots
from witnessmark.geometry.verdict import Verdict
from witnessmark.locate.blunders import ShotCheck, explain
from witnessmark.locate.pose import Located, locate
from witnessmark.locate.refusals import MOST_NAMED
from witnessmark.model import AimedAt, Held, Pair, Placement, Shot, ShotKind, Side
from witnessmark.placing.judge import appraise

LEFT, RIGHT = Side
STANDING = Placement(1432.0, 1785.0, 11.5)
WORLD = simulated(SETUP, Pair(STANDING, STANDING))
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


def told(given: list[Shot]) -> tuple[Located, tuple[ShotCheck, ...]]:
    answer = explain(SETUP, given)
    return answer.located, answer.checks


def four(held: Held, side: Side = LEFT) -> list[Shot]:
    kinds = (
        ShotKind(side, point, to, held)
        for point, to in (
            ("front-outer", AimedAt(side.value)),
            ("rear-outer", AimedAt(side.value)),
            ("rear-outer", AimedAt.FRONT),
            ("rear-inner", AimedAt.FRONT),
        )
    )
    return [Shot(kind, WORLD.true_distance(kind)) for kind in kinds]


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
@pytest.mark.parametrize("factor", [0.1, 0.3048, 1 / 0.3048, 10.0])
def test_the_wrong_one_is_found_and_left_out(held: Held, factor: float) -> None:
    right = shots(held)
    for place in range(len(right)):
        given = spoilt(right, place, factor)
        located, checks = told(given)
        assert located.placements[LEFT].side_mm == pytest.approx(STANDING.side_mm, abs=0.01)
        assert located.placements[LEFT].toe_in_deg == pytest.approx(STANDING.toe_in_deg, abs=2e-3)
        assert [check.shot for check in checks] == given
        assert [check.suspect for check in checks] == [row == place for row in range(len(given))]
        wrong = checks[place]
        expected_mm = right[place].reading_mm
        assert wrong.shot.reading_mm + wrong.residual_mm == pytest.approx(expected_mm, abs=0.05)
        assert wrong.cause is not None


def test_sound_shots_are_not_touched() -> None:
    located, checks = told(shots(Held.CABINET))
    assert len(located.kinds) == len(EIGHT)
    assert not any(check.suspect for check in checks)


@pytest.mark.parametrize("error_mm", [15.0, 50.0, -15.0])
@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_what_is_named_is_left_out(held: Held, error_mm: float) -> None:
    """The answer is that of the other eleven shots, and its intervals hold the truth."""
    clean = noisy([*shots(held), *four(held, RIGHT)], 0.2, seed=4)
    for place in range(len(EIGHT)):
        given = [*clean]
        given[place] = Shot(clean[place].kind, clean[place].reading_mm + error_mm)
        located, checks = told(given)
        assert [row for row, check in enumerate(checks) if check.left_out] == [place]
        assert [row for row, check in enumerate(checks) if check.suspect] == [place]
        assert checks[place].cause is not None
        assert located.settled
        others = locate(SETUP, [*clean[:place], *clean[place + 1 :]])
        for side in Side:
            one, other = located.placements[side], others.placements[side]
            assert msgspec.structs.astuple(one) == pytest.approx(msgspec.structs.astuple(other))
            off, known = one.minus(STANDING), located.expanded(side)
            assert abs(off.side_mm) <= known.side_mm
            assert abs(off.setback_mm) <= known.setback_mm
            assert abs(off.toe_in_deg) <= known.toe_in_deg


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
@pytest.mark.parametrize("place", range(4))
def test_where_two_could_be_the_one_nothing_is_in(held: Held, place: int) -> None:
    """Four shots have one redundancy: the intervals hold the place without each of them."""
    setup = msgspec.structs.replace(SETUP, targets=Pair(STANDING, STANDING))
    given = four(held)
    given[place] = Shot(given[place].kind, given[place].reading_mm + 15.0)
    appraisal = appraise(setup, given).cabinets[LEFT]
    assert Verdict.IN not in appraisal.against_target.verdicts.values()
    assert sum(check.suspect for check in appraisal.checks) > 1
    assert not any(check.left_out for check in appraisal.checks)
    for left_out in range(4):
        without = locate(setup, [*given[:left_out], *given[left_out + 1 :]]).placements[LEFT]
        off, known = without.minus(appraisal.measured), appraisal.expanded
        assert abs(off.side_mm) <= known.side_mm
        assert abs(off.setback_mm) <= known.setback_mm
        assert abs(off.toe_in_deg) <= known.toe_in_deg


def test_both_cabinets_with_one_wrong_shot_among_them() -> None:
    left = spoilt(shots(Held.WALL), 2, 10.0)
    located, checks = told([*left, *four(Held.WALL, RIGHT)])
    assert located.placements[RIGHT].side_mm == pytest.approx(STANDING.side_mm, abs=0.01)
    assert [row for row, check in enumerate(checks) if check.suspect] == [2]


def test_shots_that_could_either_be_wrong_are_both_named() -> None:
    with pytest.raises(TooFewShots) as raised:
        explain(SETUP, spoilt(four(Held.WALL), 3, 0.3048))
    words = str(raised.value)
    assert "these contradict one another" in words
    assert "left rear-outer to front wall" in words
    assert "left rear-inner to front wall" in words
    assert "left wall" not in words


def test_what_no_cabinet_could_do_speaks_against_the_others() -> None:
    """Four shots check each other once only, but one ten times too long leaves no other way out."""
    given = spoilt(four(Held.CABINET), 3, 10.0)
    located, checks = told(given)
    assert [check.suspect for check in checks] == [False, False, False, True]
    assert checks[3].cause == "decimal point one place too far right"
    assert located.placements[LEFT].setback_mm == pytest.approx(STANDING.setback_mm, abs=0.01)


def test_where_two_are_wrong_both_are_left_out() -> None:
    given = spoilt(spoilt(shots(Held.WALL), 0, 10.0), 5, 10.0)
    located, checks = told(given)
    assert [row for row, check in enumerate(checks) if check.left_out] == [0, 5]
    assert located.placements[LEFT].side_mm == pytest.approx(STANDING.side_mm, abs=0.01)


@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_where_most_are_wrong_at_most_three_are_named(held: Held) -> None:
    given = shots(held)
    for place, error_mm in enumerate((310.0, -420.0, 530.0, -270.0, 350.0, 610.0)):
        given[place] = Shot(given[place].kind, given[place].reading_mm + error_mm)
    with pytest.raises(TooFewShots) as raised:
        explain(SETUP, given)
    assert "these contradict one another, repeat left " in str(raised.value)
    assert sum(str(raised.value).count(f"{shot.kind.words}") for shot in given) <= MOST_NAMED


def test_shots_that_are_missing_are_still_called_missing() -> None:
    for pair in itertools.combinations(four(Held.CABINET), 2):
        with pytest.raises(TooFewShots, match=r"^left: missing ") as raised:
            explain(SETUP, pair)
        assert "contradict" not in str(raised.value)


def test_among_a_great_many_shots_a_wrong_one_is_named_all_the_same() -> None:
    given = shots(Held.CABINET) * 30
    given[7] = Shot(given[7].kind, given[7].reading_mm * 10)
    located, checks = told(given)
    assert [row for row, check in enumerate(checks) if check.suspect] == [7]
    assert located.placements[LEFT].side_mm == pytest.approx(STANDING.side_mm, abs=0.1)


@pytest.mark.parametrize("slip_mm", [15.0, 120.0, 3000.0, -900.0])
def test_among_a_thousand_shots_at_most_three_are_named(slip_mm: float) -> None:
    given = noisy(shots(Held.CABINET) * 125, 0.5, seed=3)
    given[417] = Shot(given[417].kind, given[417].reading_mm + slip_mm)
    located, checks = told(given)
    named = [row for row, check in enumerate(checks) if check.suspect]
    assert 417 in named
    assert len(named) <= MOST_NAMED
    assert checks[417].left_out
    assert located.placements[LEFT].side_mm == pytest.approx(STANDING.side_mm, abs=0.5)
