"""A cabinet's own points and feet, entry by entry, and how a tape finds them."""

from __future__ import annotations

import msgspec
import pytest
from effort import examples
from hypothesis import given
from hypothesis import strategies as st
from tape_measure import tape_mm

from witnessmark.errors import BadInput
from witnessmark.geometry.touch import Face, TapeReading
from witnessmark.lengths import Units
from witnessmark.model import BOX_POINTS, Cabinet, TouchPoint
from witnessmark.session.cabinet_details import (
    FARTHEST_FOOT_MM,
    FARTHEST_POINT_MM,
    NamedPoint,
    PointKind,
    contradictions,
    corner,
    entries,
    is_plain,
    mirrored,
    outside_mm,
    point_name,
    with_corners_moved,
    with_entry,
    with_heights,
    without,
)
from witnessmark.session.tape_finding import (
    Sought,
    finding,
    likely_place,
    may_taper,
    next_start,
    starts,
)
from witnessmark.words.tape import how_to_tape

BOX = Cabinet(262.0, 391.0, 940.0)
PLINTH = NamedPoint(PointKind.POINT, "plinth-rear-inner", TouchPoint(150.0, 420.0))
TOE = NamedPoint(PointKind.FOOT, "toe", TouchPoint(-40.0, 30.0))


def added(cabinet: Cabinet, *new: NamedPoint) -> Cabinet:
    for entry in new:
        cabinet = with_entry(cabinet, entry, Units.MM)
    return cabinet


# --- entries


def test_entries_are_added_renamed_in_their_place_and_taken_out() -> None:
    knob = NamedPoint(PointKind.POINT, "knob", TouchPoint(0.0, 300.0))
    cabinet = added(BOX, PLINTH, knob, TOE)
    assert entries(cabinet) == [PLINTH, knob, TOE]
    assert not is_plain(cabinet)
    heel = NamedPoint(PointKind.POINT, "heel", TouchPoint(140.0, 410.0))
    changed = with_entry(cabinet, heel, Units.MM, instead_of="plinth-rear-inner")
    assert entries(changed) == [heel, knob, TOE]
    assert entries(without(changed, TOE)) == [heel, knob]
    assert is_plain(without(without(without(changed, TOE), heel), knob))


def test_a_name_is_taken_once_for_points_and_once_for_feet() -> None:
    cabinet = added(BOX, PLINTH)
    with pytest.raises(BadInput, match="there already is a touch point plinth-rear-inner"):
        added(cabinet, PLINTH)
    both = added(cabinet, NamedPoint(PointKind.FOOT, PLINTH.name, TouchPoint(100.0, 350.0)))
    assert len(entries(both)) == 2
    with pytest.raises(BadInput, match="end of the straightedge"):
        added(BOX, NamedPoint(PointKind.POINT, "straightedge-inner", TouchPoint(0.0, 0.0)))


@pytest.mark.parametrize(
    ("kind", "at", "told"),
    [
        (PointKind.FOOT, TouchPoint(0.0, 391.0 + FARTHEST_FOOT_MM + 1), "foot .* 151 mm outside"),
        (PointKind.FOOT, TouchPoint(-600.0, 0.0), "469 mm outside"),
        (PointKind.POINT, TouchPoint(0.0, -FARTHEST_POINT_MM - 1), "touch point .* 501 mm outside"),
    ],
)
def test_what_is_far_outside_the_cabinet_is_refused(
    kind: PointKind, at: TouchPoint, told: str
) -> None:
    with pytest.raises(BadInput, match=told):
        added(BOX, NamedPoint(kind, "stray", at))


def test_a_fifth_foot_is_refused_and_one_or_two_are_pointed_out() -> None:
    feet = [
        NamedPoint(PointKind.FOOT, f"f{number}", TouchPoint(0.0, 40.0 * number))
        for number in range(5)
    ]
    assert "three or four" in contradictions(added(BOX, *feet[:2]), Units.MM)[0]
    assert contradictions(added(BOX, *feet[:3]), Units.MM) == ()
    four = added(BOX, *feet[:4])
    assert contradictions(four, Units.MM) == ()
    with pytest.raises(BadInput, match="three or four feet"):
        added(four, feet[4])
    moved = NamedPoint(PointKind.FOOT, "f3", TouchPoint(10.0, 300.0))
    assert entries(with_entry(four, moved, Units.MM, instead_of="f3"))[-1] == moved


