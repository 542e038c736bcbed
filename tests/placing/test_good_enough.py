"""How sure a cabinet is to be in, within what it is called in, and when it is good enough."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
import scipy
from exact_shots import (
    LEFT,
    RIGHT,
    SETUP,
    TARGET,
    do,
    known,
    mark_in,
    off,
    settle,
    shoot,
    walk_round,
    with_targets,
    world_of,
)
from rounds import AT, Working

from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units, format_at_most
from witnessmark.locate.blunders import explain
from witnessmark.model import (
    OF_CABINET,
    Act,
    Cabinet,
    Held,
    Mark,
    Meter,
    OneCabinet,
    Pair,
    Placement,
    Quantity,
    Setup,
    SetupChanged,
    Shot,
    Side,
    Tolerance,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.cues import Sign, cue
from witnessmark.placing.figures import tables
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.judge import ENOUGH_PROBABILITY, AgainstTarget, appraise
from witnessmark.placing.round import Round
from witnessmark.placing.shot_list import usual_shots
from witnessmark.report.mark import mark_list, whole_mark
from witnessmark.report.terminal import text_lines
from witnessmark.session.meter_check import from_three_marks
from witnessmark.shots.narrowing import Remedy
from witnessmark.store.records import Kept, from_columns, to_columns
from witnessmark.words.live import say
from witnessmark.words.spoken import spoken
from witnessmark_simulators.scenario import Scenario

PROBABLE = off(side_mm=2.0)
"""So far off its target that the meter of the setup leaves open whether it is in, at about 90 %."""
DOUBTFUL = off(side_mm=2.6)


def found(standing: Placement, setup: Setup = SETUP) -> Round:
    """A round in which the left cabinet was walked round once and stands so."""
    return walk_round(Round.begin(setup), world_of(setup, left=standing))


def against(guidance: Guidance, side: Side = LEFT) -> AgainstTarget:
    appraisal = guidance.cabinets[side].appraisal
    assert appraisal is not None
    assert appraisal.against_target is not None
    return appraisal.against_target


@pytest.mark.parametrize("standing", [PROBABLE, DOUBTFUL, off(1.5, -1.9), off(0.5, 2.2, 0.3)])
def test_how_sure_is_the_joint_probability_of_all_three(standing: Placement) -> None:
    """Against scipy's distribution with the covariance of the shots themselves."""
    state = found(standing)
    located = explain(SETUP, state.work.judged).located
    error, limits = located.placements[LEFT].minus(TARGET), (3.0, 3.0, 0.5)
    expected = scipy.stats.multivariate_normal(
        [one.of(error) for one in OF_CABINET], located.covariance_of(LEFT), seed=1
    ).cdf(limits, lower_limit=[-limit for limit in limits])
    assert known(state, LEFT).verdict is Verdict.UNSURE
    assert against(guide(state)).within == pytest.approx(expected, abs=1e-3)


def test_of_many_cabinets_as_many_are_truly_in_as_was_said() -> None:
    """Against a simulated meter and room: cabinets anywhere about their targets, each shot once."""
    rng = np.random.default_rng(6)
    walk, said, truly = usual_shots(OneCabinet(SETUP, LEFT)), [], []
    for _ in range(300):
        error = Placement(rng.uniform(-4.5, 4.5), rng.uniform(-4.5, 4.5), rng.uniform(-0.7, 0.7))
        standing = off(error.side_mm, error.setback_mm, error.toe_in_deg)
        person = Scenario(SETUP, Pair(standing, TARGET)).person(rng)
        answers = [person.shoot(kind).distance_mm for kind in walk]
        shots = [Shot(kind, mm) for kind, mm in zip(walk, answers, strict=True) if mm is not None]
        one = appraise(SETUP, shots).cabinets[LEFT].against_target
        if one is not None and one.within is not None and one.within >= 0.5:
            said.append(one.within)
            truly.append(all(abs(q.of(error)) <= q.tolerance(SETUP) for q in OF_CABINET))
    sigma = math.sqrt(sum(p * (1 - p) for p in said)) / len(said)
    assert len(said) > 40
    assert np.mean(truly) == pytest.approx(np.mean(said), abs=3 * sigma)


def test_what_is_in_or_out_has_no_probability() -> None:
    for standing in (TARGET, off(side_mm=40.0)):
        within = against(guide(found(standing))).within
        assert within is None


