"""The drawing of one reading of a tape."""

from __future__ import annotations

import pytest

from witnessmark.drawing.cabinet import tape_drawing
from witnessmark.drawing.strokes import Drawing, Ink, Stroke
from witnessmark.geometry.touch import Face
from witnessmark.model import Cabinet, PlanPoint, Side, TouchPoint

BOX = Cabinet(262.0, 391.0)
AT = TouchPoint(90.0, 350.0)


def only(drawing: Drawing, ink: Ink) -> Stroke:
    (stroke,) = [stroke for stroke in drawing.strokes if stroke.ink is ink]
    return stroke


@pytest.mark.parametrize(
    ("start", "begins"),
    [
        (Face.BAFFLE, (90.0, 0.0)),
        (Face.REAR, (90.0, -391.0)),
        (Face.INNER, (131.0, -350.0)),
        (Face.OUTER, (-131.0, -350.0)),
        ("front-outer", (-131.0, 0.0)),
    ],
)
def test_the_tape_runs_from_its_start_to_the_point(start: str, begins: PlanPoint) -> None:
    drawing = tape_drawing(BOX, start, "knob", AT)
    assert only(drawing, Ink.MEASURED).points == (begins, (90.0, -350.0))
    assert {label.text for label in drawing.labels} == {start, "knob"}


@pytest.mark.parametrize("start", Face)
def test_a_board_carries_the_face_past_the_point(start: Face) -> None:
    proud = TouchPoint(170.0, 430.0)
    drawing = tape_drawing(BOX, start, "plinth", proud)
    board, tape = only(drawing, Ink.TARGET), only(drawing, Ink.MEASURED)
    along = 0 if start in (Face.BAFFLE, Face.REAR) else 1
    ends = sorted(point[along] for point in board.points)
    assert ends[0] < tape.points[0][along] < ends[1]
    assert {point[1 - along] for point in board.points} == {tape.points[0][1 - along]}


def test_between_two_points_no_board_is_needed() -> None:
    drawing = tape_drawing(BOX, "front-inner", "knob", AT)
    assert Ink.TARGET not in {stroke.ink for stroke in drawing.strokes}


def test_the_right_cabinet_is_the_mirror_image() -> None:
    left, right = (tape_drawing(BOX, Face.INNER, "knob", AT, side) for side in Side)
    mirrored = [tuple((-x, y) for x, y in stroke.points) for stroke in left.strokes]
    assert [stroke.points for stroke in right.strokes] == mirrored
    assert [(-label.at[0], label.at[1]) for label in left.labels] == [
        label.at for label in right.labels
    ]
