"""Whether left and right are alike as they stand, what settles it, and which one is moved."""

from __future__ import annotations

import msgspec
import pytest
from exact_shots import AT, LEFT, RIGHT, SETUP, off, walk_round, with_targets, world_of

from witnessmark.geometry.verdict import Verdict
from witnessmark.layout.mirror import image_of
from witnessmark.model import (
    Act,
    Decision,
    Meter,
    Mirror,
    Pair,
    Placement,
    Reading,
    Room,
    RoomKnown,
    Seat,
    SetupChanged,
    Side,
)
from witnessmark.placing.alike import targets_to_match
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.round import Round
from witnessmark.session.draft import Draft
from witnessmark.session.room_answers import PairSize
from witnessmark.words.live import say
from witnessmark_simulators.room import SimulatedRoom

FREE = with_targets(None, None)


def both_walked(left: Placement, right: Placement, meter: Meter = SETUP.meter) -> Round:
    setup = msgspec.structs.replace(FREE, meter=meter)
    state = walk_round(Round.begin(setup), world_of(setup, left=left))
    return walk_round(state, world_of(setup, right=right))


def test_the_answer_says_which_is_nearer_and_which_turns_would_end_it() -> None:
    said = say(guide(both_walked(off(-6.5), off(0, 0, -0.9))))
    assert said.headline.figure == "NOT ALIKE"
    assert said.headline.words == "Left is 6.5 mm nearer its side wall than right."
    assert said.details[0] == "Toe-in differs by 0.9°: turn left out 0.9° or right in."


def test_a_pair_alike_is_said_to_match() -> None:
    said = say(guide(both_walked(off(40, -30, 2), off(40, -30, 2))))
    assert said.headline.figure == "ALIKE"
    assert said.headline.words.startswith("Left and right match: side 0.0 mm")


def unsure() -> Round:
    """Toe-in differs by about as much as is allowed."""
    state = both_walked(off(), off(0, 0, 0.5))
    pair = guide(state).symmetry
    assert pair is not None
    assert pair.worst is Verdict.UNSURE
    return state


def test_in_doubt_the_shot_that_would_settle_it_is_prompted_and_said() -> None:
    state = unsure()
    guidance = guide(state)
    settling = guidance.settling
    assert settling is not None
    assert guidance.prompt.kind == settling.kind
    said = say(guidance)
    assert said.headline.figure == "UNSURE"
    where = f"Shoot {settling.kind.words} of the {settling.kind.cabinet} cabinet: this would"
    assert any(words.startswith(where) for words in said.details)


def test_that_shot_is_added_to_the_others_and_narrows_what_is_in_doubt_as_was_said() -> None:
    state = unsure()
    before, settling = guide(state).symmetry, state.settling
    assert before is not None
    assert settling is not None
    world = world_of(FREE, right=off(0, 0, 0.5))
    after = state.feed(Reading(world.true_distance(settling.kind), AT, "sim:"))
    assert len(after.works[settling.kind.cabinet].judged) == 5
    now = guide(after).symmetry
    assert now is not None
    assert settling.quantity.of(now.expanded) < settling.quantity.of(before.expanded)
    assert settling.quantity.of(now.expanded) == pytest.approx(settling.expanded, rel=0.05)


def test_the_settling_shot_can_be_left_out_and_taken_back() -> None:
    state = unsure()
    skipped = state.feed(Decision(Act.SKIP, AT))
    assert skipped.settling is None
    assert skipped.prompted == skipped.work.route.shots[0]
    assert skipped.feed(Decision(Act.UNDO, AT)).settling == state.settling


def test_a_pair_that_is_known_asks_for_no_more() -> None:
    assert both_walked(off(), off()).settling is None
    assert both_walked(off(30), off()).settling is None


