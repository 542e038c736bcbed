"""The bare room: lines in place of walls, what stands proud, floor to be kept clear."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from witnessmark.drawing.canvas import plan_cells
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box, Drawing, Ink, Label, LinePattern
from witnessmark.model import KeepClear, Room, Setup, Wall, WallOffset

BARE = Room.rectangular(5000.0, 6000.0)
HEARTH = KeepClear.rectangle("hearth", (2000.0, 3200.0), (0.0, 600.0))
DOOR = KeepClear.rectangle("door swing", (0.0, 900.0), (4800.0, 5700.0))
FULL = Room(
    *BARE.corners,
    datum=(Wall.RIGHT,),
    offsets=(WallOffset(Wall.LEFT, 15.0, 0.0, 80.0), WallOffset(Wall.BACK, 400.0, 0.0, 700.0)),
    keep_clear=(HEARTH, DOOR),
)


def points(drawing: Drawing, ink: Ink) -> list[set[tuple[float, float]]]:
    return [set(stroke.points) for stroke in drawing.strokes if stroke.ink is ink]


def text_of(drawing: Drawing, columns: int, rows: int) -> str:
    cells = plan_cells(drawing, drawing.box, columns, rows)
    return "\n".join("".join(character for character, _ in row) for row in cells)


def test_a_line_is_told_from_the_walls_by_pattern_and_by_word() -> None:
    drawing = plan_drawing(FULL)
    assert points(drawing, Ink.DATUM) == [{FULL.front_right, FULL.back_right}]
    assert len(points(drawing, Ink.WALL)) == 3
    patterns = {ink.pattern for ink in Ink if ink is not Ink.DATUM}
    assert Ink.DATUM.pattern is LinePattern.DASH_DOT
    assert LinePattern.DASH_DOT not in patterns
    assert "line" in text_of(drawing, 30, 9)


@pytest.mark.parametrize(("wall", "word"), [(Wall.FRONT, "front line"), (Wall.BACK, "back line")])
def test_a_line_across_the_room_says_which_it_is(wall: Wall, word: str) -> None:
    text = text_of(plan_drawing(Room(*BARE.corners, datum=(wall,))), 30, 9)
    assert word in text
    assert ("front wall" in text) is (wall is not Wall.FRONT)


def test_what_stands_proud_is_a_second_line_along_its_wall_inside_the_room() -> None:
    left, back = points(plan_drawing(FULL), Ink.PROUD)
    # a skirting board is drawn farther out than it is, or nobody would see it
    assert left == {(150.0, 0.0), (150.0, 6000.0)}
    assert back == {(0.0, 5600.0), (5000.0, 5600.0)}


def test_things_that_stand_equally_proud_of_a_wall_are_one_line() -> None:
    twice = (WallOffset(Wall.LEFT, 15.0, 0.0, 80.0), WallOffset(Wall.LEFT, 15.0, 900.0, 950.0))
    assert len(points(plan_drawing(Room(*BARE.corners, offsets=twice)), Ink.PROUD)) == 1


def test_floor_to_be_kept_clear_is_outlined_crossed_out_and_named() -> None:
    drawing = plan_drawing(FULL)
    outline, *cross = points(drawing, Ink.KEEP_CLEAR)[:5]
    assert outline == set(HEARTH.corners)
    assert cross == [{corner, (2600.0, 300.0)} for corner in HEARTH.corners]
    assert [label.text for label in drawing.labels if label.ink is Ink.KEEP_CLEAR] == [
        "hearth",
        "door swing",
    ]


def test_a_long_name_is_cut_short() -> None:
    zone = KeepClear("way through to the kitchen", HEARTH.corners)
    drawing = plan_drawing(Room(*BARE.corners, keep_clear=(zone,)))
    assert drawing.labels[-1].text == "way through…"


@pytest.mark.parametrize(("columns", "rows"), [(31, 17), (38, 9), (60, 36)])
def test_all_names_can_be_read_beside_pair_and_seat(setup: Setup, columns: int, rows: int) -> None:
    drawing = plan_drawing(FULL, seat=setup.seat, cabinets=setup.cabinets, targets=setup.targets)
    text = text_of(drawing, columns, rows)
    for name in ("front wall", "line", "hearth", "door swing", "seat", "L", "R"):
        assert name in text


def test_a_name_gives_way_to_one_that_stands_there_already() -> None:
    labels = (Label("first", (50.0, 50.0), Ink.WALL), Label("second", (50.0, 50.0), Ink.SEAT))
    cells = plan_cells(Drawing(labels=labels), Box(0, 0, 100, 100), 20, 9)
    rows = ["".join(sign for sign, _ in row) for row in cells]
    places = [
        next(row for row, text in enumerate(rows) if name in text) for name in ("first", "second")
    ]
    assert abs(places[1] - places[0]) == 1


def test_a_name_in_broad_signs_leaves_every_row_as_broad_as_it_was() -> None:
    zone = KeepClear("暖炉 foyer", HEARTH.corners)
    drawing = plan_drawing(Room(*BARE.corners, keep_clear=(zone,)))
    rows = text_of(drawing, 38, 12).splitlines()
    assert {cell_len(row) for row in rows} == {38}
    assert any("暖炉 foyer" in row for row in rows)
