"""The plan: what it holds, where it lies, and that it is to scale."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.drawing.canvas import CANVASES, Canvas, Projection, plan_cells
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box, Drawing, Ink, LinePattern, Stroke
from witnessmark.drawing.svg import svg
from witnessmark.layout.plan import lay_out
from witnessmark.model import Pair, Placement, PlanPoint, Room, Setup, Wall

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
    middle = round((5360 / 4 + 5360 / 3) / 2)
    assert across == {middle, 5360 - middle}
    assert len(strokes(drawing, Ink.LANE)) == 2
    crosses = strokes(drawing, Ink.STATION)
    assert len(crosses) == 2 * 2 * len(setbacks)
    for one, other in zip(crosses[::2], crosses[1::2], strict=True):
        (x, y), again = (np.mean(bar, axis=0) for bar in (one, other))
        assert (x, y) == pytest.approx(again)
        assert round(x) in across
        assert round(y, 6) in setbacks
        assert max(math.dist(*one), math.dist(*other)) < 150


def test_every_station_has_its_number_on_the_outer_side_of_its_cross(setup: Setup) -> None:
    drawing = plan_drawing(
        setup.room,
        lanes=lay_out(setup.room, setup.cabinets, setup.seat).lanes,
        stations_mm=[4000.0, 3700.0],
    )
    found = [(one.text, one.at[1]) for one in drawing.labels if one.ink is Ink.STATION]
    assert found == [("1", 4000), ("2", 3700)] * 2
    left, *_, right = (one.at[0] for one in drawing.labels if one.ink is Ink.STATION)
    middle = (5360 / 4 + 5360 / 3) / 2
    assert left < middle
    assert right > 5360 - middle


def test_the_letters_stand_on_their_own_sides(setup: Setup) -> None:
    drawing = plan_drawing(setup.room, cabinets=setup.cabinets, targets=setup.targets)
    at = {label.text: label.at[0] for label in drawing.labels}
    assert at["L"] < 1450
    assert at["R"] > 5360 - 1450


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


def test_axes_are_drawn_to_where_they_cross_within_the_room(setup: Setup) -> None:
    toed = Pair[Placement | None](Placement(1450, 1900, 20), Placement(1450, 1900, 20))
    drawing = plan_drawing(
        setup.room, seat=setup.seat, cabinets=setup.cabinets, targets=toed, measured=toed
    )
    for ink in (Ink.TARGET_AIM, Ink.MEASURED_AIM):
        left, right = strokes(drawing, ink)
        assert left[-1] == right[-1]
        forward = (2680 - 1450) / math.tan(math.radians(20))
        assert left[-1] == pytest.approx((2680, 1900 + forward))


def test_a_measured_axis_goes_on_to_where_it_crosses_the_target_of_the_other(
    setup: Setup,
) -> None:
    target = Placement(1450, 1900, 20)
    drawing = plan_drawing(
        setup.room,
        seat=setup.seat,
        cabinets=setup.cabinets,
        targets=Pair[Placement | None](target, target),
        measured=Pair[Placement | None](Placement(1450, 1900, 25), None),
    )
    (measured,) = strokes(drawing, Ink.MEASURED_AIM)
    x, y = measured[-1]
    assert x > 2680
    assert x - 1450 == pytest.approx((y - 1900) * math.tan(math.radians(25)))
    assert 5360 - 1450 - x == pytest.approx((y - 1900) * math.tan(math.radians(20)))


@pytest.mark.parametrize("toe_in", [0.0, -10.0, 8.0])
def test_axes_that_do_not_cross_in_the_room_end_at_the_seats_line(
    setup: Setup, toe_in: float
) -> None:
    place = Placement(1450, 1900, toe_in)
    drawing = plan_drawing(
        setup.room,
        seat=setup.seat,
        cabinets=setup.cabinets,
        targets=Pair[Placement | None](place, place),
    )
    for axis in strokes(drawing, Ink.TARGET_AIM):
        assert axis[-1][1] == pytest.approx(4400)


def bends(drawing: Drawing) -> dict[PlanPoint, bool]:
    """Where the marks of reflections are bent, and whether each is spare."""
    return {
        (round(stroke.points[1][0]), round(stroke.points[1][1])): stroke.is_spare
        for stroke in drawing.strokes
        if stroke.ink is Ink.BOUNCE
    }


def test_the_side_walls_are_marked_where_they_reflect_each_cabinet_to_the_seat(
    setup: Setup,
) -> None:
    """By mirror images: 1900 + 2500 * 1450 / (1450 + 2680), and 3910 in place of 1450."""
    drawing = plan_drawing(
        setup.room, seat=setup.seat, cabinets=setup.cabinets, targets=setup.targets
    )
    assert bends(drawing) == {
        (0, 2778): False,
        (5360, 3383): True,
        (0, 3383): True,
        (5360, 2778): False,
    }
    names = sorted(label.text for label in drawing.labels if label.is_spare)
    assert names == ["from L", "from L", "from R", "from R"]
    assert svg(drawing).count('<polyline class="bounce"') == 4


def test_marks_are_those_of_what_was_measured_and_none_where_there_is_no_wall(
    setup: Setup,
) -> None:
    measured = Pair[Placement | None](Placement(1450, 1400, 8), None)
    room = Room(*setup.room.corners, datum=(Wall.RIGHT,))
    drawing = plan_drawing(
        room, seat=setup.seat, cabinets=setup.cabinets, targets=setup.targets, measured=measured
    )
    assert set(bends(drawing)) == {(0, round(1400 + 3000 * 1450 / 4130)), (0, 3383)}


def test_a_small_picture_leaves_out_what_is_spare(setup: Setup) -> None:
    drawing = plan_drawing(
        setup.room, seat=setup.seat, cabinets=setup.cabinets, targets=setup.targets
    )

    def of_bounces(columns: int, rows: int) -> tuple[int, str]:
        cells = plan_cells(drawing, drawing.box, columns, rows)
        text = "\n".join("".join(sign for sign, _ in row) for row in cells)
        return sum(ink == Ink.BOUNCE for row in cells for _, ink in row), text

    small, small_text = of_bounces(24, 12)
    large, large_text = of_bounces(80, 50)
    assert 0 < small < large
    assert "from" not in small_text
    assert large_text.count("from L") == large_text.count("from R") == 2


@pytest.mark.parametrize("kind", CANVASES.values())
@pytest.mark.parametrize(("columns", "shown"), [(20, False), (35, False), (46, True), (60, True)])
def test_marks_and_names_that_are_spare_come_together(
    setup: Setup, kind: type[Canvas], columns: int, shown: bool
) -> None:
    drawing = plan_drawing(
        setup.room, seat=setup.seat, cabinets=setup.cabinets, targets=setup.targets
    )
    whole, near = (
        plan_cells(each, drawing.box, columns, columns, kind)
        for each in (
            drawing,
            Drawing(tuple(one for one in drawing.strokes if not one.is_spare), drawing.labels),
        )
    )
    assert any("from" in "".join(sign for sign, _ in row) for row in whole) is shown
    assert (whole != near) is shown
