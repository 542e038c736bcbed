"""Which shots are needed: against every set tried out, and what the adjustment then says."""

from __future__ import annotations

import itertools

import msgspec
import numpy as np
import pytest
from effort import examples
from geometry_cases import SETUP, STANDING, by_side, is_possible, stood, true_shots
from hypothesis import assume, given
from hypothesis import strategies as st

from witnessmark.errors import BadInput
from witnessmark.geometry.rounding import repeats_help
from witnessmark.locate.pose import Located, expanded_of, locate
from witnessmark.locate.sightlines import possible_shots
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Meter,
    OneCabinet,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tolerance,
    Wall,
)
from witnessmark.shots.candidates import SHARE
from witnessmark.shots.plan import ShotPlan, planned_shots
from witnessmark.words.shots_needed import settled_words

BOX = Cabinet(262.0, 391.0, 940.0)
PAIR = Setup(
    room=Room.rectangular(5360.0, 7240.0),
    cabinets=Pair(BOX, BOX),
    seat=Seat(4400.0, 2680.0, 1020.0),
    meter=Meter(0.4, 1.0, 0.7),
    targets=Pair(Placement(1450.0, 1900.0, 8.0), Placement(1450.0, 1900.0, 8.0)),
)
EVERYTHING = {"holds": tuple(Held), "walls": tuple(Wall)}
changed = msgspec.structs.replace


def targets(setup: Setup) -> Pair[Placement]:
    left, right = setup.targets.left, setup.targets.right
    assert left is not None
    assert right is not None
    return Pair(left, right)


def located(setup: Setup, kinds: tuple[ShotKind, ...]) -> Located:
    """What the adjustment makes of these shots, taken without error of cabinets on target."""
    return locate(setup, true_shots(setup, targets(setup), kinds))


def asking(setup: Setup, share: float) -> Setup:
    """The setup with a tolerance of which the usual share is ``share`` of the present one."""
    position, toe_in = setup.tolerance.position_mm, setup.tolerance.toe_in_deg
    return changed(setup, tolerance=Tolerance(position * share / SHARE, toe_in * share / SHARE))


def reaches(setup: Setup, kinds: tuple[ShotKind, ...], share: float) -> bool:
    side = kinds[0].cabinet
    standing = targets(setup)[side]
    assert standing is not None
    known = expanded_of(OneCabinet(setup, side), standing, kinds)
    if known is None:
        return False
    position, toe_in = setup.tolerance.position_mm, setup.tolerance.toe_in_deg
    return (
        max(known.side_mm, known.setback_mm) <= share * position
        and known.toe_in_deg <= share * toe_in
    )


@pytest.mark.parametrize("held", [Held.CABINET, Held.WALL])
@pytest.mark.parametrize(
    ("position_mm", "toe_in_deg", "share"),
    [(3.0, 0.5, 0.6), (3.0, 0.25, 0.6), (3.0, 0.5, 0.55), (4.0, 0.2, 0.7), (3.0, 0.15, 0.6)],
)
def test_no_smaller_set_would_do(
    held: Held, position_mm: float, toe_in_deg: float, share: float
) -> None:
    """Every multiset of the shots on offer, solved one by one, up to the size of the plan."""
    setup = changed(PAIR, tolerance=Tolerance(position_mm, toe_in_deg), held=held)
    plan = planned_shots(OneCabinet(asking(setup, share), Side.LEFT))
    assert plan.reaches
    assert plan.fewest == len(plan.shots)
    assert reaches(setup, plan.shots, share)
    walls = (Wall.FRONT, Wall.LEFT)
    offered = possible_shots(setup, Side.LEFT, by_side(targets(setup)), (held,), walls)
    for smaller in range(3, min(len(plan.shots), 6)):
        for kinds in itertools.combinations_with_replacement(offered, smaller):
            assert not reaches(setup, kinds, share), kinds


def test_no_smaller_set_would_do_with_all_ways_of_holding() -> None:
    setup = changed(PAIR, tolerance=Tolerance(3.0, 0.25))
    plan = planned_shots(OneCabinet(asking(setup, 0.4), Side.RIGHT), **EVERYTHING)
    assert len(plan.shots) == 4
    offered = possible_shots(setup, Side.RIGHT, by_side(targets(setup)), tuple(Held), tuple(Wall))
    for kinds in itertools.combinations_with_replacement(offered, 3):
        assert not reaches(setup, kinds, 0.4), kinds


