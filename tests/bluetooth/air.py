"""A computer's air with simulated meters in it, and what tests do with their reports."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import AsyncGenerator, Callable
from datetime import UTC, datetime

from witnessmark.meters.address import Address
from witnessmark.meters.port import Link, LinkState, Report
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import Backends
from witnessmark_simulators.bluetooth.peripheral import Peripheral
from witnessmark_simulators.bluetooth.radio import Radio

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)


class Air:
    """A radio, and how a driver comes to it."""

    def __init__(self, radio: Radio, backends: Backends) -> None:
        self.radio = radio
        self.backends = backends

    def driver(self, meter: Peripheral, options: str = "") -> BleMeter:
        address = Address.parse(f"ble:{meter.address}{options}")
        return BleMeter(address, clock=lambda: AT, backends=self.backends)

    @contextlib.asynccontextmanager
    async def opened(
        self, meter: Peripheral, options: str = ""
    ) -> AsyncGenerator[AsyncGenerator[Report, None], None]:
        """The reports of a driver after it has said that the link is open."""
        async with contextlib.aclosing(self.driver(meter, options).reports()) as reports:
            await told_open(reports)
            yield reports


MakeAir = Callable[..., contextlib.AbstractAsyncContextManager[Air]]
"""Takes the peripherals, and as keywords what a radio takes."""


async def bleak_let_go() -> None:
    """Wait until bleak has seen that the bus is gone, which it keeps for as long as it can."""
    watching = [
        task
        for task in asyncio.all_tasks()
        if "BlueZManager" in getattr(task.get_coro(), "__qualname__", "")
    ]
    if watching:
        await asyncio.wait(watching, timeout=5)


async def take(reports: AsyncGenerator[Report, None], count: int) -> list[Report]:
    return [await anext(reports) for _ in range(count)]


async def told_open(reports: AsyncGenerator[Report, None]) -> str:
    link = await anext(reports)
    assert isinstance(link, Link)
    assert link.state is LinkState.OPEN
    return link.words
