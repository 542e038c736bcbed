"""Spot shots: asked for only where the near walls do not settle toe-in, and what they settle."""

from __future__ import annotations

import textwrap

import msgspec
import numpy as np
import pytest
from effort import cases
from exact_shots import LEFT, SETUP, TARGET, finished, reading, shoot, with_targets, world_of
from person_at_work import SETUP as DEMO
from person_at_work import Ended, work_through

from witnessmark.locate.pose import locate, predict, predict_expanded
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Edge,
    Held,
    Meter,
    OneCabinet,
    Pair,
    Placement,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tolerance,
    TouchPoint,
    Wall,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.expectation import expect, gate_at_rest
from witnessmark.placing.guidance import guide
from witnessmark.placing.round import Round
from witnessmark.placing.shot_list import crosses_at_eye_height, plan_of_shots, route, usual_shots
from witnessmark.sentences import sentence
from witnessmark.shots.plan import planned_shots
from witnessmark.words.cautions import BEAM_ACROSS
from witnessmark.words.holding import how_to_hold
from witnessmark.words.live import say
from witnessmark.words.shots_needed import shots_needed

STANDING = dict.fromkeys(Side, TARGET)
changed = msgspec.structs.replace
FINE: Setup = changed(SETUP, tolerance=Tolerance(3.0, 0.1), spot_shots=True)
BEYOND_WALLS = Tolerance(3.0, 0.08)
"""Three walks to the walls leave the toe-in open by more than this, wherever it stands."""
SPOT = ShotKind(LEFT, "front-outer", AimedAt.LEFT, Held.SPOT)


def spots(shots: tuple[ShotKind, ...]) -> list[ShotKind]:
    return [kind for kind in shots if kind.held is Held.SPOT]


# --- which are asked for


@pytest.mark.parametrize("side", Side)
def test_none_are_asked_for_where_the_walls_suffice(side: Side) -> None:
    allowed = changed(SETUP, spot_shots=True)
    assert route(OneCabinet(allowed, side)) == route(OneCabinet(SETUP, side))
    assert plan_of_shots(OneCabinet(allowed, side), STANDING) == planned_shots(
        OneCabinet(SETUP, side), STANDING
    )


@pytest.mark.parametrize("side", Side)
@pytest.mark.parametrize("held", [Held.CABINET, Held.WALL])
def test_where_they_do_not_a_spot_follows_the_usual_walk(side: Side, held: Held) -> None:
    fine = changed(FINE, held=held)
    forbidden = route(OneCabinet(changed(fine, spot_shots=False), side))
    assert forbidden.remark is not None
    assert "use a spot shot" in forbidden.remark
    given = route(OneCabinet(fine, side))
    assert given.remark is None
    assert given.shots[:4] == usual_shots(OneCabinet(fine, side))
    assert len(given.shots) == 5
    (spot,) = spots(given.shots)
    assert given.shots[-1] == spot
    assert spot.to.value == side.value


def test_a_spot_spares_a_person_many_shots_to_the_walls() -> None:
    many = changed(SETUP, tolerance=Tolerance(3.0, 0.15))
    assert planned_shots(OneCabinet(many, LEFT), STANDING).fewest == 11
    few = changed(many, spot_shots=True)
    assert len(route(OneCabinet(few, LEFT)).shots) == 5
    assert plan_of_shots(OneCabinet(few, LEFT), STANDING).reaches


def test_spots_are_not_asked_for_in_vain_but_for_what_they_do_settle() -> None:
    """Where the zero error alone puts the position out of reach, toe-in may still be worth it."""
    coarse = changed(FINE, tolerance=Tolerance(1.0, 0.5))
    assert spots(route(OneCabinet(coarse, LEFT)).shots) == []
    assert route(OneCabinet(coarse, LEFT)).remark is not None
    turned = changed(FINE, tolerance=Tolerance(1.0, 0.05))
    given = route(OneCabinet(turned, LEFT))
    assert len(spots(given.shots)) >= 1
    assert given.remark is not None
    assert "spot" not in given.remark


def test_without_a_back_wall_there_is_none() -> None:
    open_back = changed(FINE, room=changed(FINE.room, datum=(Wall.BACK,)))
    assert spots(route(OneCabinet(open_back, LEFT)).shots) == []
    assert any("solid back wall" in words for words in shots_needed(open_back))


