"""The plan of a room that is being surveyed."""

from __future__ import annotations

import pytest

from witnessmark.drawing.strokes import Drawing, Ink, LinePattern
from witnessmark.drawing.survey import survey_drawing
from witnessmark.model import Corner, Measure, PlanPoint, Room, Wall
from witnessmark.model.survey import diagonal, wall_length, width_at

ROOM = Room.rectangular(5000.0, 6000.0)
TAKEN: list[Measure] = [wall_length(Wall.FRONT, 5000.0), diagonal(Corner.FRONT_LEFT, 7810.0)]


def points(drawing: Drawing, ink: Ink) -> list[set[PlanPoint]]:
    return [set(stroke.points) for stroke in drawing.strokes if stroke.ink is ink]


def test_until_it_is_found_sides_are_dotted_and_what_was_taken_is_solid() -> None:
    drawing = survey_drawing(ROOM, TAKEN, wall_length(Wall.LEFT, 0.0), is_found=False)
    assert points(drawing, Ink.GUESSED) == [set(ROOM.wall(Wall.BACK)), set(ROOM.wall(Wall.RIGHT))]
    assert points(drawing, Ink.TAKEN) == [
        set(ROOM.wall(Wall.FRONT)),
        {ROOM.front_left, ROOM.back_right},
    ]
    assert points(drawing, Ink.AWAITED) == [set(ROOM.wall(Wall.LEFT))]
    assert not points(drawing, Ink.WALL)
    patterns = [ink.pattern for ink in (Ink.TAKEN, Ink.AWAITED, Ink.GUESSED)]
    assert patterns == [LinePattern.SOLID, LinePattern.DASHED, LinePattern.DOTTED]


def test_once_it_is_found_the_room_is_drawn_as_everywhere() -> None:
    drawing = survey_drawing(ROOM, TAKEN, width_at(3000.0, 0.0), is_found=True)
    assert len(points(drawing, Ink.WALL)) == 4
    assert not points(drawing, Ink.TAKEN)
    (ends,) = points(drawing, Ink.AWAITED)
    left, right = sorted(ends)
    assert left == pytest.approx((0.0, 3000.0), abs=1e-6)
    assert right == pytest.approx((5000.0, 3000.0), abs=1e-6)


def test_the_distance_to_take_is_named_and_none_where_none_is_asked_for() -> None:
    asking = survey_drawing(ROOM, TAKEN, wall_length(Wall.LEFT, 0.0), is_found=False)
    (label,) = [label for label in asking.labels if label.ink is Ink.AWAITED]
    assert (label.text, label.at) == (" next ", (0.0, 3000.0))
    quiet = survey_drawing(ROOM, TAKEN, None, is_found=False)
    assert not points(quiet, Ink.AWAITED)
    assert all(label.ink is not Ink.AWAITED for label in quiet.labels)