@pytest.mark.parametrize("quantity", [Quantity.SIDE, Quantity.SETBACK])
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_what_stands_within_the_window_is_called_in_and_what_does_not_is_not(
    quantity: Quantity, sign: float
) -> None:
    window = quantity.of(against(guide(found(off(5.0, 5.0)))).window)
    assert window == pytest.approx(1.3, abs=0.3)  # 3 mm less what this meter leaves open
    for inside, verdict in ((0.1, Verdict.IN), (-0.1, Verdict.UNSURE)):
        standing = off(**{quantity.field: sign * (window - inside)})
        assert known(found(standing), LEFT).verdict is verdict


def test_the_window_is_told_while_a_cabinet_is_nudged() -> None:
    state = found(off(side_mm=30.0))
    window = against(guide(state)).window
    told = (
        f"Called in within ±{format_at_most(window.side_mm, Units.MM)} (side), "
        f"±{format_at_most(window.setback_mm, Units.MM)} (setback), ±0.33° (toe-in)."
    )
    assert told in say(guide(state)).details
    coming = shoot(state, world_of(left=off(side_mm=15.0)))
    assert any(words.startswith("Called in within ±") for words in say(guide(coming)).details)


def test_a_window_is_never_rounded_up() -> None:
    assert format_at_most(1.19, Units.MM) == "1.1 mm"
    assert format_at_most(1.2, Units.MM) == "1.2 mm"
    # 3.9 mm are 0.1535 in, 0.75 mm are 0.0295 in
    assert format_at_most(3.9, Units.INCH_16) == "0.15 in"
    assert format_at_most(0.75, Units.INCH_16) == "0.029 in"


def test_good_enough_settles_a_cabinet_and_is_never_in() -> None:
    state = found(PROBABLE)
    before = guide(state)
    assert state.work.stage is Stage.NUDGE
    assert Act.ENOUGH in before.offered
    assert "90 % sure to be within tolerance. Press d if that is good enough." in (
        say(before).details
    )
    called = do(state, Act.ENOUGH)
    after = guide(called)
    assert called.works.left.stage is Stage.ENOUGH
    assert called.works.left.done
    assert called.side is RIGHT
    assert after.cabinets.left.appraisal == before.cabinets.left.appraisal
    assert known(called, LEFT).verdict is Verdict.UNSURE
    heard = cue(before, after)
    assert heard is None or heard.sign is not Sign.IN
    assert do(called, Act.UNDO) == state


def test_a_round_that_ends_good_enough_says_so() -> None:
    state = do(found(PROBABLE), Act.ENOUGH)
    state = settle(state, world_of(left=PROBABLE))
    assert state.finished
    headline = say(guide(state)).headline
    assert headline.figure == "GOOD ENOUGH"
    assert headline.words == (
        "Left cabinet: good enough, 90 % sure; right cabinet: in, within the tolerance."
    )
    once_more = shoot(state, world_of(left=PROBABLE))
    assert not once_more.finished  # a shot after the end checks both once more


@pytest.mark.parametrize("side_mm", [0.0, 2.45, 2.6, 3.2, 12.0])
def test_below_four_fifths_and_where_it_is_in_it_is_not_offered(side_mm: float) -> None:
    state = found(off(side_mm=side_mm))
    if state.side is RIGHT:  # the left one is in
        state = do(state, Act.OTHER)
    within = against(guide(state)).within
    assert within is None or within < ENOUGH_PROBABILITY
    assert Act.ENOUGH not in guide(state).offered
    assert do(state, Act.ENOUGH) is state


def test_it_is_offered_wherever_it_does_something_and_nowhere_else() -> None:
    working = Working(seed=4)
    seen = set()
    for _ in range(60):
        if working.round.finished:
            break
        guidance = working.guidance
        is_offered = Act.ENOUGH in guidance.offered
        assert is_offered == (do(working.round, Act.ENOUGH) is not working.round)
        within = against(guidance, guidance.side).within if guidance.own else None
        assert not is_offered or (within is not None and within >= ENOUGH_PROBABILITY)
        seen.add((guidance.stage, is_offered))
        if guidance.stage is Stage.NUDGE:
            working.nudge()
        working.shoot()
    assert {(Stage.NUDGE, True), (Stage.NUDGE, False), (Stage.MEASURE, False)} <= seen


