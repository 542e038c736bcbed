"""The study of honest answers itself: its readings, what it plants, and what it counts.

``bench_honest_answers.py`` and ``bench_live_honesty.py`` print the figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import msgspec
import numpy as np
import pytest
from answer_regimes import FEET_PER_METRE, REGIMES, all_times, one_times, planted
from answer_rounds import Regime, draw_case
from honest_answers import (
    HEADINGS,
    Off,
    bands,
    is_impossible,
    outcome_of,
    row,
    solve,
    true_symmetry,
)
from honesty import World
from in_processes import in_processes, shared_out
from shapely.affinity import scale
from shapely.geometry import LineString, Point

from witnessmark.model import AimedAt, Held, Meter, Pair, Placement, Shot, ShotKind, Side, Wall

EXACT = Meter(repeatability_mm=1e-6, resolution_mm=0.0, zero_mm=0.0)
"""The simulated meter shows it to the nanometre."""


def rng(seed: int = 3) -> np.random.Generator:
    return np.random.default_rng(seed)


def by_shapely(world: World, kind: ShotKind) -> float:
    """A reading from the corners of the true room and two square axes, by shapely's distances."""
    truth = world.truth
    x, y, direction = _point_and_axis(world, kind)
    start = Point(x, y)
    if kind.held is Held.POINT:
        return float(start.distance(Point(truth.seat.plan)))
    # drawn on past their corners: square to a wall may be beside its end in a corner that is wide
    walls = {wall: scale(LineString(truth.room.wall(wall)), 2.0, 2.0) for wall in Wall}
    beam = LineString([(x, y), (x + 1e5 * direction[0], y + 1e5 * direction[1])])
    if kind.held is Held.SPOT:
        return float(beam.intersection(walls[Wall.BACK]).distance(walls[Wall(kind.to)]))
    wall = walls[Wall(kind.to)]
    if kind.held is Held.WALL:
        return float(start.distance(wall))
    return float(start.distance(beam.intersection(wall)))


def _point_and_axis(world: World, kind: ShotKind) -> tuple[float, float, Sequence[float]]:
    """Where a touch point is, and the cabinet's axis toward what it is shot to: rotations only.

    The front wall lies along x from the origin in every room of the study.
    """
    truth, side = world.truth, kind.cabinet
    at, hand = truth.standing[side], 1 if side is Side.LEFT else -1
    turn = math.radians(at.toe_in_deg)
    forward = (hand * math.sin(turn), math.cos(turn))
    inward = (hand * math.cos(turn), -math.sin(turn))
    corner, far = (
        (truth.room.front_left, truth.room.back_left)
        if side is Side.LEFT
        else (truth.room.front_right, truth.room.back_right)
    )
    # side and setback are both square to their wall
    lean = math.atan2(far[0] - corner[0], far[1] - corner[1])
    x = corner[0] + hand * at.side_mm / math.cos(lean) + at.setback_mm * math.tan(lean)
    touch = truth.cabinets[side].touch_points[kind.point]
    points = [
        origin + inward[axis] * touch.inward_mm - forward[axis] * touch.back_mm
        for axis, origin in enumerate((x, at.setback_mm))
    ]
    own = kind.to.value == side.value
    if kind.held is Held.SPOT or kind.to is AimedAt.BACK:
        return (*points, forward)
    if kind.to is AimedAt.FRONT:
        return (*points, (-forward[0], -forward[1]))
    return (*points, (-inward[0], -inward[1]) if own else inward)


@pytest.mark.parametrize("name", [name for name in REGIMES if name.startswith("clean")])
def test_readings_are_the_distances_that_shapely_finds(name: str) -> None:
    regime = REGIMES[name]._replace(meter=EXACT)
    case = draw_case(regime, rng())
    assert len(case.shots) == 2 * (regime.shots + len(regime.more))
    assert len({shot.kind for shot in case.shots}) == len(case.shots)
    assert {shot.kind.held for shot in case.shots} <= {*regime.holds, Held.POINT, Held.SPOT}
    for shot in case.shots:
        assert shot.reading_mm == pytest.approx(by_shapely(case.world, shot.kind), abs=1e-4)


def test_what_is_told_is_true_but_for_what_the_regime_says() -> None:
    plain = draw_case(REGIMES["clean: held wall, 4 shots"], rng()).world
    assert plain.setup.room == plain.truth.room
    assert plain.setup.cabinets == plain.truth.cabinets
    square = draw_case(REGIMES["backwards: told square"], rng()).world
    told, true = square.setup.room, square.truth.room
    assert told.back_left == (0.0, told.length_mm)
    lean = (true.back_left[0] - true.front_left[0]) / told.length_mm
    assert abs(lean) == pytest.approx(0.01)
    wide = draw_case(REGIMES["backwards: width 25 mm wrong"], rng()).world
    for side in Side:
        off = wide.truth.cabinets[side].width_mm - wide.setup.cabinets[side].width_mm
        assert abs(off) == pytest.approx(25.0)


def some_shots() -> list[Shot]:
    return draw_case(REGIMES["clean: held mixed, 6 shots"], rng()).shots


