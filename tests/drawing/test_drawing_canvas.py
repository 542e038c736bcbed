"""Both canvases: lines reach their ends, nothing leaves the canvas, dots are square."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.drawing.canvas import CANVASES, BlockCanvas, BrailleCanvas, Canvas, canvas_for
from witnessmark.drawing.strokes import LinePattern
from witnessmark.errors import BadInput

columns = st.integers(1, 40)
rows = st.integers(1, 20)
kinds = st.sampled_from(list(CANVASES.values()))
both = pytest.mark.parametrize("kind", CANVASES.values())
far = st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))


def lit_dots(canvas: Canvas) -> set[tuple[int, int]]:
    return {(x, y) for x in range(canvas.width) for y in range(canvas.height) if canvas.lit(x, y)}


@given(st.data(), kinds, columns, rows)
def test_a_solid_line_lights_both_ends(
    data: st.DataObject, kind: type[Canvas], width: int, height: int
) -> None:
    canvas = kind(width, height)
    dots = st.tuples(st.integers(0, canvas.width - 1), st.integers(0, canvas.height - 1))
    start, end = data.draw(dots), data.draw(dots)
    canvas.line([start, end])
    assert canvas.lit(*start)
    assert canvas.lit(*end)


@given(st.data(), kinds, columns, rows)
def test_a_solid_line_has_no_gap_and_no_more_dots_than_it_needs(
    data: st.DataObject, kind: type[Canvas], width: int, height: int
) -> None:
    canvas = kind(width, height)
    dots = st.tuples(st.integers(0, canvas.width - 1), st.integers(0, canvas.height - 1))
    start, end = data.draw(dots), data.draw(dots)
    canvas.line([start, end])
    longest = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    assert len(lit_dots(canvas)) == longest + 1
    along = 0 if abs(end[0] - start[0]) == longest else 1
    assert {dot[along] for dot in lit_dots(canvas)} == set(
        range(min(start[along], end[along]), max(start[along], end[along]) + 1)
    )


@given(st.lists(far, min_size=2, max_size=5), kinds, columns, rows, st.sampled_from(LinePattern))
def test_far_ends_do_no_harm(
    points: list[tuple[float, float]],
    kind: type[Canvas],
    width: int,
    height: int,
    pattern: LinePattern,
) -> None:
    canvas = kind(width, height)
    canvas.line(points, "ink", pattern)
    cells = [canvas.row(row) for row in range(height)]
    assert [len(row) for row in cells] == [width] * height
    signs = {BrailleCanvas: {chr(0x2800 + bits) for bits in range(1, 256)}, BlockCanvas: set("▀▄█")}
    assert {sign for row in cells for sign, _ in row} <= signs[kind] | {" "}


@both
def test_a_line_through_the_canvas_from_outside_crosses_it(kind: type[Canvas]) -> None:
    canvas = kind(5, 3)
    canvas.line([(-1000, 4), (1000, 4)])
    assert lit_dots(canvas) == {(x, 4) for x in range(canvas.width)}


@both
def test_a_line_that_passes_by_lights_nothing(kind: type[Canvas]) -> None:
    canvas = kind(5, 3)
    canvas.line([(-5, -5), (-5, 50)])
    canvas.line([(-50, -1), (50, -1)])
    assert lit_dots(canvas) == set()


@both
def test_dots_are_square_in_cells_twice_as_high_as_wide(kind: type[Canvas]) -> None:
    canvas = kind(10, 10)
    assert canvas.height == 2 * canvas.width


@pytest.mark.parametrize(("kind", "sign"), [(BrailleCanvas, "⡏"), (BlockCanvas, "█")])
def test_cells_where_lines_cross_show_both(kind: type[Canvas], sign: str) -> None:
    canvas = kind(1, 1)
    canvas.line([(0, 0), (0, canvas.height - 1)], "first")
    canvas.line([(0, 0), (canvas.width - 1, 0)], "second")
    assert canvas.row(0) == [(sign, "second")]


@pytest.mark.parametrize(
    ("kind", "solid", "dashed", "dotted"),
    [
        (BrailleCanvas, "⠉" * 12, "⠉ " * 6, "⠁ " * 6),
        (BlockCanvas, "▀" * 12, "▀▀  " * 3, "▀   " * 3),
    ],
)
def test_solid_dashed_and_dotted_differ_without_colour(
    kind: type[Canvas], solid: str, dashed: str, dotted: str
) -> None:
    drawn = {}
    for pattern in LinePattern:
        canvas = kind(12, 1)
        canvas.line([(0, 0), (canvas.width - 1, 0)], pattern=pattern)
        drawn[pattern] = "".join(sign for sign, _ in canvas.row(0))
    assert drawn[LinePattern.SOLID] == solid
    assert drawn[LinePattern.DASHED] == dashed
    assert drawn[LinePattern.DOTTED] == dotted
    assert len(set(drawn.values())) == len(LinePattern)


@both
def test_a_pattern_runs_on_through_corners(kind: type[Canvas]) -> None:
    canvas = kind(12, 1)
    canvas.line([(x, 0) for x in range(12)], pattern=LinePattern.DASHED)
    assert lit_dots(canvas) == {(x, 0) for x in (0, 1, 4, 5, 8, 9)}


def test_a_half_block_is_the_half_that_is_lit() -> None:
    canvas = BlockCanvas(3, 1)
    canvas.dot(0, 0)
    canvas.dot(1, 1)
    assert "".join(sign for sign, _ in canvas.row(0)) == "▀▄ "


@pytest.mark.parametrize(
    ("environment", "encoding", "kind"),
    [
        ({}, "utf-8", BrailleCanvas),
        ({"TERM": "xterm-256color"}, "UTF-8", BrailleCanvas),
        ({"TERM": "linux"}, "utf-8", BlockCanvas),
        ({"TERM": "xterm"}, "cp437", BlockCanvas),
        ({"WITNESSMARK_PLAN": "blocks"}, "utf-8", BlockCanvas),
        ({"WITNESSMARK_PLAN": "braille", "TERM": "linux"}, "cp437", BrailleCanvas),
        ({"WITNESSMARK_PLAN": ""}, "utf-8", BrailleCanvas),
    ],
)
def test_the_canvas_is_what_is_asked_for_or_what_the_terminal_can_show(
    environment: dict[str, str], encoding: str, kind: type[Canvas]
) -> None:
    assert canvas_for(environment, encoding) is kind


def test_a_canvas_that_there_is_not_is_refused_with_those_there_are() -> None:
    with pytest.raises(BadInput, match='"ascii" is not one of braille, blocks'):
        canvas_for({"WITNESSMARK_PLAN": "ascii"}, "utf-8")
