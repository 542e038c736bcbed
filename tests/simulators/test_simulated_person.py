"""Hands, the person who shoots and nudges, and the demo's scenario."""

import itertools
import math
from typing import Any

import numpy as np
import pytest

from witnessmark.model import BOX_POINTS, AimedAt, Pair, Placement, ShotKind, Side
from witnessmark_simulators.hands import Hands
from witnessmark_simulators.meter import fault, stay_silent
from witnessmark_simulators.person import Person
from witnessmark_simulators.scenario import (
    DEMO_SETUP,
    DEMO_TARGETS,
    demo_scenario,
    rounds,
    start_near,
    wall_shots,
)

DRAWS = 4000
STANDING = Placement(1500.0, 1900.0, 10.0)


def moves(hands: Hands, asked: Placement) -> np.ndarray:
    """What the hands really did, a row for each nudge: side, setback, toe-in."""
    rng = np.random.default_rng(7)
    done = (hands.nudge(STANDING, asked, rng).minus(STANDING) for _ in range(DRAWS))
    return np.array([(move.side_mm, move.setback_mm, move.toe_in_deg) for move in done])


def assert_independent(columns: np.ndarray) -> None:
    correlations = np.corrcoef(columns.T) - np.eye(3)
    assert (abs(correlations) < 4 / math.sqrt(DRAWS)).all()


def test_perfect_hands_do_as_asked() -> None:
    asked = Placement(30.0, -20.0, 2.0)
    perfect = Hands(gain=0.0, position_mm=0.0, toe_in_deg=0.0)
    assert perfect.nudge(STANDING, asked, np.random.default_rng(1)) == Placement(1530, 1880, 12)


def test_hands_slip_even_when_nothing_is_asked() -> None:
    slips = moves(Hands(), Placement(0.0, 0.0, 0.0))
    spread = np.array([1.0, 1.0, 0.15])
    assert (abs(slips.mean(axis=0)) < 4 * spread / math.sqrt(DRAWS)).all()
    assert slips.std(axis=0) == pytest.approx(spread, rel=4 / math.sqrt(2 * DRAWS))
    assert_independent(slips)


def test_hands_miss_by_a_share_of_what_was_asked() -> None:
    asked = np.array([40.0, -20.0, 3.0])
    done = moves(Hands(position_mm=0.0, toe_in_deg=0.0), Placement(*asked.tolist()))
    spread = 0.15 * abs(asked)
    assert (abs(done.mean(axis=0) - asked) < 4 * spread / math.sqrt(DRAWS)).all()
    assert done.std(axis=0) == pytest.approx(spread, rel=4 / math.sqrt(2 * DRAWS))
    assert_independent(done)


def demo_person(seed: int, **options: Any) -> Person:  # noqa: ANN401
    rng = np.random.default_rng(seed)
    return demo_scenario(rng).person(rng, **options)


def test_starts_fill_the_limits_and_keep_within() -> None:
    rng = np.random.default_rng(9)
    starts = [start_near(DEMO_TARGETS, rng) for _ in range(1000)]
    off = [start[side].minus(DEMO_TARGETS[side]) for start in starts for side in Side]
    for name, limit in [("side_mm", 80), ("setback_mm", 80), ("toe_in_deg", 5)]:
        values = np.array([getattr(o, name) for o in off])
        assert abs(values).max() <= limit
        assert values.min() < -0.95 * limit
        assert values.max() > 0.95 * limit


def test_every_box_point_can_be_shot_to_every_wall_from_any_start() -> None:
    for seed in range(20):
        world = demo_person(seed).world
        for side, shot in itertools.product(Side, wall_shots(Side.LEFT) + wall_shots(Side.RIGHT)):
            if shot.cabinet is side:
                assert 500 < world.true_distance(shot) < 6000


def test_the_seat_is_at_a_triangle_of_the_targets() -> None:
    """The demo's numbers hang together: the seat in the middle, both axes crossing behind it."""
    middle = DEMO_SETUP.room.width_mm / 2
    assert DEMO_SETUP.seat.from_left_mm == middle
    assert DEMO_TARGETS.left == DEMO_TARGETS.right
    depth = DEMO_SETUP.seat.from_front_mm - DEMO_TARGETS.left.setback_mm
    to_seat_deg = math.degrees(math.atan2(middle - DEMO_TARGETS.left.side_mm, depth))
    assert 0 < DEMO_TARGETS.left.toe_in_deg < to_seat_deg


