"""A cabinet's points: its own, and the ends of a straightedge across its baffle."""

from __future__ import annotations

import math

import msgspec
import pytest
from geometry_cases import SETUP, STANDING, by_side, true_shots

from witnessmark.errors import BadInput
from witnessmark.layout.footprint import band, outline, tape_points
from witnessmark.locate.pose import predict
from witnessmark.model import (
    STRAIGHTEDGE_POINTS,
    AimedAt,
    Cabinet,
    Held,
    Pair,
    ShotKind,
    Side,
    TouchPoint,
)


def test_a_straightedge_adds_its_two_ends() -> None:
    cabinet = Cabinet(262.0, 391.0, straightedge_mm=800.0)
    points = cabinet.touch_points
    assert points["straightedge-inner"] == TouchPoint(400.0, 0.0)
    assert points["straightedge-outer"] == TouchPoint(-400.0, 0.0)
    assert set(points) == {*cabinet.body_points, *STRAIGHTEDGE_POINTS}


def test_a_straightedge_is_no_part_of_the_cabinet() -> None:
    bare, measured = Cabinet(262.0, 391.0), Cabinet(262.0, 391.0, straightedge_mm=800.0)
    assert measured.body_points == bare.touch_points
    assert measured.standing_points == bare.standing_points


@pytest.mark.parametrize("length", [262.0, 321.0, 5000.0, float("nan")])
def test_a_straightedge_must_reach_past_both_sides(length: float) -> None:
    with pytest.raises(BadInput, match=r"cabinet\.straightedge: .* must lie between 322 mm"):
        Cabinet(262.0, 391.0, straightedge_mm=length)


def test_a_tapered_box_has_its_corners_where_they_are() -> None:
    tapered = Cabinet(262.0, 391.0, points={"rear-inner": TouchPoint(90.0, 391.0)})
    assert tapered.body_points["rear-inner"] == TouchPoint(90.0, 391.0)
    assert tapered.standing_points["rear-inner"] == TouchPoint(90.0, 391.0)


def test_two_readings_from_a_straightedge_have_its_length_for_their_base() -> None:
    """They differ by its length times the tangent flush on it, the sine square to the wall."""
    edged = Cabinet(256.0, 384.0, straightedge_mm=800.0)
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(edged, edged))
    toe_in = math.radians(STANDING.left.toe_in_deg)
    for held, part in ((Held.CABINET, math.tan(toe_in)), (Held.WALL, math.sin(toe_in))):
        kinds = [ShotKind(Side.LEFT, name, AimedAt.FRONT, held) for name in STRAIGHTEDGE_POINTS]
        inner, outer = (shot.reading_mm for shot in true_shots(setup, STANDING, kinds))
        # turned in, the inner end has swung toward the front wall
        assert outer - inner == pytest.approx(800.0 * part, abs=1e-6)
        for kind, reading in zip(kinds, (inner, outer), strict=True):
            assert predict(setup, by_side(STANDING), kind) == pytest.approx(reading, abs=1e-6)


def test_a_straightedge_takes_up_no_floor() -> None:
    bare = Cabinet(256.0, 384.0)
    edged = msgspec.structs.replace(bare, straightedge_mm=800.0)
    for one in (outline, band, tape_points):
        assert one(SETUP.room, Side.LEFT, edged, STANDING.left) == one(
            SETUP.room, Side.LEFT, bare, STANDING.left
        )