@examples(20, 100)
@given(stood(toe_in_deg=20.0), st.sampled_from(Side), st.sampled_from((0.5, 0.8)), st.booleans())
def test_the_adjustment_finds_what_was_foretold(
    case: tuple[Setup, Pair[Placement]], side: Side, share: float, everything: bool
) -> None:
    setup, standing = case
    setup = changed(setup, targets=Pair[Placement | None](standing.left, standing.right))
    try:
        plan = planned_shots(
            OneCabinet(asking(setup, share), side), **(EVERYTHING if everything else {})
        )
    except BadInput:
        assume(False)
        raise
    assume(plan.expanded is not None)
    assert plan.expanded is not None
    assert all(is_possible(setup, standing, kind) for kind in plan.shots)
    known = located(setup, plan.shots).expanded(side)
    # like readings on a display coarser than the meter share their rounding, which shows only then
    shared = not repeats_help(setup.meter)
    for name in ("side_mm", "setback_mm", "toe_in_deg"):
        foretold, found = getattr(plan.expanded, name), getattr(known, name)
        assert foretold == pytest.approx(found, rel=1e-4) or (shared and foretold < found)
    assert plan.reaches == reaches(setup, plan.shots, share) or (shared and plan.reaches)


def test_foretold_intervals_hold_the_truth() -> None:
    """Of cabinets that stand off target by as much as hands leave them, with a zero error each."""
    plan = planned_shots(OneCabinet(asking(PAIR, 0.45), Side.LEFT), **EVERYTHING)
    assert plan.expanded is not None
    rng, held, rounds = np.random.default_rng(5), 0, 1500
    for _ in range(rounds):
        off = rng.normal(0.0, (2.0, 2.0, 0.3)).tolist()
        target = targets(PAIR).left
        truth = Placement(
            target.side_mm + off[0], target.setback_mm + off[1], target.toe_in_deg + off[2]
        )
        shots = true_shots(PAIR, Pair(truth, targets(PAIR).right), plan.shots, rng.normal(0.0, 0.7))
        noisy = [
            Shot(shot.kind, shot.reading_mm + rng.normal(0.0, PAIR.meter.shot_sigma_mm))
            for shot in shots
        ]
        error = locate(PAIR, noisy).placements[Side.LEFT].minus(truth)
        held += abs(error.side_mm) <= plan.expanded.side_mm
        held += abs(error.setback_mm) <= plan.expanded.setback_mm
        held += abs(error.toe_in_deg) <= plan.expanded.toe_in_deg
    assert 0.945 <= held / (3 * rounds) <= 0.965


def test_the_right_plan_is_the_left_one_in_the_mirror() -> None:
    left, right = (planned_shots(OneCabinet(PAIR, side)) for side in Side)
    mirrored = {AimedAt.LEFT: AimedAt.RIGHT, AimedAt.FRONT: AimedAt.FRONT}
    assert [(kind.point, mirrored[kind.to]) for kind in left.shots] == [
        (kind.point, kind.to) for kind in reversed(right.shots)
    ]
    assert left.expanded is not None
    assert right.expanded is not None
    assert left.expanded.toe_in_deg == pytest.approx(right.expanded.toe_in_deg)


def test_the_plan_of_a_usual_pair() -> None:
    plan = planned_shots(OneCabinet(PAIR, Side.LEFT))
    assert [(kind.point, kind.to, kind.held) for kind in plan.shots] == [
        ("front-outer", AimedAt.LEFT, Held.CABINET),
        ("rear-outer", AimedAt.LEFT, Held.CABINET),
        ("rear-inner", AimedAt.FRONT, Held.CABINET),
    ]
    assert plan.expanded is not None
    assert settled_words(OneCabinet(PAIR, Side.LEFT), len(plan.shots), plan.expanded) == (
        "3 shots fix the left cabinet: side to ±1.5 mm, setback to ±1.8 mm, toe-in to ±0.20°"
    )
    assert planned_shots(OneCabinet(PAIR, Side.LEFT)) == plan


def test_few_ways_of_holding_and_few_places_are_preferred() -> None:
    plan = planned_shots(OneCabinet(PAIR, Side.LEFT), holds=tuple(Held))
    assert {kind.held for kind in plan.shots} == {Held.CABINET}
    assert len({kind.point for kind in plan.shots}) == len(plan.shots)


def shortfall_of(plan: ShotPlan) -> str:
    assert plan.shortfall is not None
    return plan.shortfall


