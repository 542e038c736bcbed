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
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import BY_TAPE, Command, Meter, Reading, Setup
from witnessmark.session.by_keyboard import line_report, typed_reading
from witnessmark.session.workspace import Workspace
from witnessmark.store.records import Entry
from witnessmark.store.store import Store

SitDown = Callable[..., AbstractAsyncContextManager[Sitting]]
AT = datetime(2026, 5, 6, 7, 8, tzinfo=UTC)
IN_METRES = "typed:?unit=m"


def journaled(store_file: Path) -> list[Entry]:
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


@pytest.mark.parametrize(
    ("address", "text", "mm"),
    [
        ("typed:", "1215", 1215.0),
        ("typed:", "1.215 m", 1215.0),
        (IN_METRES, "1.215", 1215.0),
        (IN_METRES, "1215 mm", 1215.0),
        ("typed:?unit=in", "47.83", 1214.882),
        ("typed:?unit=ft", "3.986", 1214.9328),
        ("sim:", "1215", 1215.0),
    ],
)
def test_a_line_is_read_in_the_chosen_unit(address: str, text: str, mm: float) -> None:
    report = line_report(text, AT, address, whole=True)
    assert isinstance(report, Reading)
    assert report.distance_mm == pytest.approx(mm)
    assert report.raw == text.encode()
    assert report.meter == (address if address.startswith("typed:") else "typed:")


@pytest.mark.parametrize(
    ("address", "text"),
    [("typed:", "1.215"), (IN_METRES, "215"), (IN_METRES, ".215"), ("typed:", "qwert")],
)
def test_what_may_be_the_rest_of_a_line_is_no_distance(address: str, text: str) -> None:
    assert isinstance(line_report(text, AT, address, whole=True), Noise)


def test_a_meters_own_error_is_its_fault() -> None:
    assert isinstance(line_report("Err 31", AT, "typed:", whole=True), Fault)
    assert isinstance(line_report("1215", AT, "typed:", whole=False), Noise)


def test_what_a_person_types_is_off_the_meter_only_where_that_is_the_keyboard() -> None:
    assert typed_reading(1215.0, "1215", AT, IN_METRES).meter == IN_METRES
    assert typed_reading(1215.0, "1215", AT, "serial:COM3").meter == BY_TAPE


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
        assert "not understood" in live(sitting).query_one(MeterLine).text
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
    assert [type(entry) for entry in journaled(store_file)] == [Reading, Command]


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
        assert any("Taken as a tape's" in words for words in told)
        await sitting.type_fast("1215\n")
        await sitting.settle()
        taken = sitting.app.session.round
        assert taken is not None
        assert taken.last is not None
        assert taken.last.reading_mm == 1315.0
