"""All that is read in an evening is in the person's units: no mm beside inches, and none the other
way.

Played through a session, to its documents; what comes after doubt, a question and a move is told
of rounds with exact readings.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from evening import act_words, evening
from exact_shots import SETUP, finished, off, shoot, walk_round, world_of

from witnessmark.app.status import status_lines
from witnessmark.app.widgets.big_figures import scale_row
from witnessmark.lengths import Units
from witnessmark.locate.compare import compare
from witnessmark.meters.check import Meaning
from witnessmark.meters.port import LinkState
from witnessmark.model import (
    Mark,
    Meter,
    Pair,
    Placement,
    Poses,
    Setup,
    Tilt,
)
from witnessmark.phone.meter import MeterSeen
from witnessmark.phone.state import phone_state
from witnessmark.placing.guidance import Guidance, guide
from witnessmark.placing.judge import appraise
from witnessmark.placing.marks import mark_of
from witnessmark.placing.round import Round
from witnessmark.report.evening import KeptEvening, evening_blocks
from witnessmark.report.floor_sheets import marking_out, put_back_card
from witnessmark.report.history import history_blocks
from witnessmark.report.mark import mark_list, whole_mark
from witnessmark.report.page import PageText, Paper
from witnessmark.report.solve import solve_blocks
from witnessmark.report.terminal import text_lines
from witnessmark.session.events import Guided
from witnessmark.session.meter_check import from_figure, from_one_distance, from_three_marks
from witnessmark.session.workspace import Workspace
from witnessmark.store.history import history
from witnessmark.store.records import Kept
from witnessmark.store.store import Store
from witnessmark.words.marks import comparison_words
from witnessmark.words.meter_check import figures
from witnessmark_simulators.scenario import DEMO_SETUP

MILLIMETRES = re.compile(r"\d ?mm\b|millimet|\bmm\b")
INCHES = re.compile(r"\d\.\d+ in\b|\d[\"′″]|\d' \d|\binch")
CHECK_BARS = ("100 mm", "4 in")
"""Beside each other on every sheet, for whatever ruler is at hand."""
METER = MeterSeen(LinkState.OPEN, 1512.4)


def strings(value: object) -> Iterator[str]:
    """Every text of a record that a phone shows, without the drawings' own markup."""
    match value:
        case str():
            yield from re.findall(r">([^<]+)<", value) if value.startswith("<") else [value]
        case dict():
            for name, one in value.items():
                if name not in ("unit", "words"):
                    yield from strings(one)
        case list() | tuple():
            for one in value:
                yield from strings(one)


def seen(guidance: Guidance) -> Iterator[str]:
    """What the live screen and a phone show."""
    yield status_lines(guidance, 40).plain
    state = phone_state(guidance, METER, act_words())
    yield from strings(msgspec.to_builtins(state))
    yield state.unit
    if guidance.watch is not None and guidance.held is not None:
        mm = guidance.held.reading_mm
        yield scale_row(guidance.watch, mm, guidance.setup.units, 78)


def printed(setup: Setup, mark: Mark, kept: Kept[Mark]) -> Iterator[str]:
    """What is printed of a mark, of its round and of an evening."""
    shots = appraise(setup, mark.shots)
    for blocks in (
        whole_mark(kept),
        mark_list([kept], "Attic"),
        solve_blocks(setup, shots),
        evening_blocks(KeptEvening("Attic", setup, (), (), (kept,))),
    ):
        yield from text_lines(blocks)
    for pages in (
        put_back_card(mark, "Attic", Paper.LETTER),
        marking_out("Attic", setup, Paper.LETTER),
    ):
        for page in pages:
            texts = (item.text for item in page.items if isinstance(item, PageText))
            yield from (text for text in texts if text not in CHECK_BARS)


