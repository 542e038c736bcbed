"""Floor that is to be kept clear: against shapely, and as layouts tell of it."""

from __future__ import annotations

import math
from itertools import combinations, pairwise

import msgspec
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import MultiPoint, Point, Polygon

from witnessmark.errors import BadInput
from witnessmark.layout.footprint import holds, hull, shared_mm2
from witnessmark.layout.plan import lay_out
from witnessmark.layout.start import Free, InLane
from witnessmark.model import (
    Cabinet,
    KeepClear,
    Pair,
    PlanPoint,
    Room,
    Seat,
    Wall,
    WallOffset,
    fittings,
)
from witnessmark.model.plan import edges_cross

ROOM = Room.rectangular(4800, 6600)
CABINET = Cabinet(260, 390, 900)
PAIR = Pair(CABINET, CABINET)
L_SHAPE = KeepClear(
    "walkway",
    ((0, 0), (4800, 0), (4800, 1000), (1000, 1000), (1000, 6600), (0, 6600)),
)

whole = st.integers(-6, 6).map(float)
clouds = st.lists(st.tuples(whole, whole), min_size=1, max_size=7)


@st.composite
def zones(draw: st.DrawFn) -> KeepClear:
    """Outlines that go round a middle, bent inward or not."""
    count = draw(st.integers(3, 8))
    reach = [draw(st.integers(20, 90)) for _ in range(count)]
    turn = draw(st.floats(0, 6))
    points = [
        (
            float(Point(0, 0).buffer(1).exterior.interpolate(k / count, normalized=True).x) * far,
            float(Point(0, 0).buffer(1).exterior.interpolate(k / count, normalized=True).y) * far
            + turn,
        )
        for k, far in enumerate(reach)
    ]
    if draw(st.booleans()):
        points.reverse()
    return KeepClear("zone", tuple(points))


@given(zones(), st.lists(st.tuples(st.floats(-99, 99), st.floats(-99, 99)), max_size=8))
def test_shared_floor_is_that_of_shapely(zone: KeepClear, points: list[PlanPoint]) -> None:
    expected = Polygon(zone.corners).intersection(MultiPoint(points).convex_hull).area
    assert shared_mm2(zone, points) == pytest.approx(expected, abs=1e-6)


@given(zones(), st.tuples(st.floats(-99, 99), st.floats(-99, 99)))
def test_holds_is_that_of_shapely(zone: KeepClear, point: PlanPoint) -> None:
    outline = Polygon(zone.corners)
    assume(outline.exterior.distance(Point(point)) > 1e-9)
    assert holds(zone, point) == outline.contains(Point(point))


@given(clouds)
def test_hull_is_that_of_shapely(points: list[PlanPoint]) -> None:
    found, expected = hull(points), MultiPoint(points).convex_hull
    if expected.geom_type == "Polygon":
        outline = Polygon(found)
        assert outline.equals(expected)
        assert outline.exterior.is_ccw
        assert len(found) == len(expected.exterior.coords) - 1
    else:
        assert len(found) < 3


@given(zones())
def test_area_is_that_of_shapely(zone: KeepClear) -> None:
    assert zone.area_mm2 == pytest.approx(Polygon(zone.corners).area)
    assert Polygon(zone.corners).is_valid


def with_zones(*zones: KeepClear) -> Room:
    return msgspec.structs.replace(ROOM, keep_clear=zones)


def test_a_layout_clear_of_its_zones_says_nothing() -> None:
    door = KeepClear.rectangle("door swing", (0, 900), (5700, 6600))
    assert lay_out(with_zones(door), PAIR, start=InLane(2000)).conflicts == ()


def test_the_zone_that_a_cabinet_stands_in_is_named() -> None:
    hearth = KeepClear.rectangle("hearth", (1400, 3000), (0, 1700))
    (told,) = lay_out(with_zones(hearth), PAIR, start=InLane(2000)).conflicts
    assert told == ('The left cabinet stands in the way of "hearth", which must be kept clear.')
    # a cabinet in front of it is clear of it: 2100 less 390 deep
    assert lay_out(with_zones(hearth), PAIR, start=InLane(2100)).conflicts == ()


def test_both_cabinets_are_told_in_one_sentence() -> None:
    walk = KeepClear.rectangle("walkway", (0, 4800), (1700, 2000))
    (told,) = lay_out(with_zones(walk), PAIR, start=InLane(2000)).conflicts
    assert told == 'Each cabinet stands in the way of "walkway", which must be kept clear.'


def test_the_zone_that_the_seat_is_in_is_named() -> None:
    walk = KeepClear.rectangle("walkway", (0, 4800), (4300, 4500))
    (told,) = lay_out(with_zones(walk), PAIR, Seat(4400, 2400), InLane(2000)).conflicts
    assert told == 'The seat is in the way of "walkway", which must be kept clear.'


def test_a_bent_zone_is_no_more_than_itself() -> None:
    inside_the_bend, on_its_arm = (
        lay_out(with_zones(L_SHAPE), PAIR, start=Free(side, 2000, 0)) for side in (1200, 1100)
    )
    assert inside_the_bend.conflicts == ()
    assert on_its_arm.conflicts == (
        'The left cabinet stands in the way of "walkway", which must be kept clear.',
    )


