"""Finding meters, and being told why there are none."""

from __future__ import annotations

import os
import sys
from collections.abc import AsyncGenerator, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from pathlib import Path

import pytest
from air import ON_A_BUS, MakeAir, bleak_let_go
from needs import needs

from witnessmark.meters.address import Address
from witnessmark.meters.port import FoundMeter, MeterUnreachable
from witnessmark_drivers import ble
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import in_range
from witnessmark_simulators.bluetooth.bus import PrivateBus
from witnessmark_simulators.bluetooth.line import BluetoothLine
from witnessmark_simulators.bluetooth.meters import ADDRESS, Speech, simulated_meter
from witnessmark_simulators.bluetooth.peripheral import Peripheral

SCAN_S = 0.2


def heard(address: str, name: str | None, rssi: int) -> Peripheral:
    return Peripheral(address, name, (), speaks="", rssi=rssi)


async def test_meters_are_listed_with_name_and_signal_strongest_first(air_of: MakeAir) -> None:
    meters = [
        heard("C0:00:00:00:00:01", "Far", -90),
        heard("C0:00:00:00:00:02", "Near", -45),
        heard("C0:00:00:00:00:03", None, -75),
        heard("C0:00:00:00:00:04", None, -40),
        heard("C0:00:00:00:00:05", "In the room", -70),
        heard("C0:00:00:00:00:06", "Away", -50),
    ]
    meters[-1].leave()
    async with air_of(*meters) as air:
        found = await in_range(SCAN_S, air.backends)
    assert found == [
        FoundMeter(
            "ble:C0:00:00:00:00:04",
            "Bluetooth: a device without a name, very near, signal strong (-40 dBm)",
        ),
        FoundMeter("ble:C0:00:00:00:00:02", "Bluetooth: Near, signal strong (-45 dBm)"),
        FoundMeter("ble:C0:00:00:00:00:05", "Bluetooth: In the room, signal fair (-70 dBm)"),
        FoundMeter("ble:C0:00:00:00:00:01", "Bluetooth: Far, signal weak (-90 dBm)"),
    ]


async def test_an_empty_air_is_an_empty_list(air_of: MakeAir) -> None:
    async with air_of() as air:
        assert await in_range(SCAN_S, air.backends) == []


REASONS = [
    ({"present": False}, "this computer has no Bluetooth radio"),
    ({"powered": False}, "Bluetooth is switched off; switch it on"),
    ({"permitted": False}, "Bluetooth is not permitted for this program; allow it"),
]


@pytest.mark.parametrize(("facts", "words"), REASONS)
async def test_why_nothing_can_be_found_is_told(
    air_of: MakeAir, facts: dict[str, bool], words: str
) -> None:
    meter = simulated_meter(Speech.TEXT)
    async with air_of(meter, **facts) as air:
        with pytest.raises(MeterUnreachable, match=words):
            await in_range(SCAN_S, air.backends)
        with pytest.raises(MeterUnreachable, match=words):
            await anext(air.driver(meter).reports())


BUS = needs("message bus")
linux = pytest.mark.skipif(sys.platform != "linux", reason="the bus is Linux's")

Surroundings = Callable[[], AbstractAsyncContextManager[str]]
"""Gives the address of a bus."""


@asynccontextmanager
async def no_bus() -> AsyncGenerator[str, None]:
    yield "unix:path=/nowhere/bus"


@asynccontextmanager
async def no_service() -> AsyncGenerator[str, None]:
    with PrivateBus() as bus:
        yield bus.address
    await bleak_let_go()


@asynccontextmanager
async def not_let_in() -> AsyncGenerator[str, None]:
    with PrivateBus(lets_in=False) as bus:
        yield bus.address


@linux
@pytest.mark.parametrize(
    ("surroundings", "words"),
    [
        (no_bus, "Bluetooth service is not running; start it"),
        pytest.param(no_service, "Bluetooth service is not running; start it", marks=BUS),
        pytest.param(not_let_in, "Bluetooth is not permitted for this program", marks=BUS),
    ],
)
async def test_a_system_without_its_service_says_so(
    monkeypatch: pytest.MonkeyPatch, surroundings: Surroundings, words: str
) -> None:
    async with surroundings() as address:
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", address)
        with pytest.raises(MeterUnreachable, match=words):
            await in_range(SCAN_S)
        with pytest.raises(MeterUnreachable, match=words):
            await anext(BleMeter(Address.parse(f"ble:{ADDRESS}")).reports())


@linux
def test_a_missing_dbus_daemon_is_told_with_how_to_install_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("PATH", os.devnull)
    line = BluetoothLine(simulated_meter(Speech.TEXT))
    with pytest.raises(MeterUnreachable, match="apt-get install dbus"), line:
        pass


@linux
def test_a_dbus_daemon_that_does_not_start_is_told_with_its_reason(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    program = tmp_path / "dbus-daemon"
    program.write_text("#!/bin/sh\necho no room for it >&2\nexit 1\n")
    program.chmod(0o700)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(MeterUnreachable, match=r"does not start .*no room for it"), PrivateBus():
        pass


@pytest.mark.parametrize("air_of", ON_A_BUS, indirect=True)
async def test_a_meter_that_a_dead_program_left_connected_is_found(air_of: MakeAir) -> None:
    from dbus_fast import Message  # noqa: PLC0415 - on Linux alone
    from dbus_fast.aio import MessageBus  # noqa: PLC0415

    meter = simulated_meter(Speech.TEXT)
    async with air_of(meter) as air:
        path = f"/org/bluez/hci0/dev_{meter.address.replace(':', '_')}"
        other = await MessageBus(bus_address=os.environ["DBUS_SYSTEM_BUS_ADDRESS"]).connect()
        await other.call(Message("org.bluez", path, "org.bluez.Device1", "Connect"))
        other.disconnect()
        assert meter.connected
        async with air.opened(meter, "?within=0.2") as reports:
            meter.send(b"1512 mm\r\n")
            assert await anext(reports)
        assert not meter.connected


async def test_discovery_asks_for_a_few_seconds_of_the_systems_air(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    asked: list[float] = []

    async def noted(seconds: float) -> list[FoundMeter]:
        asked.append(seconds)
        return []

    monkeypatch.setattr(ble, "in_range", noted)
    with pytest.raises(MeterUnreachable, match="Bluetooth works, and no meter is in range"):
        await BleMeter.discover()
    assert 2 <= asked[0] <= 10
