"""The picture of the shot to take next: corner, beam and wall, for every shot of both cabinets."""

from __future__ import annotations

import math

import msgspec
import pytest
from exact_shots import AT, SETUP, TARGET, finished, mark_in, off, world_of
from shapely import LineString, Point, Polygon, box

from witnessmark.drawing.canvas import plan_cells
from witnessmark.drawing.shot import beam_marks, letters_mm, mark_picture, shot_picture
from witnessmark.drawing.strokes import Align, Box, Drawing, Ink, Label
from witnessmark.drawing.svg import svg
from witnessmark.geometry.frame import footprint, point_in_plan
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Held,
    OneCabinet,
    Pair,
    PlanPoint,
    Room,
    Setup,
    ShotKind,
    Side,
    Wall,
)
from witnessmark.placing.shot_list import usual_shots

STANDING = off(20.0, 30.0, 4.0)
ASKEW = msgspec.structs.replace(
    SETUP, room=Room((0.0, 0.0), (5060.0, 0.0), (5120.0, 6580.0), (-40.0, 6570.0))
)
EVERY = [
    kind
    for side in Side
    for held in (Held.CABINET, Held.WALL)
    for kind in usual_shots(OneCabinet(msgspec.structs.replace(SETUP, held=held), side))
]
OTHERS = [
    ShotKind(side, "front-inner", to, held)
    for side in Side
    for to, held in (
        (AimedAt.SEAT, Held.POINT),
        (AimedAt.CABINET, Held.POINT),
        (AimedAt(side.value), Held.SPOT),
    )
]


def picture(kind: ShotKind, setup: Setup = SETUP, reads: str = "1304 mm") -> tuple[Drawing, Box]:
    return shot_picture(OneCabinet(setup, kind.cabinet), STANDING, {kind: reads})


def beams(drawing: Drawing) -> list[tuple[PlanPoint, PlanPoint]]:
    """The lines of two points in the beam's ink; heads and the meter have more."""
    lines = [stroke.points for stroke in drawing.strokes if stroke.ink is Ink.BEAM]
    return [(line[0], line[1]) for line in lines if len(line) == 2]


def label(drawing: Drawing, text: str) -> Label:
    return next(one for one in drawing.labels if one.text == text)


def corner(kind: ShotKind, setup: Setup = SETUP) -> PlanPoint:
    point = setup.cabinets[kind.cabinet].touch_points[kind.point]
    return point_in_plan(setup.room, kind.cabinet, STANDING, point)


@pytest.mark.parametrize("setup", [SETUP, ASKEW], ids=["square", "askew"])
@pytest.mark.parametrize("kind", EVERY, ids=str)
def test_the_beam_runs_from_the_corner_to_its_wall_as_in_the_room(
    kind: ShotKind, setup: Setup
) -> None:
    """The simulator's own rays say along which line the meter sees that wall."""
    drawing, _ = picture(kind, setup)
    (start, end), *_ = beams(drawing)
    assert start == pytest.approx(corner(kind, setup))
    wall = next(one for one in drawing.strokes if one.ink is Ink.WALL)
    assert LineString(wall.points).distance(Point(end)) < 0.01
    truth_mm = world_of(setup, STANDING, STANDING).true_distance(kind)
    share = truth_mm / math.dist(start, end)
    far = Point(*(a + share * (b - a) for a, b in zip(start, end, strict=True)))
    assert LineString(setup.room.wall(Wall(kind.to.value))).distance(far) < 0.1


@pytest.mark.parametrize("kind", EVERY, ids=str)
def test_the_front_wall_is_up_and_the_side_wall_on_its_side(kind: ShotKind) -> None:
    drawing, _ = picture(kind)
    (start, end), *_ = beams(drawing)
    across, down = end[0] - start[0], end[1] - start[1]
    if kind.to is AimedAt.FRONT:
        assert down < -abs(across)
    else:
        assert across * (-1 if kind.to is AimedAt.LEFT else 1) > abs(down)
    assert label(drawing, f"{kind.to} wall")


@pytest.mark.parametrize("kind", [*EVERY, *OTHERS], ids=str)
def test_the_cabinet_is_large_and_everything_is_named(kind: ShotKind) -> None:
    drawing, view = picture(kind)
    corners = footprint(SETUP.room, kind.cabinet, SETUP.cabinets.left, STANDING)
    left, top, right, bottom = Polygon(corners).bounds
    assert (right - left) / (view.right - view.left) > 0.2
    assert (bottom - top) / (view.bottom - view.top) > 0.45
    for name in (kind.point, "baffle", "1304 mm"):
        assert label(drawing, name)