@pytest.mark.parametrize("side", list(Side))
def test_the_one_that_is_chosen_is_brought_to_the_image_of_the_other(side: Side) -> None:
    state = both_walked(off(-20, 5, 1), off(10, -5, -1))
    guidance = guide(state)
    assert guidance.may_be_matched
    targets = targets_to_match(state.setup, guidance.measured, side)
    assert targets[side.other] is None
    chosen = msgspec.structs.replace(state.setup, targets=targets)
    moving = state.feed(SetupChanged(chosen, AT))
    assert (moving.side, moving.works[side].stage) == (side, Stage.NUDGE)
    assert moving.works[side.other].stage is Stage.SETTLED
    sign = 1 if side is LEFT else -1
    asked = guide(moving).asked
    assert asked is not None
    assert asked.side_mm == pytest.approx(sign * 30, abs=0.1)
    assert asked.setback_mm == pytest.approx(sign * -10, abs=0.1)
    assert asked.toe_in_deg == pytest.approx(sign * -2, abs=0.01)
    reached = off(10, -5, -1) if side is LEFT else off(-20, 5, 1)
    done = walk_round(moving, world_of(chosen, **{side.value: reached}))
    assert say(guide(done)).headline.figure == "ALIKE"


def test_the_other_one_may_be_chosen_after_all() -> None:
    state = both_walked(off(-20), off())
    for side in (LEFT, RIGHT):
        targets = targets_to_match(state.setup, guide(state).measured, side)
        state = state.feed(SetupChanged(msgspec.structs.replace(state.setup, targets=targets), AT))
        assert (state.side, state.work.stage) == (side, Stage.NUDGE)
        assert state.works[side.other].stage is Stage.SETTLED


@pytest.mark.parametrize("side", list(Side))
def test_an_image_of_an_image_about_the_seat_is_the_same_place(side: Side) -> None:
    room = Room((0, 0), (5360, 0), (5420, 7240), (-35, 7200))
    beside = msgspec.structs.replace(
        SETUP, room=room, seat=Seat(4400, 2500), mirror=Mirror.SEAT, targets=FREE.targets
    )
    there = Placement(1450, 1900, 8)
    image = image_of(beside, side, there)
    back = image_of(beside, side.other, image)
    assert back.side_mm == pytest.approx(there.side_mm)
    assert (back.setback_mm, back.toe_in_deg) == (1900, 8)


# --- with no room known


def test_without_a_room_the_same_shots_say_the_same() -> None:
    truth = Pair(Placement(3900, 900, 6), Placement(3912, 900, 6))
    size = PairSize(262, 391)
    setup = size.compared_as_they_stand(Draft()).setup
    assert setup is not None
    assert setup.room_known is RoomKnown.NOTHING
    guidance = _measured(Round.begin(setup), truth)
    pair = guidance.symmetry
    assert pair is not None
    assert pair.error.side_mm == pytest.approx(-12, abs=0.1)
    assert [quantity.value for quantity in pair.verdict] == ["side", "setback", "toe_in"]
    said = say(guidance)
    assert said.headline.words == "Left is 12 mm nearer its side wall than right."
    assert not any("centre line" in words or "path" in words for words in said.details)


def test_the_width_tells_how_far_each_is_from_the_middle() -> None:
    truth = Pair(Placement(1200, 900, 6), Placement(1212, 900, 6))
    setup = PairSize(262, 391, 4000).compared_as_they_stand(Draft()).setup
    assert setup is not None
    said = say(_measured(Round.begin(setup), truth))
    assert "From the room's centre line: left 800 mm and right 788 mm." in said.details


def test_a_room_that_was_measured_stays_and_cabinets_in_detail_do_too() -> None:
    draft = Draft.of(SETUP)
    left = draft.cabinets and draft.cabinets.left
    assert left
    found = PairSize(left.width_mm, left.depth_mm).compared_as_they_stand(draft)
    assert (found.room, found.seat, found.cabinets) == (SETUP.room, SETUP.seat, SETUP.cabinets)
    assert found.targets == Pair(None, None)
    assert found.known_of_room is RoomKnown.WHOLE


def _measured(state: Round, truth: Pair[Placement]) -> Guidance:
    """Walk round both in a small room that the round knows nothing of."""
    setup = state.setup
    width = truth.left.side_mm + truth.right.side_mm + 1000
    world = SimulatedRoom(
        Room.rectangular(width, 6000), setup.cabinets, Seat(4000, width / 2), truth
    )
    for _ in range(8):
        state = state.feed(Reading(world.true_distance(state.prompted), AT, "sim:"))
        assert state.question is None
    return guide(state)
