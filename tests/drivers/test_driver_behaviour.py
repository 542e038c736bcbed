"""What every way of reaching a meter that sends text has to do, through pyserial and bleak."""

from __future__ import annotations

import asyncio
import contextlib
import os
import random
import socket
import sys
import tty
from collections.abc import AsyncGenerator
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

import pytest

from witnessmark.meters.address import Address
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import (
    Driver,
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
from witnessmark_drivers.ble import BleMeter
from witnessmark_simulators.bluetooth.line import BluetoothLine
from witnessmark_simulators.bluetooth.meters import Speech, simulated_meter

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)


class Transport(Protocol):
    """The meter's end of a wire. It is plugged in to begin with."""

    address: str

    def driver(self, options: str = "") -> Driver: ...
    def send(self, data: bytes) -> None: ...
    def unplug(self) -> None: ...
    def plug_in(self) -> None: ...


class Serial:
    """What is read by the serial driver."""

    address: str

    def driver(self, options: str = "") -> Driver:
        return open_driver(self.address + options, clock=lambda: AT)


class Pty(Serial):
    """A pseudo-terminal behind a path that stays the same when it is plugged in again."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / "port"
        self.address = f"serial:{self._path}"
        self._master: int | None = None
        self.plug_in()

    def send(self, data: bytes) -> None:
        assert self._master is not None
        os.write(self._master, data)

    def unplug(self) -> None:
        if self._master is not None:
            os.close(self._master)
            self._path.unlink()
        self._master = None

    def plug_in(self) -> None:
        self._master, slave = os.openpty()
        tty.setraw(slave)
        self._path.symlink_to(os.ttyname(slave))
        os.close(slave)


class Tcp(Serial):
    """A converter on the network, for one connection at a time."""

    def __init__(self) -> None:
        self._listening: socket.socket | None = None
        self._connection: socket.socket | None = None
        self._place = ("127.0.0.1", 0)
        self.plug_in()
        self.address = "serial:socket://{}:{}".format(*self._place)

    def send(self, data: bytes) -> None:
        assert self._listening is not None
        if self._connection is None:
            self._connection, _ = self._listening.accept()
        self._connection.sendall(data)

    def unplug(self) -> None:
        for end in (self._connection, self._listening):
            if end is not None:
                end.close()
        self._connection = self._listening = None

    def plug_in(self) -> None:
        self._listening = socket.create_server(self._place)
        self._listening.settimeout(5)
        self._place = self._listening.getsockname()


class Ble:
    """A meter in the air of a Bluetooth service of its own; plugged in is in range."""

    def __init__(self, line: BluetoothLine) -> None:
        self.send, self.plug_in, self.unplug = line.send, line.plug_in, line.unplug
        self.address = f"{line.address}?within=0.3"

    def driver(self, options: str = "") -> Driver:
        address = Address.parse(self.address + options.replace("?", "&"))
        return BleMeter(address, clock=lambda: AT)


@pytest.fixture(params=["pty", "tcp", *(["ble"] if sys.platform == "linux" else [])])
async def wire(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> AsyncGenerator[Transport, None]:
    if request.param == "ble":
        with BluetoothLine(simulated_meter(Speech.TEXT)) as line:
            for name, value in line.environment.items():
                monkeypatch.setenv(name, value)
            yield Ble(line)
        await bleak_let_go()
    else:
        transport = Pty(tmp_path) if request.param == "pty" else Tcp()
        yield transport
        transport.unplug()


async def bleak_let_go() -> None:
    """Wait until bleak has seen that the bus is gone, which it keeps for as long as it can."""
    everything = asyncio.all_tasks()
    watching = [one for one in everything if "BlueZManager" in one.get_coro().__qualname__]
    if watching:
        await asyncio.wait(watching, timeout=5)


def reports_of(wire: Transport, options: str = "") -> AsyncGenerator[Report, None]:
    return wire.driver(options).reports()


@contextlib.asynccontextmanager
async def opened(
    wire: Transport, options: str = ""
) -> AsyncGenerator[AsyncGenerator[Report, None], None]:
    """The reports of a driver after it has said that the link is open; fails rather than hangs."""
    async with asyncio.timeout(20), contextlib.aclosing(reports_of(wire, options)) as reports:
        link = await anext(reports)
        assert isinstance(link, Link)
        assert link.state is LinkState.OPEN
        yield reports


async def take(reports: AsyncGenerator[Report, None], count: int) -> list[Report]:
    return [await anext(reports) for _ in range(count)]


async def test_readings_come_in_order_each_once(wire: Transport) -> None:
    async with opened(wire) as reports:
        for mm in range(1000, 1300):
            wire.send(b"%d mm\r\n" % mm)
        seen = await take(reports, 300)
    assert [one.distance_mm for one in seen if isinstance(one, Reading)] == list(range(1000, 1300))


async def test_a_reading_says_when_from_where_and_what_came(wire: Transport) -> None:
    async with opened(wire) as reports:
        wire.send(b"1.512 m\r\n")
        assert await anext(reports) == Reading(1512.0, AT, wire.address, b"1.512 m")


async def test_a_bare_number_is_in_the_unit_of_the_address(wire: Transport) -> None:
    async with opened(wire, "?unit=m") as reports:
        wire.send(b"2.514\r\n")
        reading = await anext(reports)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(2514.0)


async def test_a_bare_number_too_small_for_mm_is_no_distance(wire: Transport) -> None:
    async with opened(wire) as reports:
        wire.send(b"2.514\r\n")
        noise = await anext(reports)
    assert isinstance(noise, Noise)
    assert "?unit=m" in noise.why


async def test_frames_may_come_together_or_byte_by_byte(wire: Transport) -> None:
    async with opened(wire) as reports:
        wire.send(b"1512\n1513\r\n1514\r")
        together = await take(reports, 3)
        for byte in b"1.515 m\r\n":
            wire.send(bytes([byte]))
            await asyncio.sleep(0)
        apart = await anext(reports)
    seen = [one.distance_mm for one in [*together, apart] if isinstance(one, Reading)]
    assert seen == pytest.approx([1512.0, 1513.0, 1514.0, 1515.0])


async def test_an_error_of_the_meter_is_a_fault_and_no_distance(wire: Transport) -> None:
    async with opened(wire) as reports:
        wire.send(b"E204\r\nError: no return\r\n1512\r\n")
        seen = await take(reports, 3)
    assert seen[:2] == [
        Fault("E204", AT, wire.address, b"E204"),
        Fault("Error: no return", AT, wire.address, b"Error: no return"),
    ]
    assert isinstance(seen[2], Reading)


@pytest.mark.parametrize("seed", range(3))
async def test_garbage_is_told_and_never_a_distance(wire: Transport, seed: int) -> None:
    garbage = bytes(random.Random(seed).choices(range(128, 256), k=500))
    async with opened(wire) as reports:
        wire.send(garbage)
        wire.send(b"\n1512\n")
        told = bytearray()
        while isinstance(report := await anext(reports), Noise):
            told += report.raw
    assert told == garbage
    assert isinstance(report, Reading)


async def test_a_frame_that_breaks_off_never_joins_the_next(wire: Transport) -> None:
    async with opened(wire) as reports:
        wire.send(b"1.5")
        assert await anext(reports) == Noise("the line broke off", AT, wire.address, b"1.5")
        wire.send(b"2.345 m\r\n")
        reading = await anext(reports)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(2345.0)


async def test_the_late_rest_of_a_frame_is_no_distance(wire: Transport) -> None:
    async with opened(wire) as reports:
        wire.send(b"1")
        assert isinstance(await anext(reports), Noise)
        wire.send(b"512 mm\r\n1513 mm\r\n")
        rest, whole = await take(reports, 2)
    assert isinstance(rest, Noise)
    assert isinstance(whole, Reading)


async def test_unplugging_in_mid_frame_loses_the_meter_and_makes_no_distance(
    wire: Transport,
) -> None:
    async with opened(wire) as reports:
        wire.send(b"1512\r\n1.513 m")
        assert isinstance(await anext(reports), Reading)
        wire.unplug()
        cut = await anext(reports)
        assert isinstance(cut, Noise)
        assert cut.raw == b"1.513 m"
        with pytest.raises(MeterLost, match=r"the meter is gone; (plug it in|switch it on)"):
            await anext(reports)


async def test_a_meter_that_is_not_there_is_unreachable(wire: Transport) -> None:
    wire.unplug()
    with pytest.raises(MeterUnreachable, match=r"no such port|nothing answers|no such meter"):
        await anext(reports_of(wire))


async def test_plugging_in_again_carries_on(wire: Transport) -> None:
    driver = wire.driver()
    watching = watch(driver, pauses_s=(0.01,))
    async with asyncio.timeout(20), contextlib.aclosing(watching) as reports:
        assert await told_state(reports) is LinkState.OPEN
        for mm in (1512, 1513):
            wire.send(b"%d\r\n" % mm)
            reading = await anext(reports)
            assert isinstance(reading, Reading)
            assert reading.distance_mm == mm
            wire.unplug()
            assert await told_state(reports) is LinkState.LOST
            assert await told_state(reports) is LinkState.LOST  # in other words: no such port
            wire.plug_in()
            assert await told_state(reports) is LinkState.OPEN


async def told_state(reports: AsyncGenerator[Report, None]) -> LinkState:
    report = await anext(reports)
    assert isinstance(report, Link)
    return report.state


async def test_silence_is_a_state_and_no_loss(wire: Transport) -> None:
    driver = wire.driver()
    watching = watch(driver, quiet_after_s=0.05)
    async with asyncio.timeout(20), contextlib.aclosing(watching) as reports:
        assert await told_state(reports) is LinkState.OPEN
        assert await told_state(reports) is LinkState.QUIET
        wire.send(b"1512\r\n")
        assert isinstance(await anext(reports), Reading)
        assert await told_state(reports) is LinkState.QUIET


async def test_closing_while_reading_frees_the_port(wire: Transport) -> None:
    for _ in range(2):
        async with opened(wire):
            pass


async def test_cancelling_while_reading_frees_the_port(wire: Transport) -> None:
    async with opened(wire) as reports:
        waiting = asyncio.create_task(anext(reports))
        await asyncio.sleep(0)
        waiting.cancel()
        with pytest.raises(asyncio.CancelledError):
            await waiting
    async with opened(wire):
        pass
