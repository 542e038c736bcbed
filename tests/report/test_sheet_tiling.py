"""A plan over several pages: they join at their crosses, and there are not too many of them."""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st
from paper import PaperLine, lines_mm, read_back, words
from sheet_cases import CABINET, SETUP

from witnessmark.drawing.strokes import Box
from witnessmark.errors import BadInput
from witnessmark.model import Pair, Side
from witnessmark.report.floor_sheets import foot_template, marking_out
from witnessmark.report.page import Paper
from witnessmark.report.pdf import pdf
from witnessmark.report.scaling import parse_scale
from witnessmark.report.tiling import OVERLAP_MM, Tiling

sizes = st.floats(10, 5000)


@given(sizes, sizes, st.floats(1, 50), st.floats(100, 300), st.floats(100, 300))
def test_pages_cover_the_plan_and_overlap_by_as_much_as_they_should(
    wide: float, high: float, scale: float, width: float, height: float
) -> None:
    tiling = Tiling(
        Box(-7.0, 3.0, wide, high + 3), max(scale, wide / 500, high / 500), width, height
    )
    tiles = {(tile.column, tile.row): tile.window for tile in tiling.tiles}
    assert max(window.right for window in tiles.values()) >= tiling.box.right - 1e-6
    assert max(window.bottom for window in tiles.values()) >= tiling.box.bottom - 1e-6
    for (column, row), window in tiles.items():
        assert window.right - window.left == pytest.approx(width * tiling.scale)
        beside, below = tiles.get((column + 1, row)), tiles.get((column, row + 1))
        if beside:
            assert window.right - beside.left == pytest.approx(OVERLAP_MM * tiling.scale)
        if below:
            assert window.bottom - below.top == pytest.approx(OVERLAP_MM * tiling.scale)


@given(st.integers(1, 4), st.integers(1, 4))
def test_every_cross_is_on_all_pages_that_share_it(columns: int, rows: int) -> None:
    tiling = Tiling(Box(0, 0, columns * 80 + 10, rows * 80 + 10), 1.0, 96.0, 96.0)
    assert (tiling.columns, tiling.rows) == (columns, rows)
    seen = {
        name: [
            tile
            for tile in tiling.tiles
            if tile.window.left < x < tile.window.right and tile.window.top < y < tile.window.bottom
        ]
        for name, (x, y) in tiling.crosses.items()
    }
    assert all(len(tiles) in (2, 4) for tiles in seen.values())
    alone = {tile.name for tile in tiling.tiles} - {
        one.name for all_ in seen.values() for one in all_
    }
    assert bool(alone) == (columns * rows == 1)


def test_pages_that_are_laid_together_by_their_crosses_make_the_outline_whole() -> None:
    read = read_back(pdf(foot_template("Attic", SETUP, Side.LEFT, Paper.A4), "template"))
    first, second = (lines_mm(read.pages[number]) for number in (1, 2))
    for text in (read.pages[1].extract_text(), read.pages[2].extract_text()):
        assert "1-0" in text
        assert "1-1" in text
    # the cross 1-0 is the rightmost and highest of the first page, the leftmost of the second
    right = max(_middles(first), key=lambda at: (round(at[0]), -at[1]))
    left = min(_middles(second), key=lambda at: (round(at[0]), at[1]))
    rear_left = min(x for line in first for x, _ in _rear(line))
    rear_right = max(x for line in second for x, _ in _rear(line))
    joined = (right[0] - rear_left) + (rear_right - left[0])
    assert joined == pytest.approx(CABINET.width_mm, abs=0.1)
    assert right[1] == pytest.approx(left[1], abs=0.1)


def _middles(lines: list[PaperLine]) -> list[tuple[float, float]]:
    """The middles of the crosses of 10 mm."""
    across = [
        ((a[0] + b[0]) / 2, a[1])
        for a, b in (line for line in lines if len(line) == 2)
        if a[1] == b[1] and abs(b[0] - a[0] - 10) < 0.01
    ]
    assert across
    return across


def _rear(line: PaperLine) -> list[tuple[float, float]]:
    """The part of the outline's rear edge that a page shows: long, level, near its top."""
    level = len(line) == 2 and line[0][1] == line[1][1] and line[0][1] < 50
    return list(line) if level and 50 < math.dist(*line) < 170 else []


def test_the_template_shows_every_foot_at_full_size() -> None:
    read = read_back(pdf(foot_template("Attic", SETUP, Side.RIGHT, Paper.A4), "template"))
    text = words(read)
    assert "Full size (1:1)." in text
    for foot in ("inner foot", "outer foot", "rear foot", "middle of the baffle"):
        assert foot in text
    assert "mark through the crosses where the feet go" in text
    # the whole depth is more than a page; its parts overlap by what pages share
    parts = [
        abs(b[1] - a[1])
        for page in (read.pages[1], read.pages[3])
        for a, b in (line for line in lines_mm(page) if len(line) == 2)
        if a[0] == b[0] and 100 < abs(b[1] - a[1]) < 230 and abs(abs(b[1] - a[1]) - 101) > 2
    ]
    axis, *_ = parts
    assert sum({round(one, 2) for one in parts}) - OVERLAP_MM == pytest.approx(391, abs=0.1)
    assert axis < 391


def test_a_template_without_feet_does_not_speak_of_crosses_for_them() -> None:
    footless = msgspec.structs.replace(CABINET, feet={})
    setup = msgspec.structs.replace(SETUP, cabinets=Pair(footless, CABINET))
    text = words(read_back(pdf(foot_template("Attic", setup, Side.LEFT, Paper.A4), "template")))
    assert "where the feet go" not in text
    assert "Where its feet are has not been entered, so none is drawn." in text


def test_a_template_is_mirrored_for_the_other_cabinet() -> None:
    texts = {}
    for side in Side:
        read = read_back(pdf(foot_template("Attic", SETUP, side, Paper.A4), "template"))
        texts[side] = [page.extract_text() for page in read.pages]
    assert "front-outer" in texts[Side.LEFT][3]
    assert "front-inner" not in texts[Side.LEFT][3]
    assert "front-inner" in texts[Side.RIGHT][3]
    assert "front-outer" not in texts[Side.RIGHT][3]


def test_too_many_pages_are_refused_in_one_sentence() -> None:
    with pytest.raises(BadInput, match=r"^scale: 1:1 would take \d+ pages, more than"):
        marking_out("Attic", SETUP, Paper.A4, 1.0)


@pytest.mark.parametrize(("text", "scale"), [("1:20", 20), (" 1 : 12.5 ", 12.5), ("50", 50)])
def test_a_scale_is_read(text: str, scale: float) -> None:
    assert parse_scale(text) == scale


@pytest.mark.parametrize(
    "text", ["", "1:0", "0.5", "2:1", "1:", "1:20000", "big", "1:-3", "1:\n\n2x"]
)
def test_what_is_no_scale_is_refused(text: str) -> None:
    with pytest.raises(BadInput, match=r"^scale: .* is not one; write 1:20, or 1:1 for full size$"):
        parse_scale(text)