def test_a_cabinet_that_was_moved_is_not_good_enough_by_what_was_shot_before() -> None:
    moved = do(found(PROBABLE), Act.MOVED)
    assert Act.ENOUGH not in guide(moved).offered
    assert do(moved, Act.ENOUGH) is moved


def test_a_question_is_answered_first() -> None:
    asked = do(found(PROBABLE), Act.HOLD)
    assert Act.ENOUGH not in guide(asked).offered
    assert do(asked, Act.ENOUGH) is asked


def test_it_lasts_when_something_else_is_entered_and_not_for_another_target() -> None:
    state = do(found(PROBABLE), Act.ENOUGH)
    inches = msgspec.structs.replace(SETUP, units=Units.INCH_16)
    assert state.feed(SetupChanged(inches, AT)).works.left.stage is Stage.ENOUGH
    elsewhere = with_targets(off(side_mm=0.4), TARGET)
    assert state.feed(SetupChanged(elsewhere, AT)).works.left.stage is not Stage.ENOUGH
    wide = msgspec.structs.replace(SETUP, tolerance=Tolerance(6.0, 1.0))
    assert state.feed(SetupChanged(wide, AT)).works.left.stage is Stage.SETTLED  # it is in then
    tight = msgspec.structs.replace(SETUP, tolerance=Tolerance(2.0, 0.5))
    assert state.feed(SetupChanged(tight, AT)).works.left.stage is not Stage.ENOUGH


def enough_mark() -> Mark:
    state = settle(do(found(PROBABLE), Act.ENOUGH), world_of(left=PROBABLE))
    return mark_in(state, AT, "late")


def test_a_mark_keeps_that_it_was_good_enough() -> None:
    mark = enough_mark()
    assert set(mark.enough) == {LEFT}
    assert mark.enough[LEFT] == pytest.approx(0.902, abs=1e-3)
    assert from_columns(Mark, *to_columns(mark)) == mark
    assert b'"called_enough":{"left":0.9' in msgspec.json.encode(mark)
    kept = Kept(1, "a", "Attic", None, mark)
    told = "The left cabinet was called good enough, 90 % sure to be within tolerance."
    for blocks in (mark_list([kept], "Attic"), whole_mark(kept)):
        assert told in " ".join(" ".join(text_lines(blocks)).split())


def test_a_mark_of_cabinets_that_are_in_says_nothing_of_it() -> None:
    mark = mark_in(settle(Round.begin(SETUP), world_of()), AT, "in")
    assert mark.enough == {}
    assert b"enough" not in msgspec.json.encode(mark)
    assert "enough" not in to_columns(mark)[1]


def test_the_figures_tell_how_sure_each_quantity_is() -> None:
    left, *_ = tables(guide(found(PROBABLE)))
    sure = {row.name: row.sure for row in left.rows}
    assert left.sure == "90 %"
    assert sure == {"side": "90 %", "setback": "", "toe-in": ""}  # the others are in
    left, *_ = tables(guide(found(TARGET)))
    assert {row.sure for row in left.rows} == {""}
    assert left.sure == ""


COARSE = msgspec.structs.replace(SETUP, meter=Meter(0.4, 1.0, 2.0))
"""A meter with which not even a cabinet on its target is called in."""


def test_at_the_end_both_can_be_called_good_enough_one_after_the_other() -> None:
    state = settle(Round.begin(COARSE), world_of(COARSE))
    assert {work.stage for work in state.works} == {Stage.BEST}
    first = say(guide(state))
    assert first.headline.figure == "UNSURE 82 %"
    assert (
        "This meter does not know the side and setback well enough to call it in." in first.details
    )
    assert any(
        words.startswith(
            "Checking the meter's zero (three marks, 5 times) would let it be called in within ±1."
        )
        for words in first.details
    )
    state = do(state, Act.ENOUGH, Act.ENOUGH)
    assert {work.stage for work in state.works} == {Stage.ENOUGH}
    assert say(guide(state)).headline.words == "Both cabinets: good enough, 82 % sure."
    assert do(state, Act.ENOUGH) is state


def test_it_is_said_aloud() -> None:
    words = spoken(guide(found(off(side_mm=0.4), FINE))).words
    assert "Less than hands can usually do. Or call it good enough." in words
    assert "Left is good enough." in spoken(guide(do(found(PROBABLE), Act.ENOUGH))).words


# --- what would make it better known


