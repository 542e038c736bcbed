"""Making a mark of where the pair stands, and what moved between two."""

from __future__ import annotations

from datetime import timedelta

import msgspec
import pytest
from exact_shots import AT, SETUP, finished, mark_in, off, settle, walk_round, world_of

from witnessmark.errors import BadInput
from witnessmark.locate.compare import compare
from witnessmark.model import Act, Decision, Mark, Pair, Placement, Setup, Side
from witnessmark.placing.guidance import guide
from witnessmark.placing.marks import moved_between, to_be_nudged, to_put_back
from witnessmark.placing.round import Round
from witnessmark.words.marks import why_unknown

FREE = msgspec.structs.replace(SETUP, targets=Pair[Placement | None](None, None))


def marked_at(right: Placement, days: int, setup: Setup = FREE) -> Mark:
    """A mark of so many days later, of a pair whose right cabinet stands off by so much."""
    state = settle(Round.begin(setup), world_of(right=right))
    return mark_in(state, AT + timedelta(days=days), f"after {days} days")


@pytest.mark.parametrize("days", [(1, 2), (2, 1)])
def test_what_moved_is_told_from_the_one_to_the_other_whatever_the_clock_said(
    days: tuple[int, int],
) -> None:
    before, after = marked_at(off(), days[0]), marked_at(off(0.0, 20.0), days[1])
    found = moved_between(before, after)
    assert found.cabinets.right.setback_mm.amount == pytest.approx(20.0, abs=1.5)
    assert found.cabinets.left.setback_mm.amount == pytest.approx(0.0, abs=1.5)
    assert found.cabinets.right.seen
    assert not found.cabinets.left.seen


def test_without_all_shots_or_with_another_meter_nothing_is_taken_as_shared() -> None:
    before, after = marked_at(off(), 1), marked_at(off(12.0), 2)
    other = msgspec.structs.replace(after.setup.meter, zero_mm=1.4)
    for now in (
        msgspec.structs.replace(after, shots=()),
        msgspec.structs.replace(after, shots=after.shots[:4]),
        msgspec.structs.replace(after, setup=msgspec.structs.replace(after.setup, meter=other)),
    ):
        assert moved_between(before, now) == compare(now.setup, before.poses, now.poses)


def test_no_mark_is_made_before_both_are_measured_or_after_one_was_moved() -> None:
    assert why_unknown(None) is not None
    state = walk_round(Round.begin(FREE), world_of())
    assert "the right cabinet is not measured yet" in (why_unknown(guide(state)) or "")
    with pytest.raises(BadInput, match="it is not known where the pair stands"):
        mark_in(state, AT, "early")
    moved = finished(FREE).feed(Decision(Act.MOVED, AT))
    assert f"the {moved.side} cabinet is being measured again" in (why_unknown(guide(moved)) or "")
    with pytest.raises(BadInput, match="it is not known where the pair stands"):
        mark_in(moved, AT, "late")


def test_a_cabinet_that_is_out_of_its_target_is_to_be_nudged_and_is_known_all_the_same() -> None:
    state = walk_round(Round.begin(SETUP), world_of(left=off(30.0)))
    state = walk_round(state.feed(Decision(Act.OTHER, AT)), world_of(left=off(30.0)))
    assert to_be_nudged(guide(state)) is Side.LEFT
    assert why_unknown(guide(state)) is None
    assert to_be_nudged(guide(finished())) is None


def test_a_mark_of_a_pair_that_was_put_back_says_nothing_of_the_mark_before() -> None:
    first = mark_in(finished(), AT, "first")
    state = settle(Round.begin(to_put_back(SETUP, first)), world_of())
    second = mark_in(state, AT, "second")
    assert second.setup.restoring is None
    assert second.setup.targets.left == first.poses.placements.left