@pytest.mark.parametrize("kind", [*EVERY, *OTHERS], ids=str)
def test_what_is_shown_holds_every_stroke_and_every_letter(kind: ShotKind) -> None:
    drawing, view = picture(kind)
    shown = box(view.left, view.top, view.right, view.bottom).buffer(0.01)
    assert all(shown.covers(LineString(stroke.points)) for stroke in drawing.strokes)
    wide = 0.6 * letters_mm(OneCabinet(SETUP, kind.cabinet))
    for one in drawing.labels:
        x, y = one.at[0] - one.align.before * wide * len(one.text), one.at[1]
        assert shown.covers(LineString([(x, y), (x + wide * len(one.text), y)]))


@pytest.mark.parametrize("size", [(37, 8), (40, 20)])
@pytest.mark.parametrize("kind", EVERY, ids=str)
def test_corner_and_wall_can_be_read_in_a_small_pane(kind: ShotKind, size: tuple[int, int]) -> None:
    cells = plan_cells(*picture(kind), *size)
    text = "\n".join("".join(sign for sign, _ in row) for row in cells)
    for name in (kind.point, f"{kind.to} wall", "baffle"):
        assert name in text
    assert sum(ink == Ink.BEAM and sign > "⠀" for row in cells for sign, ink in row) > 3


def test_a_spot_shot_goes_to_the_back_wall_and_from_there_to_the_side_wall() -> None:
    kind = ShotKind(Side.LEFT, "front-outer", AimedAt.LEFT, Held.SPOT)
    drawing, _ = picture(kind)
    (start, dot), (again, foot) = (line for line in beams(drawing) if math.dist(*line) > 50)
    assert dot == again
    assert dot[1] > start[1]
    assert foot[0] < dot[0]
    assert foot[1] == pytest.approx(dot[1])


def test_the_straightedge_is_drawn_where_it_is_measured_from() -> None:
    cabinet = Cabinet(268.0, 405.0, straightedge_mm=900.0)
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(cabinet, cabinet))
    kind = ShotKind(Side.RIGHT, "straightedge-outer", AimedAt.FRONT, Held.CABINET)
    drawing, _ = picture(kind, setup)
    (edge,) = (stroke for stroke in drawing.strokes if stroke.ink is Ink.TARGET)
    assert math.dist(*edge.points) == pytest.approx(900.0)
    (start, _), *_ = beams(drawing)
    assert Point(start).distance(Point(edge.points[1])) < 0.01


def test_several_shots_share_one_cabinet_and_each_wall() -> None:
    kinds = usual_shots(OneCabinet(SETUP, Side.LEFT))
    reads = {kind: f"{number} m" for number, kind in enumerate(kinds)}
    drawing, _ = shot_picture(OneCabinet(SETUP, Side.LEFT), TARGET, reads)
    assert sum(stroke.ink is Ink.WALL for stroke in drawing.strokes) == 2
    assert len(beams(drawing)) == 4
    for text in ("0 m", "3 m", "front-outer", "rear-outer", "rear-inner"):
        assert sum(one.text == text for one in drawing.labels) == 1


def test_in_the_plan_the_beam_is_as_long_as_it_is() -> None:
    kind = EVERY[0]
    (line,) = beams(beam_marks(SETUP, STANDING, kind))
    assert math.dist(*line) == pytest.approx(
        world_of(SETUP, STANDING, STANDING).true_distance(kind)
    )


def test_labels_are_aligned_by_every_renderer() -> None:
    at = (0.0, 0.0)
    labels = tuple(Label("abc", at, Ink.WALL, align=align) for align in Align)
    text = svg(Drawing((), labels))
    assert [f'text-anchor="{align}"' in text for align in Align] == [True] * 3
    view = Box(-20.0, -4.0, 20.0, 4.0)
    starts = []
    for one in labels:
        (row,) = plan_cells(Drawing((), (one,)), view, 20, 1)
        starts.append("".join(sign for sign, _ in row).index("abc"))
    middle = starts[1]
    assert starts[0] > middle > starts[2]


def test_a_mark_is_drawn_with_its_shots_and_every_point_by_name() -> None:
    mark = mark_in(finished(), AT, "before")
    for side in Side:
        drawing = mark_picture(mark, side)
        for name in SETUP.cabinets[side].touch_points:
            assert sum(one.text == name for one in drawing.labels) == 1
        assert len(beams(drawing)) == 4
        assert sum(stroke.ink is Ink.WALL for stroke in drawing.strokes) == 2