def test_a_cabinet_whose_usual_walk_cannot_be_taken_has_its_planned_one_spots_last() -> None:
    tapered = Cabinet(
        268,
        405,
        points={f"rear-{end}": TouchPoint(x, 405) for end, x in (("inner", 80), ("outer", -80))},
    )
    held_flush: Setup = changed(FINE, cabinets=Pair(tapered, tapered))
    given = route(OneCabinet(held_flush, LEFT))
    assert ("front-outer", "left", "cabinet") not in [
        (kind.point, kind.to, kind.held) for kind in given.shots
    ]
    kinds = [kind.held for kind in given.shots]
    assert kinds == sorted(kinds, key=lambda held: held is Held.SPOT)


# --- what is told of them beforehand


def test_the_sentence_tells_how_many_and_to_what() -> None:
    (words,) = shots_needed(SETUP)
    assert words.startswith("3 shots fix each cabinet: side to ±")
    assert words.endswith("take 4, so that they check one another")
    (fine,) = shots_needed(FINE)
    assert "one of them is a spot shot" in fine
    (out_of_reach,) = shots_needed(changed(FINE, spot_shots=False))
    assert "toe-in is known to ±0.0" in out_of_reach
    assert "use a spot shot" in out_of_reach


def test_without_targets_the_pair_stands_in_the_middle_of_the_lanes() -> None:
    (words,) = shots_needed(with_targets(None, None))
    assert words.startswith("3 shots fix each cabinet")
    against_the_wall = with_targets(Placement(1420.0, 60.0, 9.0), None)
    left, right = shots_needed(against_the_wall)
    assert "left cabinet" in left
    assert right.startswith("3 shots fix the right cabinet")


def test_cabinets_that_differ_have_a_sentence_each() -> None:
    shallow = Cabinet(268, 120)
    setup = changed(SETUP, cabinets=Pair(SETUP.cabinets.left, shallow), tolerance=Tolerance(3, 0.2))
    left, right = shots_needed(setup)
    assert "the left cabinet" in left
    assert right.startswith(
        "right cabinet: with this meter over a 268 mm base toe-in is known to ±"
    )
    assert "use a straightedge of" in right


# --- how they are taken


@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("point", ["front-outer", "plinth-front-outer"])
def test_how_a_spot_is_taken_fits_two_lines(edge: Edge, point: str) -> None:
    words = how_to_hold(changed(SPOT, point=point), edge)
    assert f"the baffle at {point} and fire ahead" in words
    assert "mark the dot on the back wall" in words
    assert words.endswith("measure square to it from the left wall")
    assert len(textwrap.wrap(words, 80)) == 2


@pytest.mark.parametrize("edge", Edge)
@pytest.mark.parametrize("held", [Held.CABINET, Held.WALL])
def test_how_a_straightedge_is_used_fits_two_lines(edge: Edge, held: Held) -> None:
    words = how_to_hold(ShotKind(LEFT, "straightedge-inner", AimedAt.FRONT, held), edge)
    assert words.startswith("hold a straightedge across the baffle, centred; hold ")
    assert "the back of its inner end" in words
    assert len(textwrap.wrap(words, 80)) == 2


def test_a_spot_is_not_taken_for_the_shot_to_the_side_wall() -> None:
    assert SPOT.words == "front-outer to back wall, spot from left wall"
    state = shoot(Round.begin(FINE), world_of(FINE), [0.0] * 4)
    guidance = guide(state)
    assert guidance.prompt.kind.held is Held.SPOT
    assert say(guidance).headline.figure == "L FRONT OUTER ↓"
    assert "front-outer to back wall, spot from left wall" in say(guidance).headline.words
    after = guide(shoot(state, world_of(FINE)))
    assert any("spot of front-outer" in words for words in say(after).details)


@pytest.mark.parametrize(
    ("height_mm", "held", "to", "crosses"),
    [
        (1100.0, Held.SPOT, AimedAt.LEFT, True),
        (1100.0, Held.POINT, AimedAt.SEAT, True),
        (1100.0, Held.CABINET, AimedAt.FRONT, False),
        (40.0, Held.SPOT, AimedAt.LEFT, False),
        (1900.0, Held.SPOT, AimedAt.LEFT, False),
    ],
)
def test_a_beam_at_the_height_of_eyes_is_minded(
    height_mm: float, held: Held, to: AimedAt, crosses: bool
) -> None:
    kind, point = ShotKind(LEFT, "high", to, held), TouchPoint(0.0, 0.0, height_mm)
    assert crosses_at_eye_height(kind, point) is crosses
    beam_at = changed(kind, height_mm=height_mm)
    assert crosses_at_eye_height(beam_at, TouchPoint(0.0, 0.0)) is crosses


