"""What is particular to registers that are asked for, through pyserial and pymodbus.

What such a meter has in common with every other is in ``test_driver_behaviour``.
"""

from __future__ import annotations

import asyncio
import contextlib
import socket
import struct
import threading
from collections.abc import AsyncGenerator, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from patience import HUNG_S

from witnessmark.errors import BadInput
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import (
    CanFire,
    Fault,
    Link,
    LinkState,
    MeterLost,
    MeterUnreachable,
    Noise,
    Report,
)
from witnessmark.model import Reading
from witnessmark_simulators.modbus_slave import ModbusSlave, serving
from witnessmark_simulators.serial_line import SerialLine

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)

PROFILE = """
format = "witnessmark profile 1"
[serial]
line = "8E1"
[modbus]
register = 4
type = "float32"
unit = "m"
every = 0.05
"""
HASTY = PROFILE + "answer_within = 0.15\n"


@pytest.fixture
def slave() -> ModbusSlave:
    slave = ModbusSlave({3: [0] * 10, 4: [0] * 10})
    slave.set_number(4, struct.pack(">f", 2.514))
    return slave


@pytest.fixture
def line(slave: ModbusSlave) -> Iterator[SerialLine]:
    with SerialLine() as line, serving(slave, line):
        yield line


@pytest.fixture
def profiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(tmp_path))
    return tmp_path


@contextlib.asynccontextmanager
async def opened(
    line: SerialLine, profiles: Path, profile: str = PROFILE
) -> AsyncGenerator[AsyncGenerator[Report, None], None]:
    (profiles / "mine.toml").write_text(profile)
    driver = open_driver(f"{line.address}?profile=mine", clock=lambda: AT)
    async with contextlib.aclosing(driver.reports()) as reports:
        link = await anext(reports)
        assert isinstance(link, Link)
        assert link.state is LinkState.OPEN
        yield reports


async def distance_mm(reports: AsyncGenerator[Report, None]) -> float:
    report = await anext(reports)
    assert isinstance(report, Reading), report
    return report.distance_mm


async def readings_to_the_end(reports: AsyncGenerator[Report, None]) -> None:
    async for report in reports:
        assert isinstance(report, Reading)


