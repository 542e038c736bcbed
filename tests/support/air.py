"""A computer's air with simulated meters in it, and what tests do with their reports."""

from __future__ import annotations

import asyncio
import contextlib
import struct
import sys
from collections.abc import AsyncGenerator, Callable
from datetime import UTC, datetime

import pytest
from bleak.exc import BleakError
from needs import needs
from patience import until

from witnessmark.meters.address import Address
from witnessmark.meters.port import Link, LinkState, MeterUnreachable, Report
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import OF_THIS_SYSTEM, Backends
from witnessmark_simulators.bluetooth.gatt import (
    NOTIFY,
    READ,
    Characteristic,
    Descriptor,
    Service,
    short_uuid,
)
from witnessmark_simulators.bluetooth.meters import ADDRESS, FIRE, READINGS, REQUESTS
from witnessmark_simulators.bluetooth.peripheral import Peripheral
from witnessmark_simulators.bluetooth.radio import Radio

ON_A_BUS = [pytest.param("bus", marks=needs("message bus"))] if sys.platform == "linux" else []
"""That the system's own service is simulated, too, as a parameter of a test."""

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)

BINARY_PROFILE = f"""
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

SERVICE, ONE, OTHER, THIRD = (f"5f7a010{n}-3c1d-4b8e-9a52-0d6c1e2f4a10" for n in range(4))
THOUSANDTHS = (0x06, -3, 0x2701, 1, 0x010E)


def notifying(
    uuid: str, form: tuple[int, int, int, int, int] | None = None, flag: str = NOTIFY
) -> Characteristic:
    described = () if form is None else (Descriptor(short_uuid(0x2904), cpf(*form)),)
    return Characteristic(uuid, (READ, flag), descriptors=described)


def cpf(*form: int) -> bytes:
    return struct.pack("<BbHBH", *form)


def meter_of(*characteristics: Characteristic, name: str | None = "Meter") -> Peripheral:
    return Peripheral(ADDRESS, name, (Service(SERVICE, characteristics),), speaks=ONE)


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
        """Give the reports of a driver after it has said that the link is open."""
        async with contextlib.aclosing(self.driver(meter, options).reports()) as reports:
            await told_open(reports)
            yield reports

    async def noticed(self) -> None:
        """Wait until this computer knows whether its radio is on, which a bus tells later."""
        if self.backends is not OF_THIS_SYSTEM:
            return
        from bleak.backends.bluezdbus.manager import get_global_bluez_manager  # noqa: PLC0415

        manager = await get_global_bluez_manager()

        def knows() -> bool:
            try:
                manager.get_default_adapter()
            except BleakError:
                return not self.radio.powered
            return self.radio.powered

        await until(knows)


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


async def refusal(air: Air, meter: Peripheral, options: str = "") -> str:
    with pytest.raises(MeterUnreachable) as caught:
        await anext(air.driver(meter, options).reports())
    return str(caught.value)
