"""The plan: what it holds, where it lies, and that it is to scale."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.app.widgets.plan_view import Projection, plan_cells
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box, Drawing, Ink, LinePattern, Stroke
from witnessmark.layout import lay_out
from witnessmark.model import Pair, Placement, PlanPoint, Room, Setup

points = st.tuples(st.floats(0, 5000), st.floats(0, 7000))


def strokes(drawing: Drawing, ink: Ink) -> list[tuple[PlanPoint, ...]]:
    return [stroke.points for stroke in drawing.strokes if stroke.ink is ink]


@given(points, points, st.integers(2, 300), st.integers(4, 200))
def test_one_scale_for_both_axes(one: PlanPoint, other: PlanPoint, width: int, height: int) -> None:
    projection = Projection.fitting(Box(0, 0, 5000, 7000), width, height)
    dots = math.dist(projection.dot(one), projection.dot(other))
    assert dots == pytest.approx(projection.dots_per_mm * math.dist(one, other), abs=1e-9)


@given(points, st.integers(2, 300), st.integers(4, 200))
def test_all_that_is_in_view_is_on_the_canvas(point: PlanPoint, width: int, height: int) -> None:
    x, y = Projection.fitting(Box(0, 0, 5000, 7000), width, height).dot(point)
    assert -1e-6 <= x <= width - 1 + 1e-6
    assert -1e-6 <= y <= height - 1 + 1e-6


def test_the_view_fills_the_tighter_direction() -> None:
    box = Box(0, 0, 5000, 5000)
    assert Projection.fitting(box, 101, 301).dots_per_mm == pytest.approx(100 / 5000)
    assert Projection.fitting(box, 301, 101).dots_per_mm == pytest.approx(100 / 5000)


def test_a_target_is_dashed_and_a_measured_cabinet_solid() -> None:
    assert Ink.TARGET.pattern is LinePattern.DASHED
    assert Ink.MEASURED.pattern is LinePattern.SOLID
    assert Ink.TARGET_AIM.pattern is not Ink.MEASURED_AIM.pattern


def test_the_baffle_is_marked_at_the_front(setup: Setup) -> None:
    straight = Pair[Placement | None](Placement(1450, 1900, 0), None)
    drawing = plan_drawing(setup.room, cabinets=setup.cabinets, measured=straight)
    outline, baffle = strokes(drawing, Ink.MEASURED)
    assert min(y for _, y in outline) == pytest.approx(1900 - 391)
    assert {round(y) for _, y in baffle} == {round(1900 - 0.16 * 391)}


def test_toe_in_turns_both_axes_toward_the_middle(setup: Setup) -> None:
    drawing = plan_drawing(
        setup.room, seat=setup.seat, cabinets=setup.cabinets, measured=setup.targets
    )
    left, right = strokes(drawing, Ink.MEASURED_AIM)
    assert left[1][0] > left[0][0]
    assert right[1][0] < right[0][0]
    assert left[1][1] == pytest.approx(setup.seat.from_front_mm)
    assert left[1][0] - left[0][0] == pytest.approx(2500 * math.tan(math.radians(8)))


def test_lanes_and_stations_lie_where_the_layout_says(setup: Setup) -> None:
    layout = lay_out(setup.room, setup.cabinets, setup.seat)
    setbacks = [station.setback_mm for station in layout.stations]
    drawing = plan_drawing(setup.room, seat=setup.seat, lanes=layout.lanes, stations_mm=setbacks)
    across = {round(x) for points in strokes(drawing, Ink.LANE) for x, _ in points}
    assert across == {1245, 1660, 4980 - 1245, 4980 - 1660}
    assert {y for points in strokes(drawing, Ink.STATION) for _, y in points} == set(setbacks)


def test_the_letters_stand_on_their_own_sides(setup: Setup) -> None:
    drawing = plan_drawing(setup.room, cabinets=setup.cabinets, targets=setup.targets)
    at = {label.text: label.at[0] for label in drawing.labels}
    assert at["L"] < 1450
    assert at["R"] > 4980 - 1450


def test_the_walls_touch_the_edges_of_the_picture() -> None:
    drawing = plan_drawing(Room.rectangular(4000, 4000))
    cells = plan_cells(drawing, drawing.box, 40, 20)
    assert "front wall" in "".join(sign for sign, _ in cells[0])
    assert all(row[0][0] != " " and row[-1][0] != " " for row in cells)


def test_later_strokes_give_a_shared_cell_its_ink() -> None:
    line = ((0.0, 0.0), (100.0, 0.0))
    drawing = Drawing((Stroke(line, Ink.WALL), Stroke(line, Ink.MEASURED)))
    inks = {ink for row in plan_cells(drawing, drawing.box, 10, 5) for _, ink in row}
    assert inks == {"", Ink.MEASURED}