@pytest.mark.parametrize(
    ("typed", "name"), [("plinth-rear", "plinth-rear"), ("Plinth  Rear", "plinth-rear")]
)
def test_a_name_is_written_one_way(typed: str, name: str) -> None:
    assert point_name(typed) == name


@pytest.mark.parametrize("typed", ["", "füsse", "-a", "a--b", "a" * 21, "a_b", "knob!"])
def test_what_is_no_name_is_refused(typed: str) -> None:
    with pytest.raises(BadInput, match="cannot name a point"):
        point_name(typed)


def test_an_entry_is_told_in_one_line() -> None:
    assert PLINTH.words(Units.MM) == "plinth-rear-inner: 150 mm in, 420 mm back"
    assert TOE.words(Units.MM) == "foot toe: 40 mm out, 30 mm back"
    ahead = NamedPoint(PointKind.POINT, "lip", TouchPoint(0.0, -20.0, 120.0))
    assert ahead.words(Units.MM) == "lip: 0 mm in, 20 mm ahead, meter at 120 mm"


def test_a_corner_just_as_the_box_has_it_says_nothing() -> None:
    assert added(BOX, NamedPoint(PointKind.POINT, "rear-inner", TouchPoint(131.0, 391.0))) == BOX
    high = with_heights(BOX, 120.0)
    assert {name: at.height_mm for name, at in high.points.items()} == dict.fromkeys(
        BOX_POINTS, 120.0
    )
    assert high.points["front-outer"] == TouchPoint(-131.0, 0.0, 120.0)
    assert with_heights(high, 0.0) == BOX


def test_the_mirror_image_is_that_of_the_other_side() -> None:
    cabinet = added(BOX, PLINTH, TOE)
    assert mirrored(cabinet, PointKind.POINT, "plinth-rear-outer") == TouchPoint(-150.0, 420.0)
    assert mirrored(cabinet, PointKind.POINT, "plinth-rear-inner") is None
    assert mirrored(cabinet, PointKind.FOOT, "plinth-rear-outer") is None
    assert mirrored(cabinet, PointKind.FOOT, "toe") is None


# --- other sizes


def resized(cabinet: Cabinet, width: float, depth: float, height: float | None) -> Cabinet:
    sizes = {"width_mm": width, "depth_mm": depth, "acoustic_height_mm": height}
    return with_corners_moved(cabinet, msgspec.structs.replace(cabinet, **sizes))


def test_what_was_entered_stays_when_the_size_changes_and_corners_go_with_the_box() -> None:
    cabinet = added(with_heights(BOX, 120.0), PLINTH, TOE)
    other = resized(cabinet, 300.0, 400.0, None)
    assert (other.width_mm, other.depth_mm, other.acoustic_height_mm) == (300.0, 400.0, None)
    assert other.points["rear-inner"] == TouchPoint(150.0, 400.0, 120.0)
    assert other.points["plinth-rear-inner"] == PLINTH.at
    assert other.feet == {"toe": TOE.at}
    assert resized(other, 262.0, 391.0, 940.0) == cabinet


def test_a_straightedge_too_short_for_a_wider_baffle_is_refused() -> None:
    edged = msgspec.structs.replace(BOX, straightedge_mm=340.0)
    with pytest.raises(BadInput, match=r"straightedge: 340 mm must lie between 360 mm"):
        resized(edged, 300.0, 391.0, None)


