"""Meters that type like keyboards, and people who type, on the live screen."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from sitting import Sitting

from witnessmark.app.screens.live import LiveScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.app.widgets.typed_entry import TypedEntry
from witnessmark.meters.port import Noise
from witnessmark.model import Decision, Meter, Reading, Setup
from witnessmark.session.workspace import Workspace
from witnessmark.store.records import JournalEntry
from witnessmark.store.store import Store

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
AT = datetime(2026, 5, 6, 7, 8, tzinfo=UTC)
IN_METRES = "typed:?unit=m"


def journaled(store_file: Path) -> list[JournalEntry]:
    with Store.open(store_file) as store:
        latest = store.latest_round()
        assert latest is not None
        return store.entries(latest.id)


def live(sitting: Sitting) -> LiveScreen:
    screen = sitting.app.get_screen(Step.LIVE.value)
    assert isinstance(screen, LiveScreen)
    return screen


def at_the_meter(setup: Setup, address: str, meter: Meter | None = None) -> Workspace:
    setup = msgspec.structs.replace(setup, meter=meter or setup.meter)
    return Workspace.on(setup, name="Attic", meter_address=address)


async def test_a_fast_line_is_a_reading_in_the_unit_of_the_settings(
    sit_down: SitDown, setup: Setup, store_file: Path
) -> None:
    async with sit_down(at_the_meter(setup, IN_METRES)) as sitting:
        await sitting.type_fast("1.2150\n")
        await sitting.settle()
        line = live(sitting).query_one(MeterLine)
        assert "1215.0 mm" in line.text
        assert not live(sitting).query_one(TypedEntry).is_open
    (reading,) = journaled(store_file)
    assert isinstance(reading, Reading)
    assert (reading.distance_mm, reading.meter, reading.raw) == (1215.0, IN_METRES, b"1.2150")


async def test_a_number_without_a_chosen_unit_is_shown_and_the_unit_asked_for(
    sit_down: SitDown, setup: Setup, store_file: Path
) -> None:
    async with sit_down(at_the_meter(setup, "typed:")) as sitting:
        await sitting.type_fast("1215\n")
        await sitting.settle()
        told = " ".join(sitting.text.split())
        assert "The meter sent 1215 without a unit, so it does not count." in told
        assert "Press m and choose the unit in which its display shows that number." in told
        await sitting.press("m")
        assert sitting.choice("unit").value is None
        await sitting.choose("unit", "mm")
        await sitting.press("escape", "g")
        await sitting.type_fast("1216\n")
        await sitting.settle()
    noise, reading = journaled(store_file)
    assert isinstance(noise, Noise)
    assert noise.raw == b"1215"
    assert isinstance(reading, Reading)
    assert (reading.distance_mm, reading.meter) == (1216.0, "typed:?unit=mm")


async def test_the_same_keys_typed_by_fingers_are_a_persons(
    sit_down: SitDown, setup: Setup, store_file: Path
) -> None:
    async with sit_down(at_the_meter(setup, IN_METRES)) as sitting:
        await sitting.press(*"1215")
        assert live(sitting).query_one(TypedEntry).value == "1215"
        await sitting.press("enter")
    (reading,) = journaled(store_file)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == 1215.0


@pytest.mark.parametrize("text", ["qquit\n", "mrclg\n", "usoq1215\n", "bq", "\x7f\x7fq\n"])
async def test_a_fast_line_commands_nothing_and_garbage_is_told(
    sit_down: SitDown, setup: Setup, store_file: Path, text: str
) -> None:
    async with sit_down(at_the_meter(setup, "typed:")) as sitting:
        before = live(sitting).guidance
        await sitting.type_fast(text)
        await sitting.settle()
        assert sitting.is_at(Step.LIVE)
        assert live(sitting).guidance == before
        assert "not recognised" in live(sitting).query_one(MeterLine).text
    assert [type(entry) for entry in journaled(store_file)] == [Noise]


async def test_a_line_that_comes_while_something_else_was_left_half_typed(
    sit_down: SitDown, setup: Setup, store_file: Path
) -> None:
    async with sit_down(at_the_meter(setup, IN_METRES)) as sitting:
        await sitting.press(*"12")
        entry = live(sitting).query_one(TypedEntry)
        entry._keys._typed_at_s -= 2.0  # as if two seconds had gone by
        await sitting.type_fast("1.2160\n")
        await sitting.settle()
        assert entry.value == "12"
    (reading,) = journaled(store_file)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == 1216.0


async def test_editing_a_typed_distance_works_as_in_any_field(
    sit_down: SitDown, setup: Setup, store_file: Path
) -> None:
    async with sit_down(at_the_meter(setup, "typed:")) as sitting:
        entry = live(sitting).query_one(TypedEntry)
        await sitting.press(*"1315", "left", "left", "left", "backspace", *"2", "end", "shift+left")
        await sitting.press(*"7")
        assert entry.value == "2317"
        await sitting.press("escape")
        assert not entry.is_open
        await sitting.press(*"9", "enter", "u")
        assert not entry.is_open
    assert [type(entry) for entry in journaled(store_file)] == [Reading, Decision]


async def test_only_the_meters_readings_are_corrected(
    sit_down: SitDown, setup: Setup, store_file: Path
) -> None:
    meter = Meter(edge_offset_mm=100.0)
    async with sit_down(at_the_meter(setup, "replay:nothing", meter)) as sitting:
        await sitting.press(*"1215", "enter")
        taken = sitting.app.session.round
        assert taken is not None
        assert taken.last is not None
        assert taken.last.reading_mm == 1215.0
        told = sitting.notices
        assert any("Used as a tape reading" in words for words in told)
        await sitting.type_fast("1215 mm\n")
        await sitting.settle()
        taken = sitting.app.session.round
        assert taken is not None
        assert taken.last is not None
        assert taken.last.reading_mm == 1315.0


async def test_a_distance_that_is_likely_in_metres_is_asked_back_and_one_key_takes_it(
    sit_down: SitDown, setup: Setup, store_file: Path
) -> None:
    async with sit_down(at_the_meter(setup, "typed:")) as sitting:
        await sitting.press(*"1.45", "enter")
        await sitting.settle()
        assert "1.45 m? Press Enter, or write 1.45 mm." in " ".join(sitting.notices)
        taken = sitting.app.session.round
        assert taken is not None
        assert taken.readings == 0
        await sitting.press("enter")
        assert not live(sitting).query_one(TypedEntry).is_open
    (reading,) = journaled(store_file)
    assert isinstance(reading, Reading)
    assert (reading.distance_mm, reading.raw) == (1450.0, b"1.45 m")