def test_the_caution_is_told_once_to_each_cabinet_and_on_the_page() -> None:
    corners = SETUP.cabinets.left.body_points
    high = {name: changed(at, height_mm=1000.0) for name, at in corners.items()}
    cabinet = changed(SETUP.cabinets.left, points=high)
    setup: Setup = changed(FINE, cabinets=Pair(cabinet, cabinet))
    assert shots_needed(setup)[-1] == BEAM_ACROSS
    assert BEAM_ACROSS not in shots_needed(FINE)
    state = shoot(Round.begin(setup), world_of(setup), [0.0] * 4)
    assert say(guide(state)).details[:2] == (sentence(how_to_hold(state.prompted)), BEAM_ACROSS)
    ended = finished(setup)
    again = shoot(ended, world_of(setup), [0.0] * 4)
    assert again.prompted.held is Held.SPOT
    assert BEAM_ACROSS not in say(guide(again)).details


# --- what is believed, and what they settle


def test_what_a_spot_may_read_is_as_open_as_the_walls_leave_the_toe_in() -> None:
    state = shoot(Round.begin(FINE), world_of(FINE), [0.0] * 4)
    expected = expect(state.work, state.prompted)
    assert expected.reading_mm == pytest.approx(predict(FINE, STANDING, state.prompted), abs=0.1)
    located = locate(FINE, state.work.shots)
    open_mm = predict_expanded(FINE, located, state.prompted)
    assert expected.gate_mm == pytest.approx(gate_at_rest(FINE.meter) + open_mm)
    turn = np.radians(located.expanded(LEFT).toe_in_deg)
    beam_mm = FINE.room.length_mm - TARGET.setback_mm
    assert open_mm == pytest.approx(turn * beam_mm, rel=0.2)


def test_the_foretold_spread_is_that_of_walks_with_noise() -> None:
    setup: Setup = changed(FINE, meter=Meter(0.4, 1.0, 0.0))
    rng, world, kinds = (
        np.random.default_rng(3),
        world_of(setup),
        usual_shots(OneCabinet(setup, LEFT)),
    )
    misses = []
    for _ in range(200):
        shots = [
            Shot(kind, world.true_distance(kind) + rng.normal(0.0, setup.meter.shot_sigma_mm))
            for kind in kinds
        ]
        located = locate(setup, shots)
        misses.append(predict(setup, located.placements, SPOT) - world.true_distance(SPOT))
    foretold = predict_expanded(setup, located, SPOT)
    assert 2 * np.std(misses) == pytest.approx(foretold, rel=0.15)


def test_a_slip_at_the_spot_is_questioned() -> None:
    state = shoot(Round.begin(FINE), world_of(FINE), [0.0] * 4)
    state = state.feed(reading(world_of(FINE).true_distance(SPOT) + 100.0))
    assert state.question is not None


@pytest.fixture(scope="module")
def ends() -> dict[bool, list[Ended]]:
    """Rounds of the simulated person, with spot shots and without."""
    fine = changed(DEMO, tolerance=BEYOND_WALLS)
    return {
        allowed: [work_through(seed, changed(fine, spot_shots=allowed)) for seed in range(seeds)]
        for allowed, seeds in ((False, cases(2, 3)), (True, cases(3, 8)))
    }


def test_spots_settle_a_toe_in_that_wall_shots_alone_cannot(ends: dict[bool, list[Ended]]) -> None:
    assert not any(called for end in ends[False] for called in end.called_in)
    assert all(end.finished for end in ends[True])
    called = [called for end in ends[True] for called in end.called_in]
    truly = [truly for end in ends[True] for truly in end.truly_in]
    assert all(called)
    assert sum(truly) >= len(truly) - 1


def test_they_are_settled_and_not_just_as_near_as_can_be_told() -> None:
    fine: Setup = changed(FINE, tolerance=BEYOND_WALLS)
    end = finished(fine)
    assert {end.works[side].stage for side in Side} == {Stage.SETTLED}
    walls_only = finished(changed(fine, spot_shots=False))
    assert {walls_only.works[side].stage for side in Side} == {Stage.BEST}