def told(setup: Setup, **wish: object) -> ShotPlan:
    plan = planned_shots(OneCabinet(setup, Side.LEFT), **wish)  # type: ignore[arg-type]
    assert not plan.reaches
    assert plan.fewest is None
    return plan


def test_toe_in_that_no_set_settles_asks_for_a_longer_base() -> None:
    setup = changed(PAIR, tolerance=Tolerance(3.0, 0.1))
    plan = told(setup)
    assert shortfall_of(plan).startswith(
        "with this meter over a 391 mm base toe-in is known to ±0.09° at best; "
    )
    assert "±0.06° is needed; use a straightedge of 600 mm or use a spot shot" in shortfall_of(plan)
    edged = changed(BOX, straightedge_mm=600.0)
    assert planned_shots(OneCabinet(changed(setup, cabinets=Pair(edged, edged)), Side.LEFT)).reaches
    assert planned_shots(OneCabinet(setup, Side.LEFT), holds=(Held.CABINET, Held.SPOT)).reaches
    best = max(located(setup, plan.shots).expanded(Side.LEFT).toe_in_deg, 0.06)
    assert best > 0.06


def test_a_shallow_cabinet_is_measured_over_its_width() -> None:
    shallow = Cabinet(262.0, 120.0)
    setup = changed(PAIR, cabinets=Pair(shallow, shallow), tolerance=Tolerance(3.0, 0.15))
    assert shortfall_of(told(setup)).startswith(
        "with this meter over a 262 mm base toe-in is known to ±0.1"
    )


def test_a_zero_that_is_too_uncertain_is_to_be_learned() -> None:
    setup = changed(PAIR, tolerance=Tolerance(1.0, 0.5))
    plan = told(setup)
    assert "setback is known to ±1.5 mm at best; ±0.6 mm is needed" in shortfall_of(plan)
    assert shortfall_of(plan).endswith("learn its zero to ±0.2 mm by shooting known lengths")
    known = changed(setup, meter=changed(PAIR.meter, zero_mm=0.1))
    assert planned_shots(OneCabinet(known, Side.LEFT)).reaches
    assert not planned_shots(
        OneCabinet(changed(setup, meter=changed(PAIR.meter, zero_mm=0.2)), Side.LEFT)
    ).reaches


def test_where_nothing_helps_the_tolerances_within_reach_are_told() -> None:
    setup = changed(PAIR, tolerance=Tolerance(1.0, 0.1))
    words = shortfall_of(told(setup))
    assert words.endswith("tolerances of 2.5 mm and 0.25° are within its reach")
    assert planned_shots(
        OneCabinet(changed(setup, tolerance=Tolerance(2.5, 0.25)), Side.LEFT)
    ).reaches


def test_what_no_shot_tells_is_named() -> None:
    room = changed(PAIR.room, datum=(Wall.LEFT,))
    plan = told(changed(PAIR, room=room))
    assert shortfall_of(plan) == (
        "the shots that can be taken of the left cabinet do not fix its side: "
        "hold the meter on the wall as well"
    )
    assert plan.shots == ()
    assert plan.expanded is None
    both = planned_shots(
        OneCabinet(changed(PAIR, room=room), Side.LEFT), holds=(Held.CABINET, Held.WALL)
    )
    assert both.reaches


def test_repeats_count_only_where_they_tell_something() -> None:
    """A display that is coarse for the meter's noise shows the same again."""
    steady = changed(PAIR, meter=Meter(0.1, 1.0, 0.7), tolerance=Tolerance(3.0, 0.2))
    plan = planned_shots(OneCabinet(steady, Side.LEFT))
    assert len(set(plan.shots)) == len(plan.shots)


def test_a_plan_at_another_pose_than_the_target() -> None:
    turned = {Side.LEFT: Placement(1450.0, 1900.0, 30.0)}
    plan = planned_shots(OneCabinet(SETUP, Side.LEFT), turned)
    assert plan.reaches
    with pytest.raises(BadInput, match=r"target\.left"):
        planned_shots(OneCabinet(SETUP, Side.LEFT))
    assert planned_shots(OneCabinet(SETUP, Side.LEFT), by_side(STANDING)).reaches


def test_a_cabinet_that_nothing_can_be_shot_of_is_refused() -> None:
    with pytest.raises(BadInput, match="no shot of the left cabinet"):
        planned_shots(OneCabinet(PAIR, Side.LEFT), {Side.LEFT: Placement(-500.0, 1900.0, 0.0)})
