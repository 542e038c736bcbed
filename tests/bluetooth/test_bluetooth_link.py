"""A link over the real bleak, whatever the meter speaks: made, lost, let go and given up.

What a meter on Bluetooth has in common with every other is in ``tests/drivers``.
"""

from __future__ import annotations

import asyncio
import contextlib
import re
from collections.abc import AsyncGenerator
from pathlib import Path

import pytest
from air import BINARY_PROFILE, MakeAir, bleak_let_go, told_open
from needs import needs
from patience import until

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.port import (
    Link,
    LinkState,
    MeterLost,
    MeterUnreachable,
    Report,
)
from witnessmark.meters.watch import watch
from witnessmark.model import Reading
from witnessmark_drivers import ble_link
from witnessmark_drivers.ble import BleMeter
from witnessmark_simulators.bluetooth.meters import (
    MEASUREMENTS,
    Speech,
    packets,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.peripheral import Deed, Peripheral, Refusal
from witnessmark_simulators.bluetooth.radio import Radio
from witnessmark_simulators.meter import Answer


@pytest.fixture(params=list(Speech))
def speech(request: pytest.FixtureRequest, profiles: Path) -> Speech:
    """How the meter speaks; for what is binary there is a profile."""
    (profiles / "simulated-binary.toml").write_text(BINARY_PROFILE)
    assert isinstance(request.param, Speech)
    return request.param


def options(speech: Speech) -> str:
    return "?profile=simulated-binary" if speech is Speech.BINARY else ""


def say(meter: Peripheral, speech: Speech, mm: float) -> bool:
    """Have the meter tell a distance; whether it went out."""
    answer = Answer(f"{mm:g} mm\r\n".encode(), distance_mm=mm)
    return all(meter.send(packet) for packet in packets(speech, answer))


async def test_the_meter_is_told_with_its_battery_and_its_maker(
    air_of: MakeAir, speech: Speech
) -> None:
    meter = simulated_meter(speech, name="Tape\x07 7", battery=b"\x55")
    async with air_of(meter) as air:
        reports = air.driver(meter, options(speech)).reports()
        words = await told_open(reports)
        await reports.aclose()
    said = f"Tape 7 connected, battery 85 %, maker Witnessmark simulators, model {speech}"
    assert words == said + (', value "main"' if speech is Speech.DESCRIBED else "")


async def test_200_of_200_readings_come_in_order_through_losses(
    air_of: MakeAir, speech: Speech
) -> None:
    meter = simulated_meter(speech)
    seen: list[float] = []
    states: list[LinkState] = []
    sent = iter(range(1000, 1200))
    async with air_of(meter) as air:
        driver = air.driver(meter, options(speech))
        async with contextlib.aclosing(watch(driver, pauses_s=(0.01,))) as reports:
            while len(seen) < 200:
                report = await anext(reports)
                if isinstance(report, Link):
                    states.append(report.state)
                    if report.state is LinkState.OPEN:
                        # a burst, at whose end the link is lost before anybody has read any of it
                        for mm in (next(sent) for _ in range(40)):
                            assert say(meter, speech, mm)
                        meter.drop()
                elif isinstance(report, Reading):
                    seen.append(report.distance_mm)
    assert seen == list(range(1000, 1200))
    assert states == [LinkState.OPEN, *[LinkState.LOST, LinkState.OPEN] * 4]


async def test_closing_while_reading_lets_go_of_the_meter(air_of: MakeAir, speech: Speech) -> None:
    meter = simulated_meter(speech)
    async with air_of(meter) as air:
        for _ in range(2):
            async with air.opened(meter, options(speech)):
                assert meter.connected
            assert not meter.connected


async def test_cancelling_while_reading_lets_go_of_the_meter(
    air_of: MakeAir, speech: Speech
) -> None:
    meter = simulated_meter(speech)
    async with air_of(meter) as air:
        async with air.opened(meter, options(speech)) as reports:
            await cancelled(asyncio.create_task(anext(reports)))
        assert not meter.connected
        async with air.opened(meter, options(speech)):
            pass


@pytest.mark.parametrize("deed", [Deed.CONNECT, Deed.SUBSCRIBE])
async def test_a_meter_that_does_not_answer_can_be_given_up(
    air_of: MakeAir, speech: Speech, deed: Deed
) -> None:
    meter = simulated_meter(speech)
    meter.refuse(deed, Refusal.SILENCE)
    async with air_of(meter) as air:
        reports = air.driver(meter, options(speech)).reports()
        opening = asyncio.create_task(anext(reports))
        await until(lambda: deed in meter.refused)
        assert not opening.done()
        await cancelled(opening)
        await reports.aclose()
        assert not meter.connected


async def test_what_the_system_is_busy_with_is_tried_again(
    air_of: MakeAir, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ble_link, "BUSY_PAUSES_S", (0.01,) * 500)
    meter = simulated_meter(Speech.TEXT)
    meter.refuse(Deed.CONNECT, Refusal.BUSY)
    async with air_of(meter) as air:
        reports = air.driver(meter).reports()
        opening = asyncio.create_task(told_open(reports))
        await until(lambda: len(meter.refused) > 1 or opening.done())
        meter.refuse(Deed.CONNECT, None)
        assert "connected" in await opening
        await reports.aclose()


@pytest.mark.parametrize("options", ["?name=Its%20name", f"?service={MEASUREMENTS}"])
async def test_a_meter_is_found_by_its_name_or_a_service(air_of: MakeAir, options: str) -> None:
    meter = simulated_meter(Speech.TEXT, name="Its name")
    other = Peripheral("C0:FF:EE:00:00:01", "Lamp", (), speaks="")
    async with air_of(meter, other) as air:
        driver = BleMeter(Address.parse(f"ble:{options}"), backends=air.backends)
        async with contextlib.aclosing(driver.reports()) as reports:
            assert "Its name connected" in await told_open(reports)
            assert meter.connected


async def test_of_two_meters_of_one_name_the_person_says_which(air_of: MakeAir) -> None:
    meter = simulated_meter(Speech.TEXT)
    twin = simulated_meter(Speech.TEXT, "C0:FF:EE:00:00:02")
    async with air_of(meter, twin) as air:
        driver = BleMeter(Address.parse("ble:?name=Simulated meter"), backends=air.backends)
        both = f"choose one of ble:C0:FF:EE:00:00:02, ble:{meter.address}"
        with pytest.raises(MeterUnreachable, match=both):
            await anext(driver.reports())


@pytest.mark.parametrize(
    "address", ["ble:", "ble:?name=x&service=2ac5", "ble:C0:FF:EE:00:12:34?name=x"]
)
def test_a_meter_is_sought_by_one_thing(address: str) -> None:
    with pytest.raises(BadInput, match=re.escape("or ble:?name=NAME or ble:?service=UUID")):
        BleMeter(Address.parse(address))


@needs("message bus")
async def test_a_service_that_dies_without_a_word_loses_the_meter(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from witnessmark_simulators.bluetooth.service import BluetoothService  # noqa: PLC0415

    meter = simulated_meter(Speech.TEXT)
    async with BluetoothService(Radio([meter])) as service:
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", service.address)
        address = Address.parse(f"ble:{meter.address}")
        watching = watch(BleMeter(address), pauses_s=(0.05,))
        async with asyncio.timeout(20), contextlib.aclosing(watching) as reports:
            await told_open(reports)
            await service.vanish()
            words = []
            for _ in range(2):
                link = await anext(reports)
                assert isinstance(link, Link)
                assert link.state is LinkState.LOST
                words.append(link.words)
            assert "the meter is gone" in words[0]
            assert "Bluetooth service is not running" in words[1]
            await service.come_back()
            await told_open(reports)
            assert meter.connected
    await bleak_let_go()


async def cancelled(task: asyncio.Task[Report]) -> None:
    await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task


async def test_a_flood_ends_the_link_and_says_so(
    air_of: MakeAir, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ble_link, "MOST_WAITING", 10)
    meter = simulated_meter(Speech.TEXT)
    seen: list[Report] = []
    async with air_of(meter) as air:
        driver = air.driver(meter)
        reports = driver.reports()
        await told_open(reports)
        for mm in range(1000, 1030):
            assert say(meter, Speech.TEXT, mm)
        await until(lambda: driver._inbox.qsize() > 10)
        with pytest.raises(MeterLost, match="faster than its readings can be saved"):
            await taken(reports, seen)
    assert [one.distance_mm for one in seen if isinstance(one, Reading)] == list(range(1000, 1010))


async def taken(reports: AsyncGenerator[Report, None], seen: list[Report]) -> None:
    async for report in reports:
        seen.append(report)  # noqa: PERF401 - what came before the link was lost counts
