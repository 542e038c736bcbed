"""Shots that do not fix a pose, and those that tie two cabinets together."""

from __future__ import annotations

import math

import msgspec
import pytest
from geometry_cases import (
    CABINET,
    SAME_MM,
    SETUP,
    STANDING,
    assert_located,
    round_of,
    three_shots,
    true_shots,
)

from witnessmark.errors import BadInput, TooFewShots
from witnessmark.locate.pose import locate, predict
from witnessmark.model import (
    AimedAt,
    Held,
    Placement,
    Shot,
    ShotKind,
    Side,
)

FIXES_SIDE = "a shot to the left wall (nothing fixes side)"
FIXES_SETBACK = "a shot to the front wall (nothing fixes setback)"
FIXES_TOE_IN = "a second shot to one wall from another touch point (two from one face fix toe-in)"


@pytest.mark.parametrize(
    ("taken", "missing"),
    [
        ("rear-inner front", [FIXES_SIDE, FIXES_TOE_IN]),
        ("rear-outer left", [FIXES_SETBACK, FIXES_TOE_IN]),
        ("rear-inner front, rear-outer front", [FIXES_SIDE]),
        ("rear-inner front, rear-outer front, front-inner back", [FIXES_SIDE]),
        ("rear-outer left, front-outer left", [FIXES_SETBACK]),
        ("rear-outer left, rear-outer front", [FIXES_TOE_IN]),
        ("rear-outer left, rear-outer left, rear-outer front, rear-outer front", [FIXES_TOE_IN]),
        ("front-inner seat", [FIXES_SIDE, FIXES_SETBACK, FIXES_TOE_IN]),
    ],
)
@pytest.mark.parametrize("held", [Held.WALL, Held.CABINET])
def test_the_missing_shots_are_named(taken: str, missing: list[str], held: Held) -> None:
    wanted = []
    for words in taken.split(", "):
        point, to = words.split()
        how = Held.POINT if to == "seat" else held
        wanted.append(ShotKind(Side.LEFT, point, AimedAt(to), how))
    with pytest.raises(TooFewShots) as caught:
        locate(SETUP, true_shots(SETUP, STANDING, wanted))
    assert str(caught.value) == f"left: missing {' and '.join(missing)}"


def test_without_shots_all_are_missing() -> None:
    with pytest.raises(TooFewShots, match=r"^missing every shot: none was taken"):
        locate(SETUP, [])


def test_only_the_cabinet_that_lacks_shots_is_named() -> None:
    wanted = [*round_of(Side.LEFT, Held.WALL), *round_of(Side.RIGHT, Held.WALL)[:3]]
    assert_located(locate(SETUP, true_shots(SETUP, STANDING, wanted)), STANDING)
    with pytest.raises(TooFewShots) as caught:
        locate(SETUP, true_shots(SETUP, STANDING, wanted[:-1]))
    assert str(caught.value) == ("right: missing a shot to the front wall (nothing fixes setback)")


def test_a_shot_across_asks_for_both_cabinets() -> None:
    wanted = [ShotKind(Side.LEFT, "front-inner", AimedAt.CABINET, Held.POINT)]
    with pytest.raises(TooFewShots, match=r"^left: missing .*; right: missing .*right wall"):
        locate(SETUP, true_shots(SETUP, STANDING, wanted))


def test_a_shot_across_ties_the_pair_together() -> None:
    """Three shots on the left, two on the right, and one from corner to corner of the two."""
    wanted = [
        *three_shots(Side.LEFT, Held.WALL),
        *three_shots(Side.RIGHT, Held.WALL)[:2],
        ShotKind(Side.LEFT, "front-inner", AimedAt.CABINET, Held.POINT),
    ]
    shots = true_shots(SETUP, STANDING, wanted)
    assert_located(locate(SETUP, shots), STANDING)
    with pytest.raises(TooFewShots, match=r"^right: missing a shot to the right wall"):
        locate(SETUP, shots[:-1])


def test_a_point_that_is_not_there_is_told_before_solving() -> None:
    shot = Shot(ShotKind(Side.LEFT, "middle", AimedAt.FRONT, Held.WALL), 1500.0)
    with pytest.raises(BadInput, match='has no "middle"'):
        locate(SETUP, [shot])


def test_out_of_square_room_by_hand() -> None:
    """The left wall leans so that the room is 60 mm wider at the back than at the front."""
    room = msgspec.structs.replace(SETUP.room, back_left=(-60.0, 6480.0))
    setup = msgspec.structs.replace(SETUP, room=room)
    lean = math.atan2(60.0, 6480.0)
    placement = Placement(1500.0, 1900.0, 0.0)
    kind = ShotKind(Side.LEFT, "front-outer", AimedAt.LEFT, Held.WALL)
    # 128 mm along the front wall take 128 cos(lean) off the distance to the leaning one
    reading = predict(setup, {Side.LEFT: placement}, kind)
    assert reading == pytest.approx(1500.0 - CABINET.width_mm / 2 * math.cos(lean), abs=SAME_MM)
