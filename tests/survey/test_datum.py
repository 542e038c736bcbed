"""Lines in place of walls: where they lie, how shots go to them, and lines that cannot be."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from geometry_cases import (
    SAME_MM,
    SETUP,
    STANDING,
    assert_located,
    by_side,
    many,
    noisy,
    rooms,
    round_of,
    true_shots,
)
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point

from witnessmark.errors import BadInput
from witnessmark.locate.causes import likely_cause
from witnessmark.locate.observe import touch_point
from witnessmark.locate.pose import locate, predict
from witnessmark.model import (
    AimedAt,
    DatumLine,
    Held,
    KeepClear,
    Meter,
    Room,
    Setup,
    Shot,
    ShotKind,
    Side,
    Wall,
    WallOffset,
)
from witnessmark.survey.datum import line_of, redrawn
from witnessmark_simulators.room import ImpossibleShot

ROOM = Room.rectangular(5000.0, 6000.0)
ENDS = {
    Wall.LEFT: (Wall.FRONT, Wall.BACK),
    Wall.RIGHT: (Wall.FRONT, Wall.BACK),
    Wall.FRONT: (Wall.LEFT, Wall.RIGHT),
    Wall.BACK: (Wall.LEFT, Wall.RIGHT),
}
"""The neighbours at the first and second end."""


def distance(room: Room, wall: Wall, point: tuple[float, float]) -> float:
    (x0, y0), (x1, y1) = room.wall(wall)
    dx, dy = 100 * (x1 - x0), 100 * (y1 - y0)
    line = LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)])
    return float(line.distance(Point(point)))


def test_a_line_on_the_right_by_hand() -> None:
    line = DatumLine(Wall.RIGHT, {Wall.LEFT: 4800.0}, {Wall.LEFT: 4900.0})
    room = redrawn(ROOM, line).room
    assert room.corners == ((0, 0), (4800, 0), (4900, 6000), (0, 6000))
    assert room.datum == (Wall.RIGHT,)


def test_a_line_whose_ends_hang_in_the_room_is_drawn_on_to_its_neighbours() -> None:
    # 4800 mm from the left wall 1 m behind the front wall, 4900 mm 2 m further
    line = DatumLine(
        Wall.RIGHT,
        {Wall.LEFT: 4800.0, Wall.FRONT: 1000.0},
        {Wall.LEFT: 4900.0, Wall.FRONT: 3000.0},
    )
    room = redrawn(ROOM, line).room
    assert room.front_right == pytest.approx((4750.0, 0.0), abs=SAME_MM)
    assert room.back_right == pytest.approx((5050.0, 6000.0), abs=SAME_MM)


def test_a_line_in_front_turns_the_plan() -> None:
    """Its right end 100 mm nearer to the listener: the walls lean by as much the other way."""
    line = DatumLine(Wall.FRONT, {Wall.BACK: 6000.0}, {Wall.BACK: 5900.0})
    zone = KeepClear.rectangle("rug", (1000.0, 2000.0), (3000.0, 4000.0))
    room = redrawn(msgspec.structs.replace(ROOM, keep_clear=(zone,)), line).room
    turn = math.atan2(100.0, 5000.0)
    assert room.front_left == (0.0, 0.0)
    assert room.front_right == pytest.approx((math.hypot(5000, 100), 0.0), abs=SAME_MM)
    assert room.back_left == pytest.approx(
        (6000 * math.sin(turn), 6000 * math.cos(turn)), abs=SAME_MM
    )
    # the rug is where it was: as far from the back wall and the left wall
    moved = room.keep_clear[0].corners[0]
    assert distance(room, Wall.LEFT, moved) == pytest.approx(1000.0, abs=SAME_MM)
    assert distance(room, Wall.BACK, moved) == pytest.approx(3000.0, abs=SAME_MM)


@many
@given(rooms(), st.sampled_from(Wall), st.data())
def test_a_line_lies_where_its_ends_were_measured(
    room: Room, wall: Wall, data: st.DataObject
) -> None:
    """Ends on the wall itself, told by two or three other sides, give the wall back."""
    start, end = (np.array(corner) for corner in room.wall(wall))
    if wall in (Wall.BACK, Wall.LEFT):  # those that are gone round from their second end
        start, end = end, start
    given_by = []
    shares = (data.draw(st.floats(0.05, 0.4)), data.draw(st.floats(0.6, 0.95)))
    for share, neighbour in zip(shares, ENDS[wall], strict=True):
        point = tuple(start + share * (end - start))
        sides = [other for other in Wall if other is not wall]
        kept = sides if data.draw(st.booleans()) else [neighbour, wall.opposite]
        given_by.append({other: distance(room, other, point) for other in kept})
    found = redrawn(room, DatumLine(wall, *given_by)).room
    lengths = [found.side_length_mm(one) for one in Wall]
    assert lengths == pytest.approx([room.side_length_mm(one) for one in Wall], abs=1e-3)
    assert math.dist(found.front_left, found.back_right) == pytest.approx(
        math.dist(room.front_left, room.back_right), abs=1e-3
    )
    assert found.datum == (wall,)
    assert found.front_left == (0.0, 0.0)


def test_a_front_line_1_m_back_brings_every_point_1_m_nearer_to_it() -> None:
    line = DatumLine(Wall.FRONT, {Wall.BACK: 5000.0}, {Wall.BACK: 5000.0})
    moved = redrawn(ROOM, line).shift.moved
    assert moved((1200.0, 4000.0)) == pytest.approx((1200.0, 3000.0), abs=SAME_MM)


@many
@given(rooms(), st.sampled_from(Wall), st.data())
def test_a_point_that_is_moved_stays_as_far_from_the_walls_that_are_left(
    room: Room, wall: Wall, data: st.DataObject
) -> None:
    given_by = [
        {wall.opposite: data.draw(st.floats(0.6, 0.9)) * room.side_length_mm(ENDS[wall][0])}
        for _ in range(2)
    ]
    point = (data.draw(st.floats(800, 2000)), data.draw(st.floats(800, 2000)))
    found = redrawn(room, DatumLine(wall, *given_by))
    for other in Wall:
        if other is not wall:
            assert distance(found.room, other, found.shift.moved(point)) == pytest.approx(
                distance(room, other, point), abs=SAME_MM
            )


@many
@given(rooms(), st.sampled_from(Wall))
def test_a_side_told_as_a_line_gives_the_room_back(room: Room, wall: Wall) -> None:
    line = line_of(room, wall)
    assert set(line.first) == set(line.second) == {wall.opposite}
    found = redrawn(room, line).room
    lengths = [found.side_length_mm(one) for one in Wall]
    assert lengths == pytest.approx([room.side_length_mm(one) for one in Wall], abs=1e-3)


def test_a_side_as_a_line_begins_at_the_front_or_on_the_left() -> None:
    skew = Room((0.0, 0.0), (4800.0, 0.0), (4900.0, 6000.0), (0.0, 6000.0))
    line = line_of(skew, Wall.RIGHT)
    assert (line.first[Wall.LEFT], line.second[Wall.LEFT]) == pytest.approx((4800.0, 4900.0))


def test_a_line_takes_the_place_of_a_wall_and_of_what_stood_proud_of_it() -> None:
    offsets = (WallOffset(Wall.RIGHT, 20, 0, 100), WallOffset(Wall.LEFT, 20, 0, 100))
    room = msgspec.structs.replace(ROOM, offsets=offsets, datum=(Wall.BACK,))
    found = redrawn(room, DatumLine(Wall.RIGHT, {Wall.LEFT: 4800.0}, {Wall.LEFT: 4900.0})).room
    assert found.offsets == offsets[1:]
    assert found.datum == (Wall.BACK, Wall.RIGHT)


@pytest.mark.parametrize(
    ("first", "second", "told"),
    [
        (
            {Wall.LEFT: 4800.0, Wall.FRONT: 1000.0, Wall.BACK: 5030.0},
            {Wall.LEFT: 4800.0},
            (
                "the right datum line, its end by the front wall, cannot be 4800 mm from the left "
                "wall, 1000 mm from the front wall and 5030 mm from the back wall: these "
                "contradict each other; measure them again"
            ),
        ),
        (
            {Wall.FRONT: 10.0},
            {Wall.LEFT: 4800.0},
            (
                "the right datum line, its end by the front wall: its distances from two sides "
                "that meet are needed, such as the front wall and the left wall"
            ),
        ),
        (
            {Wall.LEFT: 4800.0},
            {},
            (
                "the right datum line, its end by the back wall: its distances from two sides that"
                " meet are needed, such as the back wall and the left wall"
            ),
        ),
        (
            {Wall.LEFT: 4800.0, Wall.FRONT: 1000.0},
            {Wall.LEFT: 4810.0, Wall.FRONT: 1100.0},
            (
                "the two ends of the right datum line are 100 mm apart; measure at places that are"
                " 500 mm apart or more"
            ),
        ),
        (
            {Wall.LEFT: 4800.0},
            {Wall.LEFT: 0.0},
            (
                "the right datum line at these distances closes no room in which every corner "
                "bends inward and every side is at least 0.5 m long; check from which side each "
                "was taken"
            ),
        ),
        (
            {Wall.LEFT: 100.0, Wall.FRONT: 500.0},
            {Wall.LEFT: 4800.0, Wall.FRONT: 500.0},
            (
                "the right datum line runs along the front wall and never meets it; check from "
                "which side each distance was taken"
            ),
        ),
        (
            {Wall.RIGHT: 10.0},
            {Wall.LEFT: 4800.0},
            (
                "the right datum line, its end by the front wall: a line has no distance from "
                "itself; name other sides"
            ),
        ),
        (
            {Wall.LEFT: -5.0},
            {Wall.LEFT: 4800.0},
            (
                "the right datum line, its end by the front wall: every distance must lie between "
                "0 and 100 m"
            ),
        ),
    ],
)
def test_lines_that_cannot_be_are_told(
    first: dict[Wall, float], second: dict[Wall, float], told: str
) -> None:
    with pytest.raises(BadInput) as caught:
        redrawn(ROOM, DatumLine(Wall.RIGHT, first, second))
    assert str(caught.value) == f"datum: {told}"


def test_a_contradiction_is_one_only_beyond_what_the_tape_can_be_off() -> None:
    first = {Wall.LEFT: 4800.0, Wall.FRONT: 1000.0, Wall.BACK: 5006.0}
    line = DatumLine(Wall.RIGHT, first, {Wall.LEFT: 4800.0})
    with pytest.raises(BadInput, match="contradict each other"):
        redrawn(ROOM, line)
    assert redrawn(ROOM, line, sigma_mm=3.0).room.datum == (Wall.RIGHT,)


@given(
    st.sampled_from(Wall),
    *(st.dictionaries(st.sampled_from(Wall), st.floats(0, 9000), max_size=4) for _ in range(2)),
)
def test_any_line_gives_a_room_or_one_sentence(
    wall: Wall, first: dict[Wall, float], second: dict[Wall, float]
) -> None:
    told = ""
    try:
        redrawn(ROOM, DatumLine(wall, first, second))
    except BadInput as error:
        told = str(error)
    assert not told or (told.startswith("datum: the ") and "\n" not in told)


OPEN = msgspec.structs.replace(
    SETUP, room=msgspec.structs.replace(SETUP.room, datum=(Wall.RIGHT, Wall.BACK))
)


def test_tape_shots_to_a_line_fix_a_cabinet() -> None:
    wanted = round_of(Side.RIGHT, Held.WALL, more=True)
    shots = true_shots(OPEN, STANDING, wanted)
    located = locate(OPEN, shots)
    assert_located(located, {Side.RIGHT: STANDING.right})


@pytest.mark.parametrize(
    ("to", "held", "told"),
    [
        (
            AimedAt.RIGHT,
            Held.CABINET,
            (
                "held: the beam of a meter on the cabinet cannot meet the right datum line; "
                'measure square to the line with a tape, held = "wall"'
            ),
        ),
        (
            AimedAt.LEFT,
            Held.SPOT,
            (
                "held: a spot shot needs a back wall for its dot, and there is a datum line; "
                'measure square to the line with a tape, held = "wall"'
            ),
        ),
    ],
)
def test_a_beam_cannot_meet_a_line(to: AimedAt, held: Held, told: str) -> None:
    kind = ShotKind(Side.RIGHT, "front-outer", to, held)
    with pytest.raises(BadInput) as caught:
        touch_point(OPEN, kind)
    assert str(caught.value) == told
    with pytest.raises(BadInput, match="datum line"):
        predict(OPEN, by_side(STANDING), kind)
    with pytest.raises(ImpossibleShot, match="does not stop at"):
        true_shots(OPEN, STANDING, [kind])


def test_a_wrong_shot_is_explained_by_what_can_be_shot_only() -> None:
    """Guessing that a beam went to another wall leaves the lines out."""
    kind = ShotKind(Side.RIGHT, "rear-outer", AimedAt.FRONT, Held.CABINET)
    expected = predict(OPEN, by_side(STANDING), kind)
    to_left = msgspec.structs.replace(kind, to=AimedAt.LEFT)
    wrong = predict(OPEN, by_side(STANDING), to_left)
    cause = likely_cause(OPEN, by_side(STANDING), Shot(kind, wrong), expected)
    assert cause == "taken to the left wall instead"
    to_right = msgspec.structs.replace(kind, to=AimedAt.RIGHT, held=Held.WALL)
    wrong = predict(OPEN, by_side(STANDING), to_right)
    cause = likely_cause(OPEN, by_side(STANDING), Shot(kind, wrong), expected)
    assert "right" not in cause


def test_a_spot_shot_may_be_measured_from_a_line() -> None:
    setup: Setup = msgspec.structs.replace(
        SETUP, room=msgspec.structs.replace(SETUP.room, datum=(Wall.LEFT,))
    )
    kind = ShotKind(Side.LEFT, "front-inner", AimedAt.LEFT, Held.SPOT)
    (shot,) = true_shots(setup, STANDING, [kind])
    assert predict(setup, by_side(STANDING), kind) == pytest.approx(shot.reading_mm, abs=SAME_MM)


def test_a_line_is_named_once_and_nothing_stands_proud_of_it() -> None:
    with pytest.raises(BadInput, match="datum: the left line is named twice; name it once"):
        msgspec.structs.replace(ROOM, datum=(Wall.LEFT, Wall.LEFT))
    with pytest.raises(BadInput, match="offsets: nothing sticks out from the left line"):
        msgspec.structs.replace(
            ROOM, datum=(Wall.LEFT,), offsets=(WallOffset(Wall.LEFT, 20, 0, 100),)
        )
    assert msgspec.structs.replace(ROOM, datum=(Wall.LEFT,)).side_name(Wall.LEFT) == (
        "left datum line"
    )


def test_tape_shots_in_a_skew_room_do_not_turn_a_cabinet_round() -> None:
    """Square shots fit a cabinet that faces the wall nearly as well as one that faces the seat."""
    skew = Room((0.0, 0.0), (4940.0, 0.0), (5060.0, 6480.0), (-40.0, 6500.0), datum=(Wall.LEFT,))
    meter = Meter(repeatability_mm=1.5, resolution_mm=1.0, zero_mm=1.0)
    setup = msgspec.structs.replace(SETUP, room=skew, meter=meter)
    exact = true_shots(setup, STANDING, round_of(Side.LEFT, Held.WALL))
    for seed in range(100):
        located = locate(setup, noisy(exact, meter.shot_sigma_mm, seed))
        # two shots 256 mm apart tell the toe-in to 0.35 degree
        assert abs(located.placements[Side.LEFT].toe_in_deg - STANDING.left.toe_in_deg) < 2.0
