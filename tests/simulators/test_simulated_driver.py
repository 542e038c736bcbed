"""The ``sim:`` driver: by itself in the demo's room, and with a room behind it."""

import asyncio
import contextlib
from datetime import UTC, datetime
from importlib.metadata import entry_points

import numpy as np
import pytest

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.port import Fault, Link, LinkState, MeterLost, MeterUnreachable, Noise
from witnessmark.model import Placement, Reading, Side
from witnessmark_simulators.driver import SimulatedMeter
from witnessmark_simulators.meter import Behaviour, cut_off, fault, garbage, stay_silent
from witnessmark_simulators.rehearsal_room import RehearsalRoom
from witnessmark_simulators.room import ImpossibleShot
from witnessmark_simulators.scenario import demo_scenario, wall_shots

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
FIRST, SECOND, *_ = wall_shots(Side.LEFT)


def driver(text: str, room: RehearsalRoom | None = None) -> SimulatedMeter:
    return SimulatedMeter(Address.parse(text), lambda: NOON, room)


def new_room(*script: Behaviour) -> RehearsalRoom:
    rng = np.random.default_rng(1)
    return RehearsalRoom(demo_scenario(rng).person(rng, script=script))


async def all_reports(text: str) -> list:
    return [report async for report in driver(text).reports()]


async def test_it_walks_the_demos_room_as_often_as_told() -> None:
    link, *readings = await all_reports("sim:?count=9&every=0")
    assert link == Link(LinkState.OPEN, "simulated meter connected", NOON, "sim:?count=9&every=0")
    assert [type(reading) for reading in readings] == 9 * [Reading]
    for reading in readings:
        assert float(reading.raw.split()[0]) * 1000 == pytest.approx(reading.distance_mm)
        assert (reading.at, reading.meter) == (NOON, link.meter)
    # The ninth shot is the first again: the same corner within the scatter of the meter.
    assert abs(readings[8].distance_mm - readings[0].distance_mm) <= 4


@pytest.mark.parametrize(
    ("text", "pause_s"), [("sim:?count=3", 1.0), ("sim:?count=3&every=0.5", 0.5)]
)
async def test_it_pauses_before_every_shot(text: str, pause_s: float) -> None:
    pauses: list[float] = []

    async def sleep(seconds: float) -> None:
        pauses.append(seconds)

    meter = SimulatedMeter(Address.parse(text), lambda: NOON, sleep=sleep)
    assert len([report async for report in meter.reports()]) == 4
    assert pauses == 3 * [pause_s]


async def test_same_seed_same_bytes() -> None:
    async def told(seed: int) -> list[bytes]:
        _, *readings = await all_reports(f"sim:?count=8&every=0&seed={seed}")
        return [reading.raw for reading in readings]

    assert await told(3) == await told(3)
    assert await told(3) != await told(4)


async def test_without_count_it_goes_on_until_it_is_closed() -> None:
    async with contextlib.aclosing(driver("sim:?every=0").reports()) as reports:
        for _ in range(50):
            await anext(reports)


async def test_a_room_answers_each_press_in_order() -> None:
    room = new_room(stay_silent, fault("too little light comes back"), garbage(b"\x00?"), cut_off)
    async with contextlib.aclosing(driver("sim:", room).reports()) as reports:
        assert (await anext(reports)).state is LinkState.OPEN
        for _ in range(5):
            room.press_button(FIRST)
        room.press_button(SECOND)
        got = [await anext(reports) for _ in range(5)]
    assert [type(report) for report in got] == [Fault, Noise, Noise, Reading, Reading]
    assert got[0].fault == "too little light comes back"
    assert got[1].raw == b"\x00?"
    world = room.person.world
    for report, kind in zip(got[3:], (FIRST, SECOND), strict=True):
        assert report.distance_mm == pytest.approx(world.true_distance(kind), abs=5)


async def test_a_room_nudges_the_true_cabinet() -> None:
    room = new_room()
    before = room.truth
    room.nudge(Side.LEFT, Placement(50.0, 0.0, 0.0))
    assert room.truth.right == before.right
    assert room.truth.left.side_mm == pytest.approx(before.left.side_mm + 50, abs=5 * 7.6)


async def test_unplugging_ends_the_reports_and_plugging_in_lets_them_start_again() -> None:
    room = new_room()
    reports = driver("sim:", room).reports()
    await anext(reports)
    waiting = asyncio.create_task(anext(reports))
    await asyncio.sleep(0)
    room.unplug()
    with pytest.raises(MeterLost):
        await waiting
    room.press_button(FIRST)
    with pytest.raises(MeterUnreachable):
        await anext(driver("sim:", room).reports())
    room.plug_in()
    async with contextlib.aclosing(driver("sim:", room).reports()) as again:
        assert (await anext(again)).state is LinkState.OPEN
        room.press_button(SECOND)
        assert (await anext(again)).distance_mm == pytest.approx(
            room.person.world.true_distance(SECOND), abs=5
        )


async def test_an_unplugging_that_no_driver_saw_does_not_haunt_the_next() -> None:
    room = new_room()
    room.unplug()
    room.plug_in()
    async with contextlib.aclosing(driver("sim:", room).reports()) as reports:
        await anext(reports)
        room.press_button(FIRST)
        assert isinstance(await anext(reports), Reading)


def test_a_shot_that_cannot_be_taken_is_told_to_who_asked() -> None:
    room = new_room()
    nowhere = type(FIRST)(Side.LEFT, "nose", FIRST.to, FIRST.held)
    with pytest.raises(ImpossibleShot):
        room.press_button(nowhere)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("sim:here", "takes options alone"),
        ("sim:?sped=3", 'no option "sped"'),
        ("sim:?seed=-1", "seed is a whole number from 0 up"),
        ("sim:?seed=x", "seed is a whole number"),
        ("sim:?count=0", "count is a whole number from 1 up"),
        ("sim:?every=soon", "every is a number of seconds"),
        ("sim:?every=nan", "every is a number of seconds"),
        ("sim:?every=-1", "every is a number of seconds"),
    ],
)
def test_a_wrong_address_is_told(text: str, words: str) -> None:
    with pytest.raises(BadInput, match=words):
        driver(text)


async def test_it_is_found_like_any_driver() -> None:
    (entry,) = entry_points(group="witnessmark.drivers", name="sim")
    assert entry.load() is SimulatedMeter
    assert [found.address for found in await SimulatedMeter.discover()] == ["sim:"]
