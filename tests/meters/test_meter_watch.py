from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator, Callable
from datetime import UTC, datetime

import pytest
from patience import until

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.port import (
    Driver,
    Link,
    LinkState,
    MeterLost,
    MeterUnreachable,
    Noise,
    Report,
)
from witnessmark.meters.watch import watch
from witnessmark.model import Reading

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
OPEN, QUIET, LOST, CLOSED = LinkState.OPEN, LinkState.QUIET, LinkState.LOST, LinkState.CLOSED

Step = float | Exception | Callable[[], object]
"""A distance to read, an error to end with, or something that is called and awaited."""


class Scripted(Driver):
    """Each opening of the meter plays the next list of steps."""

    scheme = "scripted"

    def __init__(self, *sessions: list[Step]) -> None:
        super().__init__(Address.parse("scripted:"), clock=lambda: AT)
        self.sessions = list(sessions)
        self.begun = self.closed = 0

    async def reports(self) -> AsyncGenerator[Report, None]:
        steps = self.sessions.pop(0)
        self.begun += 1
        try:
            if steps and isinstance(steps[0], MeterUnreachable):
                raise steps[0]
            yield self.opened()
            for step in steps:
                if isinstance(step, Exception):
                    raise step
                if callable(step):
                    await step()
                else:
                    yield Reading(step, AT, "scripted:")
        finally:
            await asyncio.sleep(0)
            self.closed += 1


def brief(report: Report) -> object:
    match report:
        case Reading():
            return report.distance_mm
        case Link():
            return report.state
    return report


async def everything(driver: Driver, **options: object) -> list[object]:
    return [brief(report) async for report in watch(driver, **options)]


class Naps:
    """Pauses that are noted and take no time."""

    def __init__(self) -> None:
        self.taken: list[float] = []

    async def __call__(self, seconds: float) -> None:
        self.taken.append(seconds)


async def test_a_source_that_ends_is_closed() -> None:
    assert await everything(Scripted([1.0, 2.0])) == [OPEN, 1.0, 2.0, CLOSED]


async def test_a_lost_meter_is_tried_again_and_nothing_is_doubled() -> None:
    driver = Scripted([1.0, 2.0, MeterLost("pulled out")], [3.0])
    seen = await everything(driver, sleep=Naps())
    assert seen == [OPEN, 1.0, 2.0, LOST, OPEN, 3.0, CLOSED]
    assert driver.closed == 2


async def test_the_words_of_a_loss_are_those_of_the_error_and_come_once() -> None:
    missing = [MeterUnreachable("no such port")]
    driver = Scripted([MeterLost("pulled out")], *[missing] * 3, [1.0])
    links = [one async for one in watch(driver, sleep=Naps()) if isinstance(one, Link)]
    assert [link.words for link in links if link.state is LOST] == ["pulled out", "no such port"]
    assert links[1] == Link(LOST, "pulled out", AT, "scripted:")


async def test_pauses_grow_to_the_last_and_begin_anew_once_the_meter_has_spoken() -> None:
    missing, mute = [MeterUnreachable("no such port")], [MeterLost("pulled out")]
    naps = Naps()
    sessions = [missing, missing, mute, missing, [1.0, MeterLost("pulled out")], missing, [2.0]]
    await everything(Scripted(*sessions), pauses_s=(1, 2, 4), sleep=naps)
    assert naps.taken == [1, 2, 4, 4, 1, 2]


async def test_without_retry_the_first_loss_is_the_end() -> None:
    driver = Scripted([1.0, MeterLost("pulled out")], [2.0])
    assert await everything(driver, retry=False) == [OPEN, 1.0, LOST]


async def test_silence_is_told_once_until_something_comes() -> None:
    seen: list[object] = []

    def silence() -> object:
        told = seen.count(QUIET)
        return until(lambda: seen.count(QUIET) > told)

    driver = Scripted([1.0, silence, 2.0, 3.0, silence])
    async for report in watch(driver, quiet_after_s=0.01):
        seen += [brief(report)]
    assert seen == [OPEN, 1.0, QUIET, 2.0, 3.0, QUIET, CLOSED]


async def test_opening_takes_as_long_as_it_takes() -> None:
    class Slow(Scripted):
        async def reports(self) -> AsyncGenerator[Report, None]:
            await asyncio.sleep(0.05)
            async with contextlib.aclosing(super().reports()) as reports:
                async for report in reports:
                    yield report

    assert await everything(Slow([1.0]), quiet_after_s=0.01) == [OPEN, 1.0, CLOSED]


async def test_silence_can_be_left_untold() -> None:
    driver = Scripted([lambda: asyncio.sleep(0.02), 1.0])
    assert await everything(driver, quiet_after_s=None) == [OPEN, 1.0, CLOSED]


@pytest.mark.parametrize("quiet_after_s", [0.001, 30.0])
async def test_closing_or_cancelling_closes_the_driver(quiet_after_s: float) -> None:
    never = asyncio.Event()
    driver = Scripted([1.0, never.wait], [1.0, never.wait])
    async with contextlib.aclosing(watch(driver, quiet_after_s=quiet_after_s)) as reports:
        async for report in reports:
            if brief(report) in {1.0, QUIET}:
                break
    assert driver.closed == 1

    waiting = asyncio.create_task(everything(driver, quiet_after_s=quiet_after_s))
    await until(lambda: driver.begun == 2)
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    assert driver.closed == 2


async def test_a_wrong_source_is_no_loss() -> None:
    with pytest.raises(BadInput, match="line 3"):
        await everything(Scripted([1.0, BadInput("line 3")]), sleep=Naps())


async def test_noise_passes() -> None:
    noise = Noise("hum", AT, "scripted:")

    class Humming(Scripted):
        async def reports(self) -> AsyncGenerator[Report, None]:
            yield self.opened()
            yield noise

    assert await everything(Humming()) == [OPEN, noise, CLOSED]