def test_touching_a_zone_is_not_standing_in_it() -> None:
    hearth = KeepClear.rectangle("hearth", (0, 4800), (0, 1610))
    assert lay_out(with_zones(hearth), PAIR, start=InLane(2000)).conflicts == ()


ROUND_RUG = tuple(
    (2000 + 900 * math.cos(turn), 2000 + 900 * math.sin(turn))
    for turn in (math.tau * at / 64 for at in range(64))
)


def test_a_round_rug_is_a_zone() -> None:
    rug = KeepClear("rug", ROUND_RUG)
    assert rug.area_mm2 == pytest.approx(math.pi * 900**2, rel=0.01)


def test_zones_without_end_are_no_room() -> None:
    zone = KeepClear("rug", ROUND_RUG)
    with_zones(*[zone] * 64)
    with pytest.raises(BadInput, match="keep_clear: there are too many zones; give 64 at most"):
        with_zones(*[zone] * 65)


@pytest.mark.parametrize(
    ("name", "corners", "told"),
    [
        (" ", ((0, 0), (1000, 0), (0, 1000)), 'every zone needs a name such as "door swing"'),
        ("rug", ((0, 0), (1000, 0)), '"rug" encloses no floor'),
        ("rug", ((0, 0), (1000, 0), (2000, 0)), '"rug" encloses no floor'),
        ("rug", ((0, 0), (1000, 0), (0, 2e5)), 'a corner of "rug" is more than 100 m away'),
        ("rug", ((0, 0), (1000, 0), (0, float("nan"))), 'a corner of "rug" is more than 100 m'),
        (
            "rug",
            ((0, 0), (1000, 1000), (1000, 0), (0, 2000)),
            'the outline of "rug" crosses itself',
        ),
        ("rug", ROUND_RUG * 2, '"rug" has 128 corners; give 64 at most'),
    ],
)
def test_zones_that_are_none_are_refused(
    name: str, corners: tuple[PlanPoint, ...], told: str
) -> None:
    with pytest.raises(BadInput) as caught:
        KeepClear(name, corners)
    assert str(caught.value).startswith("keep_clear: ")
    assert told in str(caught.value)


@given(st.lists(st.tuples(whole, whole), min_size=4, max_size=9))
def test_every_crossing_of_an_outline_is_found(corners: list[PlanPoint]) -> None:
    outline = tuple((1000 * x, 1000 * y) for x, y in corners)
    edges = list(pairwise((*outline, outline[0])))
    crosses = any(edges_cross(*two) for two in combinations(edges, 2))
    told = refusal_of(outline)
    assume("encloses no floor" not in told)
    assert ("crosses itself" in told) is crosses


def refusal_of(outline: tuple[PlanPoint, ...]) -> str:
    try:
        KeepClear("rug", outline)
    except BadInput as refused:
        return str(refused)
    return ""


def test_few_edges_are_held_against_each_other(monkeypatch: pytest.MonkeyPatch) -> None:
    # a file of 4 MB may hold ten thousand such zones
    calls = []
    monkeypatch.setattr(fittings, "edges_cross", lambda *two: calls.append(two))
    KeepClear("rug", ROUND_RUG)
    assert len(calls) <= 4 * len(ROUND_RUG)


def with_offset(offset: WallOffset) -> Room:
    return msgspec.structs.replace(ROOM, offsets=(offset,))


def test_a_cabinet_where_a_skirting_board_is_is_told() -> None:
    room = with_offset(WallOffset(Wall.FRONT, 18, 0, 120))
    (told,) = lay_out(room, PAIR, start=InLane(400)).conflicts
    assert told == "Each cabinet reaches 8 mm into what sticks out from the front wall."
    assert lay_out(room, PAIR, start=InLane(408)).conflicts == ()


def test_what_hangs_above_the_cabinet_is_not_in_its_way() -> None:
    for low, conflicts in ((800, 1), (1000, 0)):
        room = with_offset(WallOffset(Wall.FRONT, 100, low, 2000))
        assert len(lay_out(room, PAIR, start=InLane(400)).conflicts) == conflicts


def test_nothing_is_outside_beyond_a_datum_line() -> None:
    room = msgspec.structs.replace(ROOM, datum=(Wall.LEFT, Wall.RIGHT))
    assert lay_out(room, PAIR, start=Free(100, 2000, 0)).conflicts == ()
    assert lay_out(ROOM, PAIR, start=Free(100, 2000, 0)).conflicts != ()
    beyond = Seat(4000, 4900)
    told = lay_out(room, seat=beyond, start=InLane(2000)).conflicts
    assert not [one for one in told if "outside the room" in one]


@pytest.mark.parametrize(
    ("proud", "low", "high", "told"),
    [
        (0.0, 0.0, 100.0, "0 mm out from the left wall must lie above 0, to 2 m"),
        (float("nan"), 0.0, 100.0, "nan mm out from the left wall must lie above 0, to 2 m"),
        (20.0, 100.0, 100.0, "from 100 mm to 100 mm must reach from a height of 0 or more"),
        (20.0, -1.0, 100.0, "from -1 mm to 100 mm must reach from a height of 0 or more"),
    ],
)
def test_offsets_that_are_none_are_refused(
    proud: float, low: float, high: float, told: str
) -> None:
    with pytest.raises(BadInput) as caught:
        WallOffset(Wall.LEFT, proud, low, high)
    assert str(caught.value).startswith("offsets: ")
    assert told in str(caught.value)
