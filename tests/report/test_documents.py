"""One document of each record, which the terminal, PDF and SVG all tell whole."""

from __future__ import annotations

import html
import importlib
import pkgutil
import re
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path

import msgspec
import pytest
from paper import read_back, words
from sheet_cases import EVENING, MARK, SETUP, kept
from strange import STEERS, strange

import witnessmark.report
from witnessmark.acoustics.foresight import Furnishing, absorptions
from witnessmark.acoustics.scene import Scene
from witnessmark.drawing.room import room_labels, room_strokes
from witnessmark.drawing.strokes import Drawing
from witnessmark.layout.plan import lay_out
from witnessmark.layout.practice import Practice
from witnessmark.layout.start import Triangle, default_seat
from witnessmark.lengths import Units
from witnessmark.listening.foreseen import ForeseenWalk
from witnessmark.model import Pair, Room, Seat, Side
from witnessmark.placing.judge import appraise
from witnessmark.report.blocks import Block, GradeCharts, Heading, Paragraph, SideBySide, Table
from witnessmark.report.evening import evening_blocks
from witnessmark.report.flow import SheetFrame, flow
from witnessmark.report.foresight import foresight_blocks
from witnessmark.report.history import history_blocks, trials_blocks
from witnessmark.report.layout import layout_blocks
from witnessmark.report.mark import mark_list, spikes, whole_mark
from witnessmark.report.page import Paper
from witnessmark.report.pdf import pdf
from witnessmark.report.scaling import to_scale
from witnessmark.report.solve import solve_blocks
from witnessmark.report.sound import sound_blocks
from witnessmark.report.svg import svg
from witnessmark.report.terminal import text_lines
from witnessmark.store.history import Item
from witnessmark.store.round_file.read import read_round

ROUND = Path(__file__).parents[1] / "samples" / "rounds" / "skewed.json"


def solved() -> list[Block]:
    read = read_round(ROUND.read_text("utf-8"))
    appraisal = appraise(read.setup, read.shots)
    scene = Scene.of(read.setup, appraisal.measured)
    return [*solve_blocks(read.setup, appraisal), *sound_blocks(scene, Units.MM)]


def laid_out() -> list[Block]:
    room = Room.rectangular(5360.0, 7240.0)
    seat = default_seat(room, Practice())
    layout = lay_out(room, SETUP.cabinets, seat, start=Triangle())
    return list(layout_blocks(layout, None, Units.INCH_16))


def history() -> list[Block]:
    records = [*EVENING.trials, *EVENING.preferences, *EVENING.marks]
    items = [
        Item(
            one.record.at,
            type(one.record).__name__.lower(),
            "Attic",
            None,
            one.id,
            one.key,
            one.record,
        )
        for one in records
    ]
    numbers = {trial.key: trial.id for trial in EVENING.trials}
    return list(history_blocks(items, numbers, Units.MM))


def foreseen() -> list[Block]:
    room = Room.rectangular(2600.0, 2700.0, 2000.0)  # small, so that it is soon worked out
    setup = msgspec.structs.replace(SETUP, room=room, seat=Seat(2000.0, 1300.0, 1000.0))
    walk = ForeseenWalk(setup, absorptions(Furnishing.FURNISHED))
    return list(foresight_blocks(walk, 0, place=0))


def plan() -> list[Block]:
    drawing = Drawing(tuple(room_strokes(SETUP.room)), tuple(room_labels(SETUP.room)))
    return list(to_scale("Plan", drawing, 20.0, SheetFrame(Paper.A4)))


DOCUMENTS: dict[Callable[..., object], list[Block]] = {
    whole_mark: list(whole_mark(kept(1, MARK))),
    mark_list: list(mark_list([kept(1, MARK), kept(2, MARK)], "Attic")),
    solve_blocks: solved(),
    layout_blocks: laid_out(),
    evening_blocks: list(evening_blocks(EVENING)),
    trials_blocks: list(trials_blocks(EVENING.trials, EVENING.preferences, "Attic", Units.MM)),
    history_blocks: history(),
}
PARTS: dict[Callable[..., object], list[Block]] = {
    spikes: list(spikes(MARK, Side.LEFT)),
    sound_blocks: list(sound_blocks(Scene.of(SETUP, Pair(None, None)), Units.MM)),
    foresight_blocks: foreseen(),
    to_scale: plan(),
}
"""Functions that make a part of these, or that draw on paper and write in the terminal."""