def test_a_corner_outside_a_smaller_box_is_pointed_out() -> None:
    tapered = added(BOX, NamedPoint(PointKind.POINT, "rear-inner", TouchPoint(90.0, 391.0)))
    assert contradictions(tapered, Units.MM) == ()
    assert contradictions(resized(tapered, 262.0, 390.0, None), Units.MM) == ()
    (shallow,) = contradictions(resized(tapered, 262.0, 371.0, None), Units.MM)
    assert shallow.startswith("rear-inner is 20 mm outside a box of 262 mm by 371 mm")
    (narrow,) = contradictions(resized(tapered, 160.0, 391.0, None), Units.MM)
    assert narrow.startswith("rear-inner is 10 mm outside a box of 160 mm by 391 mm")
    far = added(
        BOX, TOE, *(NamedPoint(PointKind.FOOT, name, TouchPoint(0, 380)) for name in ("a", "b"))
    )
    told = contradictions(resized(far, 262.0, 200.0, None), Units.MM)
    assert [words.split(" is ")[0] for words in told] == ["foot a", "foot b"]


@given(st.floats(-400, 400), st.floats(-200, 700))
def test_outside_is_how_far_one_has_to_go_to_the_box(inward: float, back: float) -> None:
    outside = outside_mm(BOX, TouchPoint(inward, back))
    inside = TouchPoint(min(max(inward, -131.0), 131.0), min(max(back, 0.0), 391.0))
    gap = (abs(inward - inside.inward_mm), abs(back - inside.back_mm))
    assert outside == pytest.approx(max(gap), abs=1e-9)


# --- taping


def tape(cabinet: Cabinet, at: TouchPoint, start: str) -> TapeReading:
    return TapeReading(start, tape_mm(cabinet, at, start))


@examples(15, 40)
@given(
    st.sampled_from(
        ["rear-inner", "rear-outer", "plinth-rear-inner", "plinth-front-outer", "front-inner", "k"]
    ),
    st.sampled_from(PointKind),
    st.floats(-150, 150),
    st.floats(-40, 420),
)
def test_following_the_lead_fixes_a_point_in_four_readings(
    name: str, kind: PointKind, inward: float, back: float
) -> None:
    sought, at = Sought(kind, name), TouchPoint(inward, back)
    readings: tuple[TapeReading, ...] = ()
    while finding(BOX, sought, readings, Units.MM).found is None:
        assert len(readings) < 4
        reading = tape(BOX, at, next_start(BOX, sought, readings))
        readings += (reading,)
    found = finding(BOX, sought, readings, Units.MM).found
    assert found is not None
    # places less than 2 mm apart count as one, so near the line between two corners either is found
    assert found.point.inward_mm == pytest.approx(inward, abs=2.01)
    assert found.point.back_mm == pytest.approx(back, abs=2.01)
    assert len({reading.start for reading in readings}) == len(readings)


@examples(15, 60)
@given(st.data())
def test_whatever_is_read_something_is_said_and_a_next_reading_asked_for(
    data: st.DataObject,
) -> None:
    name = data.draw(st.sampled_from(["rear-inner", "plinth-rear-outer", "front-inner", "k"]))
    sought = Sought(data.draw(st.sampled_from(PointKind)), name)
    offered = starts(BOX, sought)
    lengths = st.sampled_from([1.0, 131.0, 262.0, 391.0]) | st.floats(1.0, 4000.0)
    pairs = st.lists(st.tuples(st.sampled_from(offered), lengths), max_size=5)
    readings = tuple(TapeReading(start, length) for start, length in data.draw(pairs))
    assert finding(BOX, sought, readings, Units.MM).words.endswith(".")
    assert next_start(BOX, sought, readings) in offered


def test_nothing_is_measured_from_the_point_itself_or_from_what_may_not_be_there() -> None:
    rear = Sought(PointKind.POINT, "rear-inner")
    assert not {"rear-inner", "rear-outer"} & set(starts(BOX, rear))
    tapered = added(BOX, NamedPoint(PointKind.POINT, "rear-outer", TouchPoint(-90.0, 391.0)))
    assert "rear-outer" in starts(tapered, rear)
    assert "rear-inner" in starts(BOX, Sought(PointKind.POINT, "plinth-rear-inner"))
    assert "rear-inner" in starts(BOX, Sought(PointKind.FOOT, "rear-inner"))
    old = added(BOX, PLINTH)
    assert PLINTH.name not in starts(old, Sought(PointKind.POINT, PLINTH.name))


