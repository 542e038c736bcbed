"""The drawing of a cabinet with its touch points named."""

from __future__ import annotations

from witnessmark.drawing.cabinet import cabinet_drawing
from witnessmark.drawing.canvas import plan_cells
from witnessmark.drawing.strokes import Drawing, Ink
from witnessmark.model import Cabinet, PlanPoint, Side, TouchPoint

BOX = Cabinet(262.0, 391.0)
OWN = Cabinet(
    262.0,
    391.0,
    points={"plinth": TouchPoint(-15.0, 420.0), "rear-inner": TouchPoint(90.0, 391.0)},
    feet={"toe": TouchPoint(0.0, 40.0), "rear-inner": TouchPoint(80.0, 360.0)},
    straightedge_mm=800.0,
)


def place(drawing: Drawing, text: str) -> PlanPoint:
    return next(label.at for label in drawing.labels if label.text == text)


def text_of(drawing: Drawing, columns: int, rows: int) -> str:
    cells = plan_cells(drawing, drawing.box, columns, rows)
    return "\n".join("".join(character for character, _ in row) for row in cells)


def test_every_touch_point_is_named_once() -> None:
    for cabinet in (BOX, OWN):
        named = [label.text for label in cabinet_drawing(cabinet).labels]
        for name in cabinet.touch_points:
            assert named.count(name) == 1
    named = [label.text for label in cabinet_drawing(OWN).labels]
    assert named.count("toe") == 1
    # the one that is called as a corner is
    assert named.count("foot") == 1


def test_it_lies_as_the_left_cabinet_does_in_the_plan() -> None:
    """The baffle toward the listener, at the bottom; the inner side on the right."""
    drawing = cabinet_drawing(BOX)
    assert place(drawing, "front-inner")[0] > place(drawing, "front-outer")[0]
    assert place(drawing, "front-inner")[1] > place(drawing, "rear-inner")[1]
    outline = drawing.strokes[0].points
    assert outline[0] == outline[-1] == (131.0, 0.0)
    assert (-131.0, -391.0) in outline


def test_the_right_one_is_its_mirror_image() -> None:
    left, right = (cabinet_drawing(OWN, side) for side in Side)
    assert place(right, "front-inner")[0] < place(right, "front-outer")[0]
    for label in left.labels:
        assert place(right, label.text) == (-label.at[0], label.at[1])


def test_names_can_be_read_in_a_small_pane() -> None:
    for cabinet, columns, rows in ((BOX, 36, 15), (OWN, 36, 15), (OWN, 30, 11)):
        text = text_of(cabinet_drawing(cabinet), columns, rows)
        for name in (*cabinet.touch_points, "toe" if cabinet.feet else "baffle"):
            assert name in text


def test_a_tapered_box_is_drawn_so_and_the_straightedge_is_dashed() -> None:
    drawing = cabinet_drawing(OWN)
    assert (90.0, -391.0) in drawing.strokes[0].points
    (edge,) = [stroke for stroke in drawing.strokes if stroke.ink is Ink.TARGET]
    assert set(edge.points) == {(400.0, 0.0), (-400.0, 0.0)}


def test_feet_are_squares_and_own_points_crosses() -> None:
    strokes = cabinet_drawing(OWN).strokes
    squares = [stroke for stroke in strokes if stroke.ink is Ink.STATION]
    crosses = [stroke for stroke in strokes if stroke.ink is Ink.SEAT]
    assert len(squares) == len(OWN.feet)
    assert len(crosses) == 2 * len(OWN.points)
    assert all(len(stroke.points) == 5 for stroke in squares)
