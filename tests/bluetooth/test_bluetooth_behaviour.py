"""What a meter on Bluetooth has to do, whatever it speaks, through the real bleak."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator
from pathlib import Path

import pytest
from air import AT, Air, MakeAir, take, told_open

from witnessmark.meters.port import (
    Fault,
    Link,
    LinkState,
    MeterLost,
    MeterUnreachable,
    Noise,
    Report,
)
from witnessmark.meters.watch import watch
from witnessmark.model import Reading
from witnessmark_simulators.bluetooth.meters import (
    FIRE,
    READINGS,
    REQUESTS,
    Speech,
    binary_frame,
    packets,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.peripheral import Deed, Peripheral, Refusal
from witnessmark_simulators.meter import Answer

PROFILE = f"""
format = "witnessmark profile 1"
about = "The simulated binary meter"

[bluetooth]
characteristic = "{READINGS}"
request_characteristic = "{REQUESTS}"

[bluetooth.request]
bytes = "{FIRE.hex()}"

[frame]
length = 6
header = "a5"
distance = {{ at = 2, order = "big", type = "uint24", scale = 0.1, unit = "mm" }}
status = {{ at = 1, ok = ["00"], faults = {{ "01" = "too little light comes back" }} }}
checksum = {{ kind = "xor8" }}
"""


@pytest.fixture(params=list(Speech))
def speech(request: pytest.FixtureRequest, profiles: Path) -> Speech:
    """How the meter speaks; for what is binary there is a profile."""
    (profiles / "simulated-binary.toml").write_text(PROFILE)
    assert isinstance(request.param, Speech)
    return request.param


def options(speech: Speech) -> str:
    return "?profile=simulated-binary" if speech is Speech.BINARY else ""


def say(meter: Peripheral, speech: Speech, mm: float) -> bool:
    """Have the meter tell a distance; whether it went out."""
    answer = Answer(f"{mm:g} mm\r\n".encode(), distance_mm=mm)
    return all(meter.send(packet) for packet in packets(speech, answer))


async def distances(reports: AsyncGenerator[Report, None], count: int) -> list[float]:
    seen = [one for one in await take(reports, count) if isinstance(one, Reading)]
    return [reading.distance_mm for reading in seen]


async def told_state(reports: AsyncGenerator[Report, None]) -> LinkState:
    report = await anext(reports)
    assert isinstance(report, Link), report
    return report.state


async def test_readings_come_in_order_each_once(air_of: MakeAir, speech: Speech) -> None:
    meter = simulated_meter(speech)
    async with air_of(meter) as air, air.opened(meter, options(speech)) as reports:
        for mm in range(1000, 1300):
            assert say(meter, speech, mm)
        assert await distances(reports, 300) == list(range(1000, 1300))


async def test_a_reading_says_when_from_where_and_what_came(
    air_of: MakeAir, speech: Speech
) -> None:
    meter = simulated_meter(speech)
    async with air_of(meter) as air, air.opened(meter, options(speech)) as reports:
        say(meter, speech, 1512.5)
        reading = await anext(reports)
    raw = {
        Speech.TEXT: b"1512.5 mm",
        Speech.DESCRIBED: (15125).to_bytes(4, "little"),
        Speech.BINARY: binary_frame(15125),
    }
    address = f"ble:{meter.address}{options(speech)}"
    assert reading == Reading(1512.5, AT, address, raw[speech])


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


async def test_an_error_of_the_meter_is_a_fault_and_no_distance(
    air_of: MakeAir, speech: Speech
) -> None:
    meter = simulated_meter(speech)
    answer = Answer(b"Error: too little light comes back\r\n", fault="too little light comes back")
    async with air_of(meter) as air, air.opened(meter, options(speech)) as reports:
        for packet in packets(speech, answer):
            meter.send(packet)
        say(meter, speech, 1513)
        fault, reading = await take(reports, 2)
    assert isinstance(fault, Fault)
    assert ("no value" if speech is Speech.DESCRIBED else "too little light") in fault.fault
    assert isinstance(reading, Reading)


async def test_garbage_is_told_and_never_a_distance(air_of: MakeAir, speech: Speech) -> None:
    meter = simulated_meter(speech)
    garbage = [b"\xff", bytes(range(128, 148)), b"\x001512\r\n", b"\xa5\x00\x00\x27\x10\x93"]
    async with air_of(meter) as air, air.opened(meter, options(speech)) as reports:
        for data in garbage:
            meter.send(data)
        say(meter, speech, 1514)
        seen = await take(reports, len(garbage) + 1)
    assert [type(one) for one in seen] == [Noise] * len(garbage) + [Reading]
    assert [one.raw for one in seen if isinstance(one, Noise)] == garbage


async def test_an_unplugged_meter_is_lost(air_of: MakeAir, speech: Speech) -> None:
    meter = simulated_meter(speech)
    async with air_of(meter) as air, air.opened(meter, options(speech)) as reports:
        say(meter, speech, 1512)
        meter.leave()
        assert isinstance(await anext(reports), Reading)
        with pytest.raises(MeterLost, match="the meter is gone; switch it on again"):
            await anext(reports)


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


async def test_silence_is_a_state_and_no_loss(air_of: MakeAir, speech: Speech) -> None:
    meter = simulated_meter(speech)
    async with air_of(meter) as air:
        driver = air.driver(meter, options(speech))
        async with contextlib.aclosing(watch(driver, quiet_after_s=0.05)) as reports:
            assert await told_state(reports) is LinkState.OPEN
            assert await told_state(reports) is LinkState.QUIET
            say(meter, speech, 1512)
            assert isinstance(await anext(reports), Reading)
            assert await told_state(reports) is LinkState.QUIET


async def test_coming_back_into_range_carries_on(air_of: MakeAir, speech: Speech) -> None:
    meter = simulated_meter(speech)
    within = f"{options(speech)}{'&' if options(speech) else '?'}within=0.2"
    async with air_of(meter) as air:
        driver = air.driver(meter, within)
        async with contextlib.aclosing(watch(driver, pauses_s=(0.01,))) as reports:
            assert await told_state(reports) is LinkState.OPEN
            for mm in (1512, 1513):
                say(meter, speech, mm)
                assert await distances(reports, 1) == [mm]
                meter.leave()
                assert await told_state(reports) is LinkState.LOST
                assert await told_state(reports) is LinkState.LOST  # in other words: not in range
                meter.come_back()
                assert await told_state(reports) is LinkState.OPEN


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
        await asyncio.wait({opening}, timeout=0.3)
        assert not opening.done()
        await cancelled(opening)
        await reports.aclose()
        assert not meter.connected


async def cancelled(task: asyncio.Task[Report]) -> None:
    await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task


async def test_a_meter_that_is_not_there_is_unreachable(air_of: MakeAir, speech: Speech) -> None:
    meter = simulated_meter(speech)
    meter.leave()
    async with air_of(meter) as air:
        assert "no such meter in range" in await refusal(air, meter, "?within=0.2")


async def refusal(air: Air, meter: Peripheral, options: str = "") -> str:
    """The words in which the driver says that it cannot open the meter."""
    with pytest.raises(MeterUnreachable) as caught:
        await anext(air.driver(meter, options).reports())
    return str(caught.value)
