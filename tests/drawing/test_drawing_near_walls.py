"""Of a room that nobody measured, only what is known is drawn."""

from __future__ import annotations

import pytest
from exact_shots import AT, walk_round

from witnessmark.drawing.shot import asked_marks, asked_picture
from witnessmark.drawing.standing import standing_plan
from witnessmark.drawing.strokes import Drawing, Ink
from witnessmark.errors import BadInput
from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.marks import mark_of
from witnessmark.placing.round import Round
from witnessmark.report.floor_sheets import marking_out, put_back_card
from witnessmark.report.page import Paper, Polyline
from witnessmark.session.draft import Draft
from witnessmark.session.room_answers import PairSize
from witnessmark_simulators.room import SimulatedRoom

STAND = Pair(Placement(900, 600, 0), Placement(1100, 650, 0))
BOX = Cabinet(262, 391)
WIDTH = 4100.0


def compared(width_mm: float | None = None) -> Setup:
    setup = PairSize(262, 391, width_mm).compared_as_they_stand(Draft()).setup
    assert setup is not None
    return setup


def measured(width_mm: float | None = None) -> Guidance:
    room, seat = Room.rectangular(WIDTH, 6000), Seat(4000, WIDTH / 2)
    world = SimulatedRoom(room, Pair(BOX, BOX), seat, STAND)
    left_done = walk_round(Round.begin(compared(width_mm)), world)
    return guide(walk_round(left_done, world))


def reach(drawing: Drawing, ink: Ink) -> tuple[float, float]:
    points = [at for stroke in drawing.strokes if stroke.ink is ink for at in stroke.points]
    return max(x for x, _ in points), max(y for _, y in points)


def test_before_the_first_cabinet_is_measured_there_is_the_shot_alone() -> None:
    now = guide(Round.begin(compared()))
    assert standing_plan(now.setup, now.cabinets)[0] == Drawing()
    assert asked_marks(now) == Drawing()
    picture = asked_picture(now)
    assert picture is not None
    _, view = picture
    assert max(view.right - view.left, view.bottom - view.top) < 3000


def test_the_pair_is_drawn_in_the_corners_that_it_was_measured_from() -> None:
    now = measured()
    drawing, view = standing_plan(now.setup, now.cabinets)
    across, down = reach(drawing, Ink.WALL)
    assert max(across, down, view.right, view.bottom) < 4000
    outlines = [
        stroke.points
        for stroke in drawing.strokes
        if stroke.ink is Ink.MEASURED and len(stroke.points) == 5
    ]
    left, right = ([x for x, _ in points] for points in outlines)
    # faces outward, so the reference is half a width inside them
    assert min(left) == pytest.approx(900 - 131, abs=2)
    assert across - max(right) == pytest.approx(1100 - 131, abs=2)
    assert any(stroke.ink is Ink.GUESSED for stroke in drawing.strokes)
    assert not any(stroke.ink is Ink.SEAT for stroke in drawing.strokes)


def test_a_width_that_is_known_is_drawn_and_no_wall_behind() -> None:
    now = measured(WIDTH)
    drawing, _ = standing_plan(now.setup, now.cabinets)
    across, down = reach(drawing, Ink.WALL)
    assert across == WIDTH
    walls = [stroke.points for stroke in drawing.strokes if stroke.ink is Ink.WALL]
    assert down < 3000
    assert not any({y for _, y in points} == {down} for points in walls)


def test_paper_draws_no_room_that_stands_in() -> None:
    now = measured()
    (page,) = put_back_card(mark_of(now, AT, "home"), "Attic", Paper.A4)
    outlines = [
        [x for x, _ in item.points]
        for item in page.items
        if isinstance(item, Polyline) and len(item.points) == 5
    ]
    # two in the plan and one in each picture; in 20 m of room a cabinet would be 2.5 mm wide
    assert sum(max(across) - min(across) > 10 for across in outlines) == 4
    with pytest.raises(BadInput, match="was not measured whole"):
        marking_out("Attic", now.setup, Paper.A4)
