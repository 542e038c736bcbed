"""The large figures: every character is there and unlike the others, and the scale fits."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from witnessmark.drawing.bigfont import (
    GLYPH_HEIGHT,
    big_rows,
    fitting_scale,
    glyphs,
    pixels,
    rows_below,
)
from witnessmark.model import AimedAt, Edge, Held, ShotKind, Side
from witnessmark.words.holding import held_figure

NEEDED = string.ascii_uppercase + string.digits + "mdegintfo.+-−/'\"°±?!←→↑↓↔↺↻✓ "
HOLLOW_BOX = pixels("\N{SNOWMAN}")


@pytest.mark.parametrize("character", NEEDED)
def test_what_the_program_says_can_be_written(character: str) -> None:
    assert pixels(character) != HOLLOW_BOX
    assert len(pixels(character)) == GLYPH_HEIGHT


def test_all_rows_of_a_character_are_as_wide() -> None:
    for character, rows in glyphs().items():
        assert len(rows) == GLYPH_HEIGHT, character
        assert {len(row) for row in rows} == {len(rows[0])}, character
        assert set("".join(rows)) <= {"#", "."}, character


def test_no_two_characters_look_alike_but_o_and_nought() -> None:
    shapes: dict[tuple[str, ...], str] = {}
    for character, rows in glyphs().items():
        assert rows not in shapes or {shapes[rows], character} == {"0", "O"}
        shapes[rows] = character


@pytest.mark.parametrize(("one", "other"), ["←→", "↺↻"])
def test_left_and_right_are_mirror_images(one: str, other: str) -> None:
    assert [row[::-1] for row in pixels(one)] == pixels(other)


@pytest.mark.parametrize(
    ("arrow", "head"),
    [("←", (3, 0)), ("→", (3, -1)), ("↑", (0, 3)), ("↓", (-1, 3))],
)
def test_arrows_point_where_they_say(arrow: str, head: tuple[int, int]) -> None:
    rows = pixels(arrow)
    row, column = head
    assert rows[row][column] == "#"
    edge = rows[row] if row != 3 else [line[column] for line in rows]
    assert list(edge).count("#") == 1


@given(st.text(NEEDED, min_size=1, max_size=14), st.integers(1, 200), st.integers(1, 40))
def test_what_is_drawn_fits_its_place(text: str, columns: int, rows: int) -> None:
    drawn = big_rows(text, columns, rows)
    assert len(drawn) <= rows
    assert all(len(row) <= columns for row in drawn)


@given(st.integers(1, 80), st.integers(1, 300), st.integers(1, 60))
def test_the_scale_is_the_tallest_that_fits(width: int, columns: int, rows: int) -> None:
    scale = fitting_scale(width, columns, rows)
    if scale is None:
        assert width > columns or 2 * rows < GLYPH_HEIGHT
        return
    across, down = scale
    assert across * width <= columns
    assert across <= down <= 2 * across
    taller = down + 1
    assert taller * GLYPH_HEIGHT > 2 * rows or -(-taller // 2) * width > columns


def test_a_nudge_fills_seven_rows_of_a_small_terminal() -> None:
    assert len(big_rows("← 12 mm", 80, 7)) == 7
    assert len(big_rows("REAR-INNER ↑", 80, 7)) == 7


def test_it_grows_with_the_terminal() -> None:
    assert len(big_rows("← 12 mm", 140, 14)) == 14


HOLDS = sorted(
    {
        held_figure(ShotKind(Side.LEFT, point, to, held), edge)
        for point in ("front-outer", "straightedge-inner")
        for to in AimedAt
        for held in Held
        for edge in Edge
    }
)


@pytest.mark.parametrize("words", HOLDS)
def test_how_the_meter_is_held_is_large_in_the_smallest_terminal(words: str) -> None:
    assert set(words) <= set(NEEDED)
    rows = big_rows(words, 80, rows_below(8))
    assert len(rows) == 4
    assert set("".join(rows)) <= set(" ▀▄█")


@given(st.integers(8, 60))
def test_the_line_below_is_no_larger_than_the_first(rows: int) -> None:
    below = rows_below(rows)
    assert (GLYPH_HEIGHT + 1) // 2 <= below <= rows - below


def test_a_place_too_small_still_tells() -> None:
    assert big_rows("REAR-INNER ↑", 30, 7) == ("REAR-INNER ↑",)
