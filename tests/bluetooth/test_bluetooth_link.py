"""A link over the real bleak, whatever the meter speaks: made, lost, let go and given up.

What a meter on Bluetooth has in common with every other is in ``tests/drivers``.
"""

from __future__ import annotations

import asyncio
import contextlib
from pathlib import Path

import pytest
from air import BINARY_PROFILE, MakeAir, told_open
from patience import until

from witnessmark.meters.port import (
    Link,
    LinkState,
    Report,
)
from witnessmark.meters.watch import watch
from witnessmark.model import Reading
from witnessmark_simulators.bluetooth.meters import (
    Speech,
    packets,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.peripheral import Deed, Peripheral, Refusal
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


async def cancelled(task: asyncio.Task[Report]) -> None:
    await asyncio.sleep(0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