def narrowed(setup: Setup, standing: Placement) -> dict[Remedy, Placement]:
    return {one.by: one.expanded for one in guide(found(standing, setup)).narrowed}


def test_a_checked_zero_brings_what_was_said() -> None:
    """The meter is checked by three marks, and the same shots are judged with what that gives."""
    state = found(PROBABLE)
    foretold = narrowed(SETUP, PROBABLE)[Remedy.ZERO]
    checked = from_three_marks(SETUP.meter, (1500.0, 2200.0, 3700.0) * 5, Units.MM)
    assert checked is not None
    assert checked.meter is not None
    setup = msgspec.structs.replace(SETUP, meter=checked.meter)
    then = appraise(setup, state.work.judged).cabinets[LEFT].expanded
    for quantity in OF_CABINET:
        assert quantity.of(foretold) == pytest.approx(quantity.of(then), rel=1e-3)
    window = 3.0 - then.setback_mm
    assert (
        f"Checking the meter's zero (three marks, 5 times) would make it "
        f"±{format_at_most(window, Units.MM)} (setback)." in say(guide(state)).details
    )


def test_shooting_once_more_brings_what_was_said() -> None:
    scattering = msgspec.structs.replace(SETUP, meter=Meter(1.0, 0.1, 0.1))
    standing = off(2.9)
    state = found(standing, scattering)
    assert state.work.stage is Stage.NUDGE
    foretold = narrowed(scattering, standing)[Remedy.AGAIN]
    judged = state.work.judged
    assert len(judged) == len(state.work.route.shots)
    then = appraise(scattering, 2 * judged)
    for quantity in OF_CABINET:
        expanded = then.cabinets[LEFT].expanded
        assert quantity.of(foretold) == pytest.approx(quantity.of(expanded), rel=1e-6)
    assert Remedy.ZERO not in narrowed(scattering, standing)  # it is known well enough


def test_a_straightedge_is_named_where_the_turn_is_in_doubt() -> None:
    narrow = Cabinet(160.0, 200.0, 800.0)
    setup = msgspec.structs.replace(
        SETUP,
        cabinets=Pair(narrow, narrow),
        meter=Meter(0.3, 0.1, 0.1),
        tolerance=Tolerance(4, 0.45),
    )
    standing = off(toe_in_deg=0.4)
    state = found(standing, setup)
    guidance = guide(state)
    assert guidance.own is not None
    assert guidance.own.verdict is Verdict.UNSURE
    best = narrowed(setup, standing)
    assert best[Remedy.STRAIGHTEDGE].toe_in_deg <= 0.9 * guidance.own.expanded.toe_in_deg
    assert any(
        words.startswith("A straightedge of 600 mm would make it ±") and words.endswith("(toe-in).")
        for words in say(guidance).details
    )


def test_a_sweep_is_named_for_a_meter_held_on_the_wall_that_scatters() -> None:
    setup = msgspec.structs.replace(SETUP, held=Held.WALL, meter=Meter(1.0, 0.1, 0.1))
    standing = off(2.9)
    assert Remedy.SWEEP in narrowed(setup, standing)
    assert Remedy.SWEEP not in narrowed(msgspec.structs.replace(setup, held=Held.CABINET), standing)


def test_nothing_is_named_while_something_is_out() -> None:
    assert guide(found(off(side_mm=30.0))).narrowed == ()


# --- what hands can do

FINE = msgspec.structs.replace(SETUP, meter=Meter(0.1, 0.1, 0.05), tolerance=Tolerance(0.5, 0.1))


def test_a_nudge_that_is_less_than_hands_can_do_says_so() -> None:
    guidance = guide(found(off(side_mm=0.7), FINE))
    assert guidance.stage is Stage.NUDGE
    assert guidance.is_less_than_hands_can
    assert "Less than hands can usually do." in say(guidance).details
    enough = guide(found(off(side_mm=0.4), FINE))
    assert Act.ENOUGH in enough.offered
    assert any(
        words.startswith("Less than hands can usually do. Press d if ")
        for words in say(enough).details
    )


@pytest.mark.parametrize("standing", [off(side_mm=1.3), off(toe_in_deg=0.4)])
def test_what_hands_can_do_is_asked_as_it_is(standing: Placement) -> None:
    guidance = guide(found(standing, FINE))
    assert guidance.stage is Stage.NUDGE
    assert not guidance.is_less_than_hands_can
    assert not any("hands" in words for words in say(guidance).details)
