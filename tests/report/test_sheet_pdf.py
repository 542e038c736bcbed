"""Pages as PDF, read back by a general library."""

from __future__ import annotations

import math
import re
from functools import lru_cache

import pytest
from paper import faces, lines_mm, read_back, size_mm, words
from sheet_cases import CABINET, EVENING, MARK, SETUP

from witnessmark.model import Side
from witnessmark.report.evening import evening_report
from witnessmark.report.floor_sheets import foot_template, marking_out, put_back_card
from witnessmark.report.flow import BARS_MM, SheetFrame
from witnessmark.report.page import Page, Paper
from witnessmark.report.pdf import pdf

TRUE_MM = 0.1
"""Of paper: what a ruler shows."""


@lru_cache
def sheets(paper: Paper) -> dict[str, tuple[Page, ...]]:
    return {
        "layout": marking_out("Attic", SETUP, paper),
        "tiled": marking_out("Attic", SETUP, paper, 20),
        "card": put_back_card(MARK, "Attic", paper),
        "template": foot_template("Attic", SETUP, Side.LEFT, paper),
        "report": evening_report(EVENING, paper),
    }


@pytest.mark.parametrize(
    ("paper", "size"), [(Paper.A4, (210.0, 297.0)), (Paper.LETTER, (215.9, 279.4))]
)
def test_every_sheet_has_the_size_of_its_paper_and_asks_not_to_be_fitted(
    paper: Paper, size: tuple[float, float]
) -> None:
    for name, pages in sheets(paper).items():
        read = read_back(pdf(pages, name))
        assert len(read.pages) == len(pages)
        assert read.trailer["/Root"]["/ViewerPreferences"]["/PrintScaling"] == "/None"
        for page in read.pages:
            assert size_mm(page) == pytest.approx(size, abs=TRUE_MM / 10)
        assert f"page {len(pages)} of {len(pages)}" in words(read)


def test_nothing_is_drawn_outside_the_paper() -> None:
    for name, pages in sheets(Paper.LETTER).items():
        for page in read_back(pdf(pages, name)).pages:
            for x, y in (point for line in lines_mm(page) for point in line):
                assert 5 < x < 210.9, name
                assert 5 < y < 274.4, name


def test_all_letters_are_embedded() -> None:
    for name, pages in sheets(Paper.A4).items():
        for page in read_back(pdf(pages, name)).pages:
            assert faces(page)
            assert all("/FontFile2" in face["/FontDescriptor"] for face in faces(page)), name


@pytest.mark.parametrize("name", ["layout", "tiled", "template"])
def test_check_bars_are_as_long_as_they_say_across_and_down(name: str) -> None:
    assert BARS_MM == {"100 mm": 100.0, "4 in": 4 * 25.4}
    for page in read_back(pdf(sheets(Paper.A4)[name], name)).pages:
        straight = [line for line in lines_mm(page) if len(line) == 2]
        body = SheetFrame(Paper.A4, bars=True).body
        across = [b[0] - a[0] for a, b in straight if a[1] == b[1] and a[1] > body.bottom + 1]
        down = [a[1] - b[1] for a, b in straight if a[0] == b[0] and a[0] < body.left - 1]
        for length in BARS_MM.values():
            assert min(abs(one - length) for one in across) < TRUE_MM
            assert min(abs(one - length) for one in down) < TRUE_MM
        text = page.extract_text()
        assert len(re.findall(r"\b100 mm", text)) == len(re.findall(r"\b4 in", text)) == 2


@pytest.mark.parametrize(("scale", "printed"), [(40.0, "1:40"), (50.0, "1:50")])
def test_the_plan_is_true_to_its_scale(scale: float, printed: str) -> None:
    read = read_back(pdf(marking_out("Attic", SETUP, Paper.A4, scale), "plan"))
    assert f"Scale {printed}" in words(read)
    lengths = [math.dist(*line) for line in lines_mm(read.pages[0]) if len(line) == 2]
    # the walls, and the tapes to the middle of the baffle and to the seat
    for true_mm in (5360, 7240, 1450, 1900, 4400, 2680):
        assert min(abs(length - true_mm / scale) for length in lengths) < TRUE_MM


def test_without_a_scale_the_largest_that_fits_on_one_page_is_taken() -> None:
    read = read_back(pdf(marking_out("Attic", SETUP, Paper.A4), "plan"))
    # 5360 mm is 134 mm at 1:40 and 179 mm at 1:30, of 173 mm of paper
    assert "Scale 1:40" in words(read)
    assert "part 1" not in words(read)


def test_a_cabinet_is_drawn_at_the_place_and_the_turn_of_its_target() -> None:
    read = read_back(pdf(marking_out("Attic", SETUP, Paper.A4, 40.0), "plan"))
    lines = lines_mm(read.pages[0])
    front = next(line for line in lines if abs(math.dist(line[0], line[-1]) - 134) < 0.01)
    wall = min(front)
    outlines = [line for line in lines if len(line) == 5 and line[0] == line[-1]]
    inner, outer, *_ = min(outlines, key=lambda line: line[0][0])
    # at a toe-in of 8 degrees the inner end of the left baffle is nearer to the front wall
    half = CABINET.width_mm / 2
    for point, sign in ((inner, 1), (outer, -1)):
        along = 1450 + sign * half * math.cos(math.radians(8))
        out = 1900 - sign * half * math.sin(math.radians(8))
        assert (point[0] - wall[0]) * 40 == pytest.approx(along, abs=3)
        assert (point[1] - wall[1]) * 40 == pytest.approx(out, abs=3)


def test_the_same_pages_give_the_same_bytes() -> None:
    pages = put_back_card(MARK, "Attic", Paper.A4)
    assert pdf(pages, "card") == pdf(pages, "card")


@pytest.mark.parametrize("title", ["Attic", "left (\\ or) right \\", "Küche, Łódź, 屋根裏 😀"])
def test_the_title_is_read_back(title: str) -> None:
    about = read_back(pdf(put_back_card(MARK, "Attic", Paper.A4), title)).metadata
    assert about is not None
    assert about.title == title


def test_bytes_of_a_file_name_that_are_no_text_are_written_out_in_the_title() -> None:
    title = b"K\xfcche".decode("utf-8", "surrogateescape")
    about = read_back(pdf(put_back_card(MARK, "Attic", Paper.A4), title)).metadata
    assert about is not None
    assert about.title == r"K\udcfcche"
