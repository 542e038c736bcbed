"""Which shots can be taken: against the simulated room's rays and shapely's distances."""

from __future__ import annotations

import msgspec
import pytest
from geometry_cases import SETUP, STANDING, by_side, is_possible, some, stood
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon

from witnessmark.geometry.frame import footprint, point_in_plan, side_frame
from witnessmark.locate.sightlines import beam, possible_shots, why_impossible
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    Pair,
    Placement,
    Setup,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
)

EVERY_HOLD = tuple(Held)


def in_plan(setup: Setup, standing: Pair[Placement], kind: ShotKind) -> LineString:
    """A beam in plan."""
    frame = side_frame(setup.room, kind.cabinet)
    return LineString([frame.to_plan(end) for end in beam(setup, by_side(standing), kind)])


def box(setup: Setup, side: Side, standing: Pair[Placement]) -> Polygon:
    return Polygon(footprint(setup.room, side, setup.cabinets[side], standing[side]))


@some
@given(stood(toe_in_deg=25.0), st.sampled_from(Side))
def test_every_possible_beam_is_free(case: tuple[Setup, Pair[Placement]], side: Side) -> None:
    setup, standing = case
    kinds = possible_shots(setup, side, by_side(standing), EVERY_HOLD)
    assert len(set(kinds)) == len(kinds)
    for kind in kinds:
        assert is_possible(setup, standing, kind), kind
        path = in_plan(setup, standing, kind)
        touch = setup.cabinets[side].touch_points[kind.point]
        assert Point(path.coords[0]).distance(
            Point(point_in_plan(setup.room, side, standing[side], touch))
        ) == pytest.approx(0.0, abs=1e-6)
        assert path.distance(box(setup, side.other, standing)) >= 10.0 - 1e-6
        # it leaves its own cabinet at once; a point of its own may lie a hair within
        assert path.intersection(box(setup, side, standing)).length < 3.0


@some
@given(stood(toe_in_deg=25.0), st.sampled_from(Side))
def test_what_is_left_out_is_in_the_way_of_something(
    case: tuple[Setup, Pair[Placement]], side: Side
) -> None:
    setup, standing = case
    possible = set(possible_shots(setup, side, by_side(standing), (Held.CABINET,)))
    own, other = box(setup, side, standing), box(setup, side.other, standing)
    for point in ("front-inner", "front-outer", "rear-inner", "rear-outer"):
        for wall in Wall:
            kind = ShotKind(side, point, AimedAt(wall), Held.CABINET)
            if kind in possible or not is_possible(setup, standing, kind):
                continue
            path = in_plan(setup, standing, kind)
            along_a_face = path.intersection(own.boundary.buffer(0.5)).length > 10.0
            assert along_a_face or path.distance(other) < 10.0, kind


def test_flush_shots_leave_from_the_face_that_looks_at_the_wall() -> None:
    kinds = possible_shots(SETUP, Side.LEFT, by_side(STANDING), (Held.CABINET,), (Wall.FRONT,))
    assert {kind.point for kind in kinds} == {"rear-inner", "rear-outer", "plinth"}
    kinds = possible_shots(SETUP, Side.LEFT, by_side(STANDING), (Held.CABINET,), (Wall.LEFT,))
    assert {kind.point for kind in kinds} == {"front-outer", "rear-outer"}


def test_the_other_cabinet_is_in_the_way() -> None:
    straight = Pair(Placement(1400.0, 1900.0, 0.0), Placement(1400.0, 1900.0, 0.0))
    across = ShotKind(Side.LEFT, "rear-inner", AimedAt.RIGHT, Held.CABINET)
    assert why_impossible(SETUP, by_side(straight), across) == (
        "the right cabinet stands in the beam"
    )
    assert why_impossible(SETUP, {Side.LEFT: straight.left}, across) is None


def test_why_a_shot_cannot_be_taken() -> None:
    def why(point: str, to: AimedAt, held: Held, toe_in_deg: float = 8.0) -> str | None:
        standing = {Side.LEFT: Placement(1400.0, 1900.0, toe_in_deg)}
        return why_impossible(SETUP, standing, ShotKind(Side.LEFT, point, to, held))

    assert why("front-inner", AimedAt.FRONT, Held.WALL) == "the cabinet itself stands in the beam"
    assert "no face of the cabinet" in str(why("front-inner", AimedAt.FRONT, Held.CABINET))
    assert why("front-inner", AimedAt.BACK, Held.CABINET, 60.0) == (
        "the beam meets the right wall first"
    )
    assert "goes to left, right" in str(why("front-inner", AimedAt.SEAT, Held.SPOT))
    outside = {Side.LEFT: Placement(-200.0, 1900.0, 0.0)}
    kind = ShotKind(Side.LEFT, "front-inner", AimedAt.BACK, Held.WALL)
    assert why_impossible(SETUP, outside, kind) == "the touch point stands outside the room"


def test_a_tapered_side_is_no_face_to_hold_the_meter_to() -> None:
    tapered = Cabinet(262.0, 391.0, points={"rear-outer": TouchPoint(-90.0, 391.0)})
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(tapered, tapered))
    kind = ShotKind(Side.LEFT, "front-outer", AimedAt.LEFT, Held.CABINET)
    assert "hold the meter on the wall" in str(why_impossible(setup, by_side(STANDING), kind))
    square = msgspec.structs.replace(kind, held=Held.WALL)
    assert why_impossible(setup, by_side(STANDING), square) is None


def test_a_datum_line_stops_no_beam() -> None:
    room = msgspec.structs.replace(SETUP.room, datum=(Wall.LEFT,))
    setup = msgspec.structs.replace(SETUP, room=room)
    kinds = possible_shots(setup, Side.LEFT, by_side(STANDING), EVERY_HOLD, (Wall.LEFT,))
    assert {kind.held for kind in kinds if kind.to is AimedAt.LEFT} == {Held.WALL, Held.SPOT}


def test_the_ends_of_a_straightedge_are_shot_past_the_cabinet() -> None:
    edged = msgspec.structs.replace(SETUP.cabinets.left, straightedge_mm=800.0)
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(edged, edged))
    for side in Side:
        kinds = possible_shots(setup, side, by_side(STANDING), (Held.CABINET,))
        ends = {kind for kind in kinds if kind.point.startswith("straightedge")}
        assert {kind.point for kind in ends} == {"straightedge-inner", "straightedge-outer"}
        assert {kind.to for kind in ends} == {AimedAt.FRONT}
        for kind in ends:
            path = in_plan(setup, STANDING, kind)
            assert path.distance(box(setup, side, STANDING)) == pytest.approx(400.0 - 128.0)
