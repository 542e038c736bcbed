"""What to try next, one thing at a time, and what was varied between two trials."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
import pytest
from axis_crossing import crossing
from hypothesis import assume, given
from hypothesis import strategies as st
from listening_cases import HERE, SETUP, found_at, trial, tried

from witnessmark.geometry.frame import reference_in_plan
from witnessmark.layout.plan import lay_out
from witnessmark.lengths import Units
from witnessmark.listening.difference import STAGES, found, varied
from witnessmark.listening.names import trial_names
from witnessmark.listening.order import Walk, walk
from witnessmark.listening.steps import Proposal
from witnessmark.locate.tilt import axis_height
from witnessmark.model import (
    Attribute,
    Cabinet,
    Impression,
    KeepClear,
    Mirror,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Side,
    StationOrder,
    Tilt,
    Tolerance,
    Trial,
    Varied,
)
from witnessmark.words.listening import walk_words

changed = msgspec.structs.replace
SKEW = Room((0, 0), (4800, 0), (4860, 6620), (-70, 6580))


def both(side: float, setback: float, toe_in: float = 0.0) -> Pair[Placement]:
    placement = Placement(side, setback, toe_in)
    return Pair(placement, placement)


def varied_between(setup: Setup, one: Trial, other: Trial) -> Varied:
    return varied(setup, found(one), found(other))


def names(found: Walk) -> list[str]:
    return [one.name for one in found.proposals]


def proposed(found: Walk, name: str) -> Proposal:
    (one,) = [one for one in found.proposals if one.name == name]
    return one


def test_the_walk_begins_at_the_station_abreast_of_the_seat() -> None:
    found = walk(SETUP, {})
    assert found.stage is Varied.STATION
    assert found.kept is None
    assert names(found) == [f"station {number}" for number in range(1, 15)]
    setbacks = [one.targets.left.setback_mm for one in found.proposals]
    assert setbacks == pytest.approx([4400 - 300 * step for step in range(14)])
    assert {one.targets.left.side_mm for one in found.proposals} == {1400.0}
    assert found.following == found.proposals[0]
    assert tuple(walk_words(found)) == ("next: station 1 (0 of 14 tried)",)


def test_in_inches_the_stations_of_the_walk_are_those_of_the_layout_a_foot_apart() -> None:
    setup = changed(SETUP, units=Units.INCH_16)
    found = walk(setup, {})
    setbacks = [one.targets.left.setback_mm for one in found.proposals]
    assert setbacks == pytest.approx([4400 - 304.8 * step for step in range(len(setbacks))])
    layout = lay_out(setup.room, setup.cabinets, setup.seat, units=setup.units)
    assert setbacks == pytest.approx([station.setback_mm for station in layout.stations])


def test_stations_keep_the_toe_in_of_the_targets_and_stand_on_the_middles_of_the_lanes() -> None:
    targets = Pair[Placement | None](
        Placement(1100.0, 1700.0, 12.0), Placement(1100.0, 1700.0, 12.0)
    )
    found = walk(changed(SETUP, targets=targets, tilt_targets_deg=Pair(1.5, 1.5)), {})
    assert {one.targets.right.toe_in_deg for one in found.proposals} == {12.0}
    assert {one.targets.right.side_mm for one in found.proposals} == {1400.0}
    assert {one.tilt_targets_deg.right for one in found.proposals} == {1.5}


def test_what_is_tried_is_done_and_the_walk_goes_on_behind_it() -> None:
    first = walk(SETUP, {})
    trials = {"x": tried(first.proposals[3], 0)}
    second = walk(SETUP, trials)
    assert second.proposals[3].tried == ("x",)
    assert second.following == second.proposals[4]
    trials |= {f"y{place}": tried(first.proposals[place], place) for place in range(4, 14)}
    left_out = walk(SETUP, trials)
    assert left_out.following == left_out.proposals[0]
    trials |= {f"z{place}": tried(first.proposals[place], 20 + place) for place in range(3)}
    ended = walk(SETUP, trials)
    assert ended.following is None
    assert ended.stage is Varied.STATION
    assert tuple(walk_words(ended)) == (
        "every station that can be tried has been: 14 of 14",
        "flag the best one, then vary the spread next",
    )


HALVED = changed(SETUP, station_order=StationOrder.HALVING)


def graded(proposal: Proposal, minute: float, grade: int) -> Trial:
    one = tried(proposal, minute)
    return changed(one, impression=Impression({Attribute.OVERALL: grade}))


def halved_walk(setup: Setup, best: int) -> tuple[list[int], Walk]:
    """The places in the order of trying, each graded the higher the nearer it is to one of them."""
    trials: dict[str, Trial] = {}
    order: list[int] = []
    while True:
        found = walk(setup, trials, stage=Varied.STATION)
        if found.following is None:
            return order, found
        place = found.proposals.index(found.following)
        order.append(place)
        trials[f"t{place}"] = graded(found.following, len(order), max(5 - abs(place - best), 1))


def test_halving_begins_far_apart_and_ends_beside_the_best() -> None:
    order, found = halved_walk(HALVED, 9)
    assert order[:3] == [0, 13, 6]
    assert {8, 9, 10} <= set(order)
    assert len(order) <= 9
    assert tuple(walk_words(found)) == (
        f"the best one lies between stations that were tried: {len(order)} of 14",
        "flag the best one, then vary the spread next",
    )


@pytest.mark.parametrize("best", range(14))
def test_halving_finds_a_single_best_one_wherever_it_is(best: int) -> None:
    order, _ = halved_walk(HALVED, best)
    assert best in order


def test_halving_leaves_out_what_is_in_the_way() -> None:
    blocked = KeepClear("door", ((0.0, 1900.0), (1700.0, 1900.0), (1700.0, 2100.0), (0.0, 2100.0)))
    setup = changed(HALVED, room=changed(SETUP.room, keep_clear=(blocked,)))
    barred = {at for at, one in enumerate(walk(setup, {}).proposals) if one.obstacles}
    order, _ = halved_walk(setup, 9)
    assert barred
    assert not barred & set(order)


def test_halving_without_grades_goes_on_to_the_farthest_until_all_are_tried() -> None:
    trials: dict[str, Trial] = {}
    while (found := walk(HALVED, trials, stage=Varied.STATION)).following is not None:
        trials[f"t{len(trials)}"] = tried(found.following, len(trials))
    assert len(trials) == 14


def test_a_setup_that_says_nothing_of_the_order_goes_forward_and_is_stored_as_before() -> None:
    assert b"station_order" not in msgspec.json.encode(SETUP)
    assert not SETUP.halves_stations
    assert msgspec.json.decode(msgspec.json.encode(HALVED), type=Setup).halves_stations


def whole_walk(setup: Setup, keep: Mapping[Varied, str]) -> tuple[dict[str, Trial], list[Walk]]:
    """Everything that is proposed is tried; one position of each stage is flagged."""
    trials: dict[str, Trial] = {}
    seen: list[Walk] = []
    while True:
        found = walk(setup, trials)
        seen.append(found)
        if found.following is None:
            return trials, seen
        best = found.following.name == keep.get(found.stage)
        trials[f"t{len(trials)}"] = tried(found.following, len(trials), best=best)


KEEP = {
    Varied.STATION: "station 8",
    Varied.SPREAD: "spread 2267 mm",
    Varied.TOE_IN: "toe-in: the ear",
}


def test_a_whole_walk_varies_one_thing_at_a_time_in_order() -> None:
    trials, seen = whole_walk(SETUP, KEEP)
    stages = [found.stage for found in seen]
    assert stages == sorted(stages, key=STAGES.index)
    assert set(stages) == set(STAGES)
    kept: Trial | None = None
    for one in trials.values():
        if kept is not None:
            assert varied_between(SETUP, kept, one) in (one.varied, Varied.NOTHING)
        kept = one if kept is None or one.impression.best else kept
    assert tuple(walk_words(seen[-1]))[1] == "the walk is complete"


def test_every_stage_sets_out_from_what_was_kept() -> None:
    _, seen = whole_walk(SETUP, KEEP)
    spread, toe_in, tilt = (next(f for f in seen if f.stage is stage) for stage in STAGES[1:])
    assert {one.targets.left.setback_mm for one in spread.proposals} == {2300.0}
    assert {one.targets.left.toe_in_deg for one in spread.proposals} == {0.0}
    assert [one.targets.left.side_mm for one in toe_in.proposals] == pytest.approx([3800 / 3] * 5)
    (placement,) = {one.targets.left for one in tilt.proposals}
    assert placement == proposed(toe_in, "toe-in: the ear").targets.left


def test_spread_goes_from_the_inner_edges_of_the_lanes_to_the_outer_ones() -> None:
    station = walk(SETUP, {}).proposals[7]
    trials = {"kept": tried(station, 0, best=True)}
    found = walk(SETUP, trials, stage=Varied.SPREAD)
    assert found.kept == "kept"
    sides = [one.targets.left.side_mm for one in found.proposals]
    assert sides == pytest.approx([1600 - 400 * step / 6 for step in range(7)])
    assert names(found)[0] == "spread 1600 mm"
    assert found.proposals[3].tried == ("kept",)
    # the station that was kept is no spread yet: one begins with the inner one
    assert found.following == found.proposals[0]


def test_spreads_are_named_in_the_persons_units() -> None:
    found = walk(changed(SETUP, units=Units.INCH_16), {}, stage=Varied.SPREAD)
    assert names(found)[0] == "spread 5' 3\""


def test_toe_in_points_the_axes_where_it_says() -> None:
    trials = {"kept": trial(0, targets=both(1400.0, 2000.0), best=True)}
    found = walk(SETUP, trials, stage=Varied.TOE_IN)
    assert names(found) == [
        "toe-in: straight ahead",
        "toe-in: beside the shoulder",
        "toe-in: the ear",
        "toe-in: the middle of the head",
        "toe-in: behind the head",
    ]
    assert found.proposals[0].tried == ("kept",)
    outside = [
        crossing(SETUP, side, one.targets[side]).outside_mm
        for one in found.proposals[1:4]
        for side in Side
    ]
    assert outside == pytest.approx([300.0, 300.0, 87.5, 87.5, 0.0, 0.0])
    behind = crossing(SETUP, Side.LEFT, found.proposals[4].targets.left)
    assert behind.beyond_mm == pytest.approx(300.0)


def test_tilt_goes_a_few_steps_about_the_present_one_and_to_the_ears() -> None:
    kept = trial(0, Varied.TOE_IN, both(1400.0, 2000.0, 20.0), best=True, tilt_deg=1.5)
    found = walk(SETUP, {"kept": kept}, stage=Varied.TILT)
    tilts = [one.tilt_targets_deg.left or 0.0 for one in found.proposals]
    assert tilts[:5] == pytest.approx([-0.5, 0.5, 1.5, 2.5, 3.5])
    assert found.proposals[2].tried == ("kept",)
    assert names(found)[2:] == ["tilt 1.5°", "tilt 2.5°", "tilt 3.5°", "tilt: the ears"]
    axis = axis_height(SETUP, Side.RIGHT, found.proposals[5].targets.right, Tilt(tilts[5], 0.1))
    assert axis.height_mm == pytest.approx(1020.0)


def test_an_unknown_tilt_counts_as_upright_and_that_is_said() -> None:
    kept = trial(0, Varied.TOE_IN, both(1400.0, 2000.0, 20.0), best=True)
    found = walk(SETUP, {"kept": kept}, stage=Varied.TILT)
    assert [one.tried for one in found.proposals] == [(), (), ("kept",), (), (), ()]
    assert (
        "the present tilt is not known and the steps count from upright: measure it first"
        in tuple(walk_words(found))
    )
    measured = found_at(kept, *(kept.targets[side] for side in Side), tilt_deg=3.0)
    known = walk(SETUP, {"kept": measured}, stage=Varied.TILT)
    assert names(known)[2] == "tilt 3.0°"
    assert len(tuple(walk_words(known))) == 1


def test_without_heights_the_ears_are_not_offered() -> None:
    cabinet = Cabinet(260.0, 390.0)
    setup = changed(SETUP, cabinets=Pair(cabinet, cabinet))
    assert len(walk(setup, {}, stage=Varied.TILT).proposals) == 5


def test_a_stage_can_be_asked_for_and_it_sets_out_from_the_latest_best() -> None:
    trials = {
        "one": trial(0, targets=both(1400.0, 2000.0), best=True),
        "other": trial(1, targets=both(1400.0, 2600.0)),
    }
    assert walk(SETUP, trials).kept == "one"
    trials["other"] = trial(1, targets=both(1400.0, 2600.0), best=True)
    found = walk(SETUP, trials, stage=Varied.SPREAD)
    assert {one.targets.left.setback_mm for one in found.proposals} == {2600.0}


def test_a_position_found_elsewhere_than_it_was_to_be_is_kept_where_it_was_found() -> None:
    wanted = trial(0, targets=both(1400.0, 2000.0), best=True)
    near = found_at(wanted, Placement(1401.0, 2001.0, 0.1), Placement(1399.5, 1999.0, 0.0))
    far = found_at(wanted, Placement(1420.0, 2040.0, 0.0), Placement(1420.0, 2040.0, 0.0))
    setbacks = [
        walk(SETUP, {"kept": one}, stage=Varied.SPREAD).proposals[0].targets.left.setback_mm
        for one in (near, far)
    ]
    assert setbacks == pytest.approx([2000.0, 2040.0])


def test_a_trial_counts_as_done_where_it_was_to_stand_and_where_it_was_found() -> None:
    wanted = trial(0, targets=both(1400.0, 2000.0))
    elsewhere = found_at(wanted, Placement(1400.0, 2301.0, 0.0), Placement(1400.0, 2299.0, 0.0))
    found = walk(SETUP, {"x": elsewhere})
    assert [one.name for one in found.proposals if one.tried] == ["station 8", "station 9"]


def test_what_is_in_the_way_is_told_and_not_offered() -> None:
    hearth = KeepClear.rectangle("hearth", (0.0, 1500.0), (3000.0, 3300.0))
    setup = changed(SETUP, room=changed(SETUP.room, keep_clear=(hearth,)))
    found = walk(setup, {})
    barred = [one.name for one in found.proposals if one.obstacles]
    assert barred == ["station 4", "station 5"]
    assert proposed(found, "station 5").obstacles == (
        'The left cabinet stands in the way of "hearth", which must be kept clear.',
    )
    assert tuple(walk_words(found))[1] == (
        'left out: station 4, station 5. The left cabinet stands in the way of "hearth", which '
        "must be kept clear."
    )
    trials = {"t": tried(found.proposals[2], 0)}
    following = walk(setup, trials).following
    assert following is not None
    assert following.name == "station 6"


def test_walls_and_the_other_cabinet_are_in_the_way_lanes_are_only_advice() -> None:
    broad = Cabinet(600.0, 390.0)
    narrow = changed(SETUP, room=Room.rectangular(1700.0, 6600.0), seat=Seat(4400.0, 850.0))
    lanes = changed(SETUP, cabinets=Pair(broad, broad))
    assert not any(one.obstacles for one in walk(lanes, {}).proposals)
    squeezed = changed(narrow, cabinets=Pair(broad, broad))
    spreads = walk(squeezed, {}, stage=Varied.SPREAD).proposals
    assert "The cabinets overlap" in spreads[0].obstacles[0]
    assert not spreads[-1].obstacles or "overlap" not in spreads[-1].obstacles[-1]
    turned = {"kept": trial(0, targets=both(1400.0, 500.0), best=True)}
    deep = changed(SETUP, cabinets=Pair(Cabinet(260.0, 495.0), Cabinet(260.0, 495.0)))
    aims = walk(deep, turned, stage=Varied.TOE_IN).proposals
    assert not aims[0].obstacles
    assert "through the front wall" in aims[2].obstacles[0]


@pytest.mark.parametrize("mirror", Mirror)
@pytest.mark.parametrize("stage", STAGES)
def test_all_are_mirror_images_about_the_chosen_line_in_any_room(
    mirror: Mirror, stage: Varied
) -> None:
    seat = Seat(4200.0, 2250.0, 1020.0)
    setup = changed(SETUP, room=SKEW, seat=seat, mirror=mirror)
    start = walk(setup, {}).proposals[6]
    for one in walk(setup, {"kept": tried(start, 0, best=True)}, stage=stage).proposals:
        left, right = one.targets.left, one.targets.right
        assert left.setback_mm == right.setback_mm
        assert left.toe_in_deg == right.toe_in_deg
        assert one.tilt_targets_deg.left == one.tilt_targets_deg.right
        if mirror is Mirror.ROOM:
            assert left.side_mm == right.side_mm
        else:
            x = [reference_in_plan(SKEW, side, one.targets[side])[0] for side in Side]
            assert x[0] + x[1] == pytest.approx(2 * seat.from_left_mm)
        trial_of_it = tried(one, 1)
        assert varied_between(setup, tried(start, 0), trial_of_it) in (stage, Varied.NOTHING)


def test_a_seat_with_no_room_before_it_leaves_no_station() -> None:
    setup = changed(SETUP, seat=Seat(300.0, 2400.0))
    found = walk(setup, {})
    assert (found.proposals, found.following) == ((), None)


LIMITS = Tolerance()
steps = st.floats(-40.0, 40.0)


@given(
    steps, steps, st.floats(-8.0, 8.0), st.none() | st.floats(-3.0, 3.0), st.sampled_from(Mirror)
)
def test_what_was_varied_is_what_differs_by_more_than_its_tolerance(
    out: float, inward: float, turn: float, lean: float | None, mirror: Mirror
) -> None:
    moves = (
        (Varied.STATION, out, LIMITS.position_mm),
        (Varied.SPREAD, inward, LIMITS.position_mm),
        (Varied.TOE_IN, turn, LIMITS.toe_in_deg),
        (Varied.TILT, lean or 0.0, LIMITS.tilt_deg),
    )
    assume(all(abs(abs(far) - most) > 1e-6 for _, far, most in moves))
    beyond = [what for what, far, most in moves if abs(far) > most]
    setup = changed(SETUP, mirror=mirror)
    before = trial(0, targets=both(1400.0, 2000.0, 5.0), tilt_deg=1.0)
    after = trial(
        1,
        targets=both(1400.0 + inward, 2000.0 + out, 5.0 + turn),
        tilt_deg=None if lean is None else 1.0 + lean,
    )
    expected = Varied.PLACE if len(beyond) > 1 else beyond[0] if beyond else Varied.NOTHING
    assert varied_between(setup, before, after) is expected
    assert varied_between(setup, after, before) is expected
    assert varied_between(setup, before, before) is Varied.NOTHING


def test_cabinets_that_did_not_go_as_mirror_images_are_a_place_of_their_own() -> None:
    before = trial(0)
    for left, right in (
        (Placement(1400.0, 2010.0, 0.0), Placement(1400.0, 1990.0, 0.0)),
        (Placement(1410.0, 2000.0, 0.0), Placement(1390.0, 2000.0, 0.0)),
        (Placement(1400.0, 2000.0, 1.0), Placement(1400.0, 2000.0, -1.0)),
    ):
        after = trial(1, targets=Pair(left, right))
        assert varied_between(SETUP, before, after) is Varied.PLACE


def test_what_was_measured_counts_before_what_was_wanted() -> None:
    one, other = trial(0), trial(1, targets=both(1400.0, 2300.0))
    assert varied_between(SETUP, one, other) is Varied.STATION
    not_moved = found_at(other, Placement(1401.0, 2002.0, 0.2), Placement(1399.0, 2001.0, -0.1))
    assert varied_between(SETUP, one, not_moved) is Varied.NOTHING
    leaning = found_at(one, HERE, HERE, tilt_deg=2.0)
    assert varied_between(SETUP, trial(0, tilt_deg=0.0), leaning) is Varied.TILT
    # what nobody knows of was left alone
    assert varied_between(SETUP, one, leaning) is Varied.NOTHING


def test_trials_are_called_as_the_walk_called_them() -> None:
    trials, _ = whole_walk(SETUP, KEEP)
    called = trial_names(SETUP, trials)
    proposals = [one.name for stage in STAGES for one in walk(SETUP, trials, stage=stage).proposals]
    assert set(called.values()) <= set(proposals)
    assert len(set(called.values())) == len(trials)
    assert "toe-in: the ear" in called.values()


def test_what_the_walk_has_no_name_for_is_called_by_its_value() -> None:
    trials = {
        "a": trial(0, targets=both(1400.0, 2077.0)),
        "b": trial(1, Varied.SPREAD, both(1300.0, 2077.0)),
        "c": trial(2, Varied.TOE_IN, both(1300.0, 2077.0, 7.5)),
        "d": trial(3, Varied.TILT, both(1300.0, 2077.0, 7.5), tilt_deg=-0.04),
        "e": trial(4, Varied.PLACE, both(1000.0, 1000.0)),
        "f": trial(5, Varied.PLACE, both(1100.0, 1000.0)),
        "g": trial(6, Varied.NOTHING, repeats="a"),
    }
    assert trial_names(SETUP, trials) == {
        "a": "setback 2077 mm",
        "b": "spread 2200 mm",
        "c": "toe-in 7.5°",
        "d": "tilt 0.0°",
        "e": "your own position (1000 / 1000 / 0°)",
        "f": "your own position (1100 / 1000 / 0°)",
        "g": "setback 2077 mm",
    }


def test_a_tilt_to_the_ears_is_called_so() -> None:
    kept = trial(0, Varied.TOE_IN, both(1400.0, 2000.0, 20.0), best=True)
    ears = walk(SETUP, {"kept": kept}, stage=Varied.TILT).proposals[-1]
    trials = {"kept": kept, "ears": tried(ears, 1)}
    assert trial_names(SETUP, trials)["ears"] == "tilt: the ears"


def test_a_lean_that_could_tip_the_cabinet_is_told_and_not_offered() -> None:
    high = changed(SETUP, seat=Seat(4400.0, 2400.0, 1600.0))
    kept = trial(0, Varied.TOE_IN, both(1400.0, 2000.0, 20.0), best=True)
    ears = walk(high, {"kept": kept}, stage=Varied.TILT).proposals[-1]
    assert ears.name == "tilt: the ears"
    assert ears.tilt_targets_deg.left == pytest.approx(12.0, abs=1.5)
    assert ears.obstacles[-1].endswith("the cabinet may tip over.")