def told_of_a_meter(units: Units) -> Iterator[str]:
    meter = Meter(0.4, 0.5, 0.7)
    result = from_figure(meter, 1.5, Meaning.LIMIT, units)
    yield result.words
    yield figures(result.meter or meter, units)
    for readings in ((1501.6, 2201.6, 3701.6), (1520.0, 2220.0, 3720.0)):
        told = from_three_marks(meter, readings, units)
        assert told is not None
        yield told.words
    shots = from_one_distance(meter, (1500.0, 1500.4, 1499.8, 1500.1, 1500.3), units)
    assert shots is not None
    yield shots.words


def rounds_of(setup: Setup) -> Iterator[Round]:
    """A question, doubt, suspects, a nudge and its watch."""
    standing = world_of(left=off(12.0, -30.0, 1.5), right=off(-8.0, 14.0, 0.0))
    yield shoot(Round.begin(setup), world_of(), [0.0, 900.0])
    yield shoot(walk_round(Round.begin(setup), standing), standing)
    yield shoot(walk_round(Round.begin(setup), standing), world_of(left=off(9.0, -11.0, 1.5)))
    coarse = msgspec.structs.replace(setup, meter=Meter(0.4, 1.0, 2.5))
    yield finished(coarse)
    yield walk_round(Round.begin(coarse), world_of(left=off(2.0, 1.0, 0.1)))
    hopeless = msgspec.structs.replace(setup, meter=Meter(4.0, 5.0, 6.0))
    yield Round.begin(hopeless)


def moved(setup: Setup) -> Iterator[str]:
    exact = tuple(tuple(0.25 * (row == column) for column in range(6)) for row in range(6))
    target = setup.targets.left
    assert target is not None
    then = Poses(Pair(target, target), exact, Pair[Tilt | None](None, None))  # type: ignore[arg-type]
    pushed = Placement(target.side_mm + 23.0, target.setback_mm - 41.0, target.toe_in_deg + 5.0)
    now = msgspec.structs.replace(then, placements=Pair(pushed, target))
    yield from comparison_words(setup, compare(setup, then, now))
    yield from comparison_words(setup, compare(setup, then, then))


def wrong(units: Units, texts: Iterator[str]) -> list[str]:
    """The texts that are in the other units."""
    foreign = INCHES if units.is_metric else MILLIMETRES
    return [text for text in dict.fromkeys(texts) if foreign.search(text)]


@pytest.mark.parametrize("units", [Units.MM, Units.INCH_16])
async def test_an_evening_is_told_in_the_persons_units(store_file: Path, units: Units) -> None:
    setup = msgspec.structs.replace(DEMO_SETUP, units=units)
    workspace = Workspace.on(setup, name="Attic", meter_address="sim:")
    async with evening(store_file, workspace=workspace) as there:
        await there.begin()
        await there.work_on()
        await there.settle()
        steps = [event.guidance for event in there.of(Guided)]
        mark = mark_of(there.guidance, there.session.clock(), "home")
        await there.session.journal.run(Store.keep, "Attic", there.session.round_id, mark)
    assert any(step.watch is not None for step in steps)
    texts = [text for step in steps[::3] for text in seen(step)]
    assert not wrong(units, iter(texts))
    with Store.open(store_file) as store:
        (kept,) = store.kept(Mark)
        texts = [*printed(setup, mark, kept)]
        texts += text_lines(history_blocks(history(store), {}, units))
    assert len(texts) > 80
    assert not wrong(units, iter(texts))


@pytest.mark.parametrize("units", [Units.TENTH_MM, Units.INCH_32])
def test_doubts_questions_moves_and_checks_are_told_in_the_persons_units(units: Units) -> None:
    setup = msgspec.structs.replace(SETUP, units=units)
    states = [guide(state) for state in rounds_of(setup)]
    assert any(state.question for state in states)
    texts = [text for state in states for text in seen(state)]
    texts += [*moved(setup), *told_of_a_meter(units)]
    own = MILLIMETRES if units.is_metric else INCHES
    assert sum(bool(own.search(text)) for text in texts) > 40
    assert not wrong(units, iter(texts))