def test_a_planted_blunder_is_in_one_shot_and_of_any_size() -> None:
    shots, slip = some_shots(), planted(1)
    sizes, random = [], rng()
    for _ in range(400):
        spoilt, wrong, _ = slip(random, shots)
        (place,) = wrong
        off = [new.reading_mm - old.reading_mm for new, old in zip(spoilt, shots, strict=True)]
        assert all(mm == 0 for at, mm in enumerate(off) if at != place)
        sizes.append(off[place])
    assert 8.0 <= np.abs(sizes).min() < 9.0
    assert 270.0 < np.abs(sizes).max() <= 300.0
    # half of the sizes lie below the geometric mean
    assert np.mean(np.abs(sizes) < math.sqrt(8 * 300)) == pytest.approx(0.5, abs=0.1)
    assert np.mean(np.array(sizes) > 0) == pytest.approx(0.5, abs=0.1)


def test_units_are_mistaken_in_all_shots_or_in_one() -> None:
    shots = [Shot(some_shots()[0].kind, 1512.0)]
    assert all_times(FEET_PER_METRE)(rng(), shots).shots[0].reading_mm == pytest.approx(
        4960.6, 1e-4
    )
    several = some_shots()
    assert len(all_times(0.1)(rng(), several).wrong) == len(several)
    one = one_times(10.0)(rng(), several)
    (place,) = one.wrong
    assert one.shots[place].reading_mm == pytest.approx(10 * several[place].reading_mm)


def test_an_exact_round_is_told_as_it_is() -> None:
    outcome = solve(draw_case(REGIMES["clean: held mixed, 6 shots"]._replace(meter=EXACT), rng()))
    answer = outcome.answer
    assert answer is not None
    assert all(abs(off.off) < 1e-3 for offs in answer.cabinets.values() for off in offs)
    assert all(abs(off.off) < 1e-3 for off in answer.pair.values())
    assert answer.unseen
    assert not any((answer.wrongly_in, answer.is_impossible, answer.accused))


def test_a_named_blunder_is_counted_as_such() -> None:
    regime = Regime("", 6, slip=planted(1, 50.0))
    found = [solve(draw_case(regime, rng(seed))) for seed in range(10)]
    answers = [one.answer for one in found if one.answer is not None]
    assert sum(answer.named for answer in answers) >= 5
    assert not any(answer.named and (answer.accused or answer.unseen) for answer in answers)


def test_the_path_of_the_truth_is_that_of_its_points() -> None:
    world = draw_case(REGIMES["clean: held wall, 4 shots, 2 % skewed"], rng()).world
    truth = true_symmetry(world.truth)
    paths = []
    for side in Side:
        kind = ShotKind(side, "front-inner", AimedAt.SEAT, Held.POINT)
        x, y, _ = _point_and_axis(world, kind)
        other_x, other_y, _ = _point_and_axis(
            world, msgspec.structs.replace(kind, point="front-outer")
        )
        seat_x, seat_y = world.truth.seat.plan
        up = world.truth.cabinets[side].acoustic_height_mm - world.truth.seat.ear_height_mm
        paths.append(np.linalg.norm([(x + other_x) / 2 - seat_x, (y + other_y) / 2 - seat_y, up]))
    assert truth["path_to_seat_mm"] == pytest.approx(paths[0] - paths[1], abs=1e-6)


def test_impossible_is_out_of_the_room_turned_away_or_in_each_other() -> None:
    setup = draw_case(REGIMES["clean: held wall, 4 shots"], rng()).world.setup
    usual = Placement(setup.room.width_mm / 4, 1500.0, 5.0)

    def impossible(left: Placement, right: Placement = usual) -> bool:
        return is_impossible(setup, Pair[Placement | None](left, right))

    replace = msgspec.structs.replace
    assert not impossible(usual)
    assert not impossible(replace(usual, toe_in_deg=-80.0))
    assert impossible(replace(usual, toe_in_deg=93.0))
    assert impossible(replace(usual, setback_mm=setup.room.length_mm + 60.0))
    assert impossible(replace(usual, side_mm=-60.0))
    assert impossible(replace(usual, side_mm=setup.room.width_mm * 0.75))
    assert not is_impossible(setup, Pair[Placement | None](None, usual))


def test_off_is_counted_in_the_uncertainty_that_was_told() -> None:
    assert not Off(-1.9, 2.0).beyond(1.0)
    assert Off(-2.1, 2.0).beyond(1.0)
    assert Off(math.nan, 2.0).beyond(1.0)


def test_rounds_are_the_same_in_any_number_of_processes() -> None:
    name = "clean: held cabinet, 3 shots"
    alone, together = (in_processes(partial(outcome_of, name), 6, jobs) for jobs in (1, 2))
    assert [one.answer for one in alone] == [one.answer for one in together]
    assert alone[0].answer != alone[1].answer
    assert len(row(alone)) == len(HEADINGS)


def test_slips_are_told_apart_by_their_size() -> None:
    found = [outcome_of("blunders: 8 shots, one", number) for number in range(12)]
    assert sum(len(some) for some in bands(found).values()) == 12
    assert [*bands(found)] == sorted(bands(found), key=lambda band: int(band.split()[0]))


def test_shares_add_up() -> None:
    assert shared_out(1000, [1, 1, 4]) == [166, 167, 667]


@pytest.mark.parametrize("number", [3, 14, 34, 120, 123])
def test_what_one_cabinet_leaves_open_does_not_make_the_other_contradict(number: int) -> None:
    """Clean rounds in which each cabinet's shots to walls allow two toe-ins."""
    outcome = outcome_of("two answers: 3 to walls and the seat", number)
    assert "agree" not in outcome.failure
    if outcome.answer is not None:
        assert not any(off.beyond(3) for offs in outcome.answer.cabinets.values() for off in offs)