def test_what_one_more_reading_would_tell_is_said() -> None:
    sought, at = Sought(PointKind.POINT, "rear-inner"), TouchPoint(90.0, 391.0)
    two = tuple(tape(BOX, at, start) for start in ("front-inner", "front-outer"))
    assert finding(BOX, sought, two[:1], Units.MM).words.startswith("Two readings fix the point")
    open_still = finding(BOX, sought, two, Units.MM)
    assert open_still.found is None
    assert open_still.telling == "baffle"
    assert open_still.words.endswith("a reading from the baffle would decide.")
    three = (*two, tape(BOX, at, "baffle"))
    known = finding(BOX, sought, three, Units.MM)
    assert known.telling == "inner side"
    assert known.words.endswith("One more, from the inner side, would fix inward to ±2 mm.")
    after = finding(BOX, sought, (*three, tape(BOX, at, "inner side")), Units.MM).found
    assert after is not None
    assert known.found is not None
    assert after.inward_expanded_mm < 0.6 * known.found.inward_expanded_mm
    assert after.inward_expanded_mm == pytest.approx(2.0, abs=0.5)


def test_a_foot_right_at_a_corner_is_found_without_measuring_from_there() -> None:
    sought, at = Sought(PointKind.FOOT, "front-inner"), TouchPoint(131.0, 0.0)
    readings = tuple(tape(BOX, at, start) for start in ("baffle", "front-outer", "inner side"))
    known = finding(BOX, sought, readings, Units.MM)
    assert known.found is not None
    assert known.telling != "front-inner"


def test_readings_that_contradict_each_other_ask_for_no_further_one() -> None:
    sought, at = Sought(PointKind.POINT, "knob"), TouchPoint(20.0, 300.0)
    readings = tuple(
        tape(BOX, at, start) for start in ("baffle", "rear face", "inner side", "outer side")
    )
    slip = TapeReading("inner side", readings[2].reading_mm + 12.0)
    told = finding(BOX, sought, (*readings[:2], slip, readings[3]), Units.MM)
    assert told.telling is None
    assert "take" in told.words
    assert told.found is not None
    assert told.found.suspect is not None


def how_told(cabinet: Cabinet, sought: Sought, start: str) -> str:
    return how_to_tape(sought.name, start, may_taper=may_taper(cabinet, sought))


@pytest.mark.parametrize("start", [*Face, "front-outer"])
def test_how_a_reading_is_taken_names_both_ends(start: str) -> None:
    words = how_told(BOX, Sought(PointKind.POINT, "knob"), start)
    assert "knob" in words
    assert ("minus" in words) == (start in tuple(Face))
    assert start in words


def test_beside_a_tapering_side_the_board_stands_square_to_the_baffle() -> None:
    words = how_told(BOX, Sought(PointKind.POINT, "rear-inner"), Face.INNER)
    assert "square to the baffle at front-inner" in words
    tapered = added(BOX, NamedPoint(PointKind.POINT, "rear-inner", TouchPoint(90.0, 391.0)))
    assert "square to the baffle" in how_told(tapered, Sought(PointKind.FOOT, "a"), Face.OUTER)
    assert "along the inner side" in how_told(BOX, Sought(PointKind.FOOT, "rear-inner"), Face.INNER)


@pytest.mark.parametrize("kind", PointKind)
def test_a_point_is_drawn_about_where_its_name_says(kind: PointKind) -> None:
    rear = likely_place(BOX, Sought(kind, "rear-outer"))
    front = likely_place(BOX, Sought(kind, "front-inner"))
    assert rear.inward_mm < 0 < front.inward_mm
    assert front.back_mm < 100
    assert rear.back_mm > 300
    plinth = likely_place(BOX, Sought(PointKind.POINT, "plinth-rear-inner"))
    assert plinth.inward_mm > corner(BOX, "rear-inner").inward_mm
    assert plinth.back_mm > 391
