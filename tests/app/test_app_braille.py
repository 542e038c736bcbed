"""The braille canvas: lines reach their ends, nothing leaves the canvas, scales are equal."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.app.braille import BrailleCanvas
from witnessmark.drawing.strokes import LinePattern

columns = st.integers(1, 40)
rows = st.integers(1, 20)
far = st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))


def lit_dots(canvas: BrailleCanvas) -> set[tuple[int, int]]:
    return {(x, y) for x in range(canvas.width) for y in range(canvas.height) if canvas.lit(x, y)}


@given(st.data(), columns, rows)
def test_a_solid_line_lights_both_ends(data: st.DataObject, width: int, height: int) -> None:
    canvas = BrailleCanvas(width, height)
    dots = st.tuples(st.integers(0, canvas.width - 1), st.integers(0, canvas.height - 1))
    start, end = data.draw(dots), data.draw(dots)
    canvas.line([start, end])
    assert canvas.lit(*start)
    assert canvas.lit(*end)


@given(st.data(), columns, rows)
def test_a_solid_line_has_no_gap_and_no_more_dots_than_it_needs(
    data: st.DataObject, width: int, height: int
) -> None:
    canvas = BrailleCanvas(width, height)
    dots = st.tuples(st.integers(0, canvas.width - 1), st.integers(0, canvas.height - 1))
    start, end = data.draw(dots), data.draw(dots)
    canvas.line([start, end])
    longest = max(abs(end[0] - start[0]), abs(end[1] - start[1]))
    assert len(lit_dots(canvas)) == longest + 1
    along = 0 if abs(end[0] - start[0]) == longest else 1
    assert {dot[along] for dot in lit_dots(canvas)} == set(
        range(min(start[along], end[along]), max(start[along], end[along]) + 1)
    )


@given(st.lists(far, min_size=2, max_size=5), columns, rows, st.sampled_from(LinePattern))
def test_far_ends_do_no_harm(
    points: list[tuple[float, float]], width: int, height: int, pattern: LinePattern
) -> None:
    canvas = BrailleCanvas(width, height)
    canvas.line(points, "ink", pattern)
    cells = [canvas.row(row) for row in range(height)]
    assert [len(row) for row in cells] == [width] * height
    assert all(0x2800 < ord(sign) < 0x2900 or sign == " " for row in cells for sign, _ in row)


def test_a_line_through_the_canvas_from_outside_crosses_it() -> None:
    canvas = BrailleCanvas(5, 3)
    canvas.line([(-1000, 6), (1000, 6)])
    assert lit_dots(canvas) == {(x, 6) for x in range(10)}


def test_a_line_that_passes_by_lights_nothing() -> None:
    canvas = BrailleCanvas(5, 3)
    canvas.line([(-5, -5), (-5, 50)])
    canvas.line([(-50, -1), (50, -1)])
    assert lit_dots(canvas) == set()


def test_cells_where_lines_cross_show_both() -> None:
    canvas = BrailleCanvas(1, 1)
    canvas.line([(0, 0), (0, 3)], "first")
    canvas.line([(0, 0), (1, 0)], "second")
    assert canvas.row(0) == [("⡏", "second")]


def test_solid_dashed_and_dotted_differ_without_colour() -> None:
    drawn = {}
    for pattern in LinePattern:
        canvas = BrailleCanvas(12, 1)
        canvas.line([(0, 0), (23, 0)], pattern=pattern)
        drawn[pattern] = "".join(sign for sign, _ in canvas.row(0))
    assert drawn[LinePattern.SOLID] == "⠉" * 12
    assert drawn[LinePattern.DASHED] == "⠉ " * 6
    assert drawn[LinePattern.DOTTED] == "⠁ " * 6


def test_a_pattern_runs_on_through_corners() -> None:
    canvas = BrailleCanvas(6, 1)
    canvas.line([(x, 0) for x in range(12)], pattern=LinePattern.DASHED)
    assert lit_dots(canvas) == {(x, 0) for x in (0, 1, 4, 5, 8, 9)}