def test_the_walk_goes_round_both_cabinets_and_repeats_failed_shots() -> None:
    person = demo_person(1, script=[fault("no"), stay_silent])
    walked = list(itertools.islice(person.walk(rounds()), 19))
    left, right = wall_shots(Side.LEFT), wall_shots(Side.RIGHT)
    expected = [left[0], left[0], *left, *right, *left, *right, left[0]]
    assert [kind for kind, _ in walked] == expected
    assert [answer.distance_mm is None for _, answer in walked] == [True, True] + 17 * [False]
    assert {kind.point for kind in left} < set(BOX_POINTS)
    assert {kind.to for kind in right} == {AimedAt.FRONT, AimedAt.RIGHT}


def test_a_shot_reads_the_true_distance_within_the_meters_error() -> None:
    person = demo_person(2)
    for kind in wall_shots(Side.LEFT):
        read_mm = person.shoot(kind).distance_mm
        true_mm = person.world.true_distance(kind)
        # Half a step, and five standard deviations of a 0.4 mm scatter.
        assert abs(read_mm - true_mm - person.meter.zero_mm) < 0.5 + 5 * 0.4


def test_a_beam_off_square_only_ever_reads_long_at_a_wall() -> None:
    person = demo_person(3, squareness_deg=2.0)
    (kind, *_) = wall_shots(Side.LEFT)
    true_mm = person.world.true_distance(kind)
    excess = np.array([person.shoot(kind).distance_mm - true_mm for _ in range(2000)])
    # Two angles of s radians each make a reading long by about true * s^2 on average.
    mean_excess_mm = true_mm * math.radians(2.0) ** 2
    assert excess.mean() - person.meter.zero_mm == pytest.approx(mean_excess_mm, rel=0.1)


def test_a_nudge_moves_the_true_cabinet_and_the_readings_follow() -> None:
    person = demo_person(4, hands=Hands(gain=0.0, position_mm=0.0, toe_in_deg=0.0))
    kind, before = wall_shots(Side.RIGHT)[0], person.truth
    first_mm = person.world.true_distance(kind)
    person.nudge(Side.RIGHT, Placement(0.0, 25.0, 0.0))
    assert person.truth.left == before.left
    assert person.truth.right.setback_mm == pytest.approx(before.right.setback_mm + 25.0)
    assert person.world.true_distance(kind) == pytest.approx(first_mm + 25.0)


def test_same_seed_same_story() -> None:
    def story(seed: int) -> tuple[list[bytes], Pair[Placement]]:
        person = demo_person(seed, squareness_deg=1.0)
        raws = []
        for kind, answer in itertools.islice(person.walk(rounds()), 12):
            raws.append(answer.raw)
            person.nudge(kind.cabinet, Placement(3.0, -2.0, 0.5))
        return raws, person.truth

    assert story(11) == story(11)
    assert story(11) != story(12)


@pytest.mark.parametrize("kind", [*wall_shots(Side.LEFT), *wall_shots(Side.RIGHT)], ids=str)
@pytest.mark.parametrize("about", [None, "front-inner"])
def test_a_push_changes_the_shot_that_is_watched_by_what_is_asked(
    kind: ShotKind, about: str | None
) -> None:
    person = demo_person(5, hands=Hands(gain=0.0, position_mm=0.0, toe_in_deg=0.0))
    if about is not None:
        held = person.world.plan_point(kind.cabinet, about)
    first_mm, before = person.world.true_distance(kind), person.truth[kind.cabinet]
    person.push(kind, -0.3, about)
    assert person.world.true_distance(kind) == pytest.approx(first_mm - 0.3, abs=0.02)
    after = person.truth[kind.cabinet]
    if about is None:
        assert after.toe_in_deg == before.toe_in_deg
    else:
        assert person.world.plan_point(kind.cabinet, about) == pytest.approx(held)
        assert after.toe_in_deg != before.toe_in_deg


def test_a_push_leads_astray_what_is_not_watched_by_a_share_of_it() -> None:
    kind = wall_shots(Side.LEFT)[0]
    aside = []
    for seed in range(300):
        person = demo_person(seed)
        before = person.truth.left
        person.push(kind, 20.0)
        aside.append(person.truth.left.side_mm - before.side_mm)
    # 15 % of about 20 mm; the spread of 300 draws is known to about 4 %
    assert np.std(aside) == pytest.approx(0.15 * 20.0, rel=0.2)
