"""The walk foreseen on paper: every row of its picture, by thickness, and all that is told."""

from __future__ import annotations

import html
import re
from pathlib import Path

import numpy as np
import pytest
import stored

from witnessmark.acoustics.foresight import FREQUENCIES_HZ, Furnishing, absorptions
from witnessmark.drawing.levels import shade_class
from witnessmark.listening.foreseen import ForeseenWalk
from witnessmark.model import Cabinet, Pair, Placement, Room, Seat, Setup
from witnessmark.report.blocks import LevelCurves, LevelPicture
from witnessmark.report.flow import SheetFrame, flow
from witnessmark.report.foresight import foresight_blocks, foresight_sheet
from witnessmark.report.page import Paper, Polyline
from witnessmark.report.svg import svg
from witnessmark.report.terminal import text_lines

PAGES = Path(__file__).parents[1] / "samples" / "pages"
BOX = Cabinet(262.0, 391.0, 900.0)
TARGET = Placement(1450.0, 1900.0, 8.0)
SETUP = Setup(
    room=Room.rectangular(5360.0, 7240.0, 2500.0),
    cabinets=Pair(BOX, BOX),
    seat=Seat(4400.0, 2680.0, 1020.0),
    targets=Pair[Placement | None](TARGET, TARGET),
)


@pytest.fixture(scope="module")
def walk() -> ForeseenWalk:
    return ForeseenWalk(SETUP, absorptions(Furnishing.FURNISHED))


def test_the_sheet_tells_what_the_terminal_tells_but_for_the_pictures(walk: ForeseenWalk) -> None:
    present = walk.at(Pair(TARGET, TARGET), "now")
    blocks = [
        block
        for block in foresight_blocks(walk, 1, place=4, present=present)
        if not isinstance(block, LevelPicture | LevelCurves)
    ]
    pages = flow("Title", blocks, SheetFrame(Paper.A4))
    drawn = " ".join(
        html.unescape(text) for page in pages for text in re.findall(">([^<]+)<", svg(page))
    )
    told = " ".join(text_lines(blocks)).casefold().split()
    assert len(told) > 200
    assert set(told) <= set(drawn.casefold().split())


def test_a_strip_is_as_thick_as_its_level_and_none_where_it_is_deep() -> None:
    levels = np.where(FREQUENCIES_HZ < 60, 20.0, np.where(FREQUENCIES_HZ < 120, -20.0, -3.0))
    block = LevelPicture(("1",), tuple(map(float, FREQUENCIES_HZ)), (tuple(map(float, levels)),))
    (page,) = flow("Title", [block], SheetFrame(Paper.A4))
    strips = [
        item
        for item in page.items
        if isinstance(item, Polyline) and item.width_mm > 1.0 and len(item.points) == 2
    ]
    loud, soft = sorted(strips, key=lambda strip: strip.points[0][0])
    assert loud.width_mm / soft.width_mm == pytest.approx(shade_class(20.0) / shade_class(-3.0))
    assert soft.points[0][0] - loud.points[1][0] > 20.0  # an octave without any


def test_its_pages(walk: ForeseenWalk) -> None:
    pages = foresight_sheet("The walk, foreseen", walk, 1, Paper.A4, place=4, present=None)
    for number, page in enumerate(pages, 1):
        stored.check(PAGES / f"sheet-foresight-{number}.svg", svg(page))