def test_every_document_of_the_package_is_here() -> None:
    names = [module.name for module in pkgutil.iter_modules(witnessmark.report.__path__)]
    modules = [importlib.import_module(f"witnessmark.report.{name}") for name in names]
    makers = {
        made
        for module in modules
        for name, made in vars(module).items()
        if not name.startswith("_")
        and getattr(made, "__module__", "") == module.__name__
        and getattr(made, "__annotations__", {}).get("return") == "Iterator[Block]"
    }
    assert makers == set(DOCUMENTS | PARTS)


def counted(texts: Iterable[str]) -> Counter[str]:
    """The words, but for capitals, by how often they are told."""
    return Counter(" ".join(texts).casefold().split())


@pytest.mark.parametrize("maker", DOCUMENTS | PARTS, ids=lambda maker: maker.__name__)
def test_nothing_that_steers_is_on_paper(maker: Callable[..., object]) -> None:
    pages = flow(
        "Title", [strange(block) for block in (DOCUMENTS | PARTS)[maker]], SheetFrame(Paper.A4)
    )
    for page in pages:
        assert STEERS.isdisjoint(svg(page))
    told = words(read_back(pdf(pages, "Title")))
    assert STEERS.isdisjoint(told)
    assert r"\x1b[2J" in "".join(told.split())


@pytest.mark.parametrize("maker", DOCUMENTS, ids=lambda maker: maker.__name__)
def test_every_renderer_tells_all_of_a_document(maker: Callable[..., object]) -> None:
    # grades are drawn in two ways, each with signs and an explanation of its own
    blocks = [block for block in DOCUMENTS[maker] if not isinstance(block, GradeCharts)]
    lines = list(text_lines(blocks))
    assert all(len(line) <= 80 and line == line.rstrip() for line in lines)
    told = counted(lines)
    assert sum(told.values()) > 20
    pages = flow("Title", blocks, SheetFrame(Paper.A4))
    drawn = (html.unescape(text) for page in pages for text in re.findall(">([^<]+)<", svg(page)))
    assert told <= counted(drawn)
    # a line that is broken within a word on narrow paper is read back as two words
    on_paper = "".join(words(read_back(pdf(pages, "Title"))).casefold().split())
    assert all(word in on_paper for word in told)


def test_a_chart_of_grades_is_drawn_in_letters_on_the_terminal() -> None:
    lines = list(text_lines(evening_blocks(EVENING)))
    assert any(line.startswith("5 ┤") for line in lines)


def test_a_table_that_nobody_laid_out_breaks_the_widest_cells() -> None:
    table = Table(("no", "what"), (("1", "word " * 30), ("2", "short")))
    lines = list(text_lines([Heading("head"), table], 40))
    assert lines[:2] == ["HEAD", "  no  what"]
    assert lines[2].startswith("  1   word word")
    assert all(len(line) <= 40 for line in lines)
    assert " ".join(lines).split().count("word") == 30
    assert lines[-1] == "  2   short"


def test_columns_stand_one_below_another_on_the_terminal() -> None:
    columns = SideBySide(
        ((Heading("Left"), Paragraph("one")), (Heading("Right"), Paragraph("two")))
    )
    assert list(text_lines([columns])) == ["LEFT", "one", "", "RIGHT", "two"]


def test_nothing_in_a_text_upsets_the_terminal() -> None:
    lines = list(text_lines([Paragraph("a\x1b[2Jb"), Table(("",), (("\x07c",),))]))
    assert not any("\x1b" in line or "\x07" in line for line in lines)