async def test_each_answer_is_a_reading(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    async with opened(line, profiles) as reports:
        assert await distance_mm(reports) == pytest.approx(2514, abs=1e-3)
        slave.set_number(4, struct.pack(">f", 3.25))
        # the answer before may have been on its way already
        later = [await distance_mm(reports) for _ in range(3)]
    assert later[-1] == 3250


async def test_input_registers_signed_low_word_first_and_scaled(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    slave.registers[4][2:4] = [0x86A0, 0x0001]  # 100000, low word first
    profile = """
format = "witnessmark profile 1"
[modbus]
function = 4
register = 2
type = "int32"
word_order = "little"
unit = "mm"
scale = 0.1
"""
    async with opened(line, profiles, profile) as reports:
        assert await distance_mm(reports) == 10_000.0
    assert slave.requests[0].startswith(bytes.fromhex("01 04 00 02 00 02"))


async def test_what_an_exception_says_is_a_fault(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    del slave.registers[3][5:]
    async with opened(line, profiles) as reports:
        fault = await anext(reports)
    assert isinstance(fault, Fault)
    assert fault.fault == "device 1: it has no such register (Modbus 02)"


@pytest.mark.parametrize("value", [b"\x7f\xc0\0\0", b"\xbf\x80\0\0", b"\0\0\0\0", b"\x42\xc9\0\0"])
async def test_a_number_that_is_no_distance_is_none(
    line: SerialLine, slave: ModbusSlave, profiles: Path, value: bytes
) -> None:
    slave.set_number(4, value)  # not a number, -1 m, 0, 100.5 m
    async with opened(line, profiles) as reports:
        assert isinstance(await anext(reports), Noise)


async def test_an_error_number_in_the_registers_is_a_fault(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    slave.set_number(4, struct.pack(">f", 99.999))
    limits = 'shortest = "50 mm"\nlongest = "60 m"\nfault_values = ["99.999 m"]\n'
    async with opened(line, profiles, PROFILE + limits) as reports:
        assert isinstance(fault := await anext(reports), Fault)
        assert "99999 mm, which this meter sends when it cannot measure" in fault.fault
        slave.set_number(4, struct.pack(">f", 0.015))
        while isinstance(noise := await anext(reports), Fault):
            pass
    assert isinstance(noise, Noise)
    assert "under 50 mm, the shortest that this meter measures" in noise.why


@pytest.mark.parametrize(
    "spoil",
    [
        lambda answer: answer[:-1] + bytes([answer[-1] ^ 1]),
        lambda answer: answer[:-2] + answer[-2:][::-1],
        lambda answer: answer[:5],
        lambda answer: answer + b"\0",
        lambda answer: b"\0" + answer,
        lambda answer: b"\x02" + answer[1:],
    ],
    ids=["checksum", "checksum swapped", "cut", "longer", "shifted", "another device"],
)
async def test_a_spoilt_answer_is_no_distance(
    line: SerialLine, slave: ModbusSlave, profiles: Path, spoil: type[bytes]
) -> None:
    slave.spoil = spoil
    async with opened(line, profiles) as reports:
        for _ in range(2):
            assert isinstance(await anext(reports), Noise)
        slave.spoil = bytes
        while isinstance(report := await anext(reports), Noise):
            pass
    assert isinstance(report, Reading)
    assert report.distance_mm == pytest.approx(2514, abs=1e-3)


async def test_an_adapter_that_echoes_does_no_harm(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    slave.spoil = lambda answer: slave.requests[-1] + answer
    async with opened(line, profiles) as reports:
        assert await distance_mm(reports) == pytest.approx(2514, abs=1e-3)


async def test_the_status_register_goes_before_the_number(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    status = 'status = { register = 9, ok = [7], faults = { 2 = "too little light" } }'
    slave.registers[3][9] = 2
    async with opened(line, profiles, PROFILE + status) as reports:
        assert await anext(reports) == Fault(
            "too little light",
            AT,
            f"{line.address}?profile=mine",
            slave.answer(bytes.fromhex("01 03 00 09 00 01 54 08")),
        )
        slave.registers[3][9] = 5
        while (fault := await anext(reports)) and "light" in getattr(fault, "fault", ""):
            pass
        assert isinstance(fault, Fault)
        assert fault.fault == "the meter's status is 5"
        slave.registers[3][9] = 7
        while isinstance(report := await anext(reports), Fault):
            pass
    assert isinstance(report, Reading)


async def test_only_changes_leaves_out_what_was_shown_before(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    async with opened(line, profiles, PROFILE + "only_changes = true") as reports:
        assert await distance_mm(reports) == pytest.approx(2514, abs=1e-3)
        asked = len(slave.requests)
        while len(slave.requests) < asked + 3:
            await asyncio.sleep(0.01)
        slave.set_number(4, struct.pack(">f", 2.0))
        assert await distance_mm(reports) == 2000


async def test_a_spoilt_answer_does_not_bring_the_last_shot_again(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    async with opened(line, profiles, PROFILE + "only_changes = true") as reports:
        assert await distance_mm(reports) == pytest.approx(2514, abs=1e-3)
        slave.spoil = lambda answer: answer[:5]
        assert isinstance(await anext(reports), Noise)
        slave.spoil = bytes
        asked = len(slave.requests)
        while len(slave.requests) < asked + 3:
            await asyncio.sleep(0.01)
        slave.set_number(4, struct.pack(">f", 2.0))
        while isinstance(report := await anext(reports), Noise):
            pass
        assert isinstance(report, Reading)
        assert report.distance_mm == 2000


async def test_a_device_that_never_answers_is_unreachable(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    slave.device = 2
    with pytest.raises(MeterUnreachable, match="the device does not answer"):
        async with opened(line, profiles, HASTY):
            pass


async def test_a_device_that_falls_silent_is_lost(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    async with opened(line, profiles, HASTY) as reports:
        await distance_mm(reports)
        slave.spoil = lambda _answer: b""
        with pytest.raises(MeterLost, match="the device does not answer"):
            await readings_to_the_end(reports)


MOST_ROUNDS = 12
"""Rounds within which a device must have been given its time: each that is late gives it more."""


def shown(slave: ModbusSlave, number: int) -> None:
    slave.set_number(4, struct.pack(">f", 1.0 + number))


@pytest.mark.parametrize("takes_s", [0.25, 0.8], ids=["late", "later than it is waited for"])
async def test_a_late_answer_is_never_taken_for_the_next(
    line: SerialLine, slave: ModbusSlave, profiles: Path, takes_s: float
) -> None:
    (profiles / "mine.toml").write_text(HASTY.replace("every = 0.05", "every = 3600"))
    driver = open_driver(f"{line.address}?profile=mine", clock=lambda: AT)
    assert isinstance(driver, CanFire)
    slave.takes_s = takes_s
    shown(slave, 0)
    seen, late = [], []
    async with contextlib.aclosing(driver.reports()) as reports:
        # on a busy machine the device may be slower still than it was, and is given more time again
        for number in range(MOST_ROUNDS):
            late.append(0)
            while not isinstance(report := await anext(reports), Reading):
                late[-1] += isinstance(report, Noise)
            seen.append(report.distance_mm)
            if len(seen) >= 4 and not late[-1]:
                break
            shown(slave, number + 1)
            driver.fire()
    assert seen == [1000.0 * (1 + number) for number in range(len(seen))]
    assert late[0] > 0
    assert late[-1] == 0  # the device is given its time by now


async def test_the_late_answer_about_the_status_is_no_distance(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    profile = HASTY.replace('"float32"', '"uint16"').replace('"m"', '"mm"')
    status = "status = { register = 9, ok = [700] }"
    slave.registers[3][9], slave.registers[3][4] = 700, 1512
    slave.takes_s = 0.25
    async with opened(line, profiles, profile + status) as reports:
        while not isinstance(report := await anext(reports), Reading):
            pass
    assert report.distance_mm == 1512.0


async def test_bytes_that_nobody_asked_for_are_noise(line: SerialLine, profiles: Path) -> None:
    slow = PROFILE.replace("every = 0.05", "every = 60")
    async with opened(line, profiles, slow) as reports:
        await distance_mm(reports)
        line.send(bytes.fromhex("01 03 04 40 20 E5 60"))
        assert isinstance(await anext(reports), Noise)


async def test_it_is_asked_at_once_when_told_to(
    line: SerialLine, slave: ModbusSlave, profiles: Path
) -> None:
    (profiles / "mine.toml").write_text(PROFILE.replace("every = 0.05", "every = 3600"))
    driver = open_driver(f"{line.address}?profile=mine")
    async with contextlib.aclosing(driver.reports()) as reports:
        await anext(reports)
        await distance_mm(reports)
        slave.set_number(4, struct.pack(">f", 1.5))
        assert hasattr(driver, "fire")
        driver.fire()
        assert await distance_mm(reports) == 1500


@pytest.mark.parametrize("name", ["modbus-float-metres", "modbus-millimetres"])
async def test_the_shipped_profiles_read(line: SerialLine, slave: ModbusSlave, name: str) -> None:
    number = struct.pack(">f", 2.5) if "float" in name else struct.pack(">I", 2500)
    slave.set_number(0, number)
    driver = open_driver(f"{line.address}?profile={name}")
    async with contextlib.aclosing(driver.reports()) as reports:
        await anext(reports)
        assert await distance_mm(reports) == 2500


def test_a_profile_for_bluetooth_is_refused(profiles: Path) -> None:
    text = 'format = "witnessmark profile 1"\n[text]\n[bluetooth]\ncharacteristic = "2ac5"\n'
    (profiles / "mine.toml").write_text(text)
    with pytest.raises(BadInput, match='profile "mine" is for Bluetooth'):
        open_driver("serial:/dev/ttyUSB0?profile=mine")


async def test_a_line_that_never_falls_silent_can_be_closed(profiles: Path) -> None:
    (profiles / "mine.toml").write_text(PROFILE)
    with socket.create_server(("127.0.0.1", 0)) as server:
        host, port = server.getsockname()
        flooding = threading.Thread(target=flood, args=(server,))
        flooding.start()
        driver = open_driver(f"serial:socket://{host}:{port}?profile=mine")
        async with asyncio.timeout(HUNG_S), contextlib.aclosing(driver.reports()) as reports:
            async for report in reports:
                if isinstance(report, Noise):
                    assert len(report.raw) <= 9000
                    break
    flooding.join()


def flood(server: socket.socket) -> None:
    """Send one who connects bytes that nobody asked for, until it closes."""
    connection, _ = server.accept()
    with connection, contextlib.suppress(OSError):
        while True:
            connection.sendall(b"x" * 10_000)
