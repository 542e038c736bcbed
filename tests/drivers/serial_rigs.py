"""The serial driver on a pseudo-terminal, on TCP, by profile, and with Modbus RTU."""

from __future__ import annotations

import asyncio
import contextlib
import os
import struct
from collections.abc import AsyncGenerator, Callable
from pathlib import Path
from typing import ClassVar, Self

import pytest
import serial

from witnessmark.meters.testing import ByteRig, Reports, Rig, Wrong, denying, with_options
from witnessmark.model import Reading
from witnessmark_simulators.binary import (
    Moment,
    constant,
    counter,
    frame,
    status,
    sum8,
    whole_distance,
)
from witnessmark_simulators.line import Line
from witnessmark_simulators.modbus_slave import ModbusSlave, serving, with_checksum
from witnessmark_simulators.rfc2217 import Rfc2217Line
from witnessmark_simulators.serial_line import SerialLine
from witnessmark_simulators.tcp import TcpLine

HEAD = 'format = "witnessmark profile 1"\n'
_PATHS: Wrong = (
    ("serial:", "no port given; write serial:PORT"),
    ("serial:/dev/ttyUSB0?baud=fast", 'baud "fast" must be a number'),
    ("serial:/dev/ttyUSB0?baud=-9600", 'baud "-9600" must be a number'),
    ("serial:/dev/ttyUSB0?baud=1", 'baud "1" must be a number'),
    ("serial:/dev/ttyUSB0?unit=ells", 'no unit "ells"; choose mm'),
    ("serial:/dev/ttyUSB0?colour=red", 'no option "colour" here; known: baud, unit, profile'),
)
_URLS: Wrong = (
    ("serial:socket://", "write socket://HOST:PORT"),
    ("serial:socket://127.0.0.1", "write socket://HOST:PORT"),
    ("serial:socket://127.0.0.1:0", "with a PORT from 1 to 65535"),
    ("serial:socket://127.0.0.1:99999", "with a PORT from 1 to 65535"),
    ("serial:rfc2217://:5000", "write rfc2217://HOST:PORT"),
    ("serial:carrier-pigeon://home", "no such kind of port; write socket://HOST:PORT"),
)
_PROFILES: Wrong = (
    ("serial:/dev/ttyUSB0?profile=never-seen", 'no profile "never-seen" here; known: '),
    ("serial:/dev/ttyUSB0?profile=text-metres&unit=ft", "leave unit out, the profile says it"),
    ("serial:/dev/ttyUSB0?profile=text-metres&baud=0", 'baud "0" must be a number'),
)


class OnALine(Rig):
    """What is at the end of a simulated line."""

    make_line: ClassVar[Callable[[], Line]] = SerialLine
    profile: ClassVar[str] = ""
    """A profile's text, without its head; nothing where the driver needs none."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(folder, monkeypatch)
        self.line = self.make_line()

    async def __aenter__(self) -> Self:
        self.monkeypatch.setenv("WITNESSMARK_PROFILES", str(self.folder))
        if self.profile:
            (self.folder / "mine.toml").write_text(HEAD + self.profile)
        self.line.plug_in()
        return self

    async def __aexit__(self, *_exc: object) -> None:
        self.line.close()

    @property
    def address(self) -> str:
        return (
            with_options(self.line.address, "profile=mine") if self.profile else self.line.address
        )

    async def taken(self) -> None:
        while isinstance(self.line, SerialLine) and self.line.unread:
            await asyncio.sleep(0.001)

    def unplug(self) -> None:
        self.line.unplug()

    def plug_in(self) -> None:
        self.line.plug_in()

    def occupied(self) -> contextlib.AbstractContextManager[object]:
        return serial.Serial(self.line.port, exclusive=True)

    @contextlib.asynccontextmanager
    async def forbidden(self) -> AsyncGenerator[None, None]:
        with denying(self.monkeypatch, os, "open", self.line.port):
            yield


class SerialText(OnALine, ByteRig):
    kind = "serial text"
    wrong = _PATHS
    error = b"E7\r\n"
    garbage = bytes(range(128, 256)) * 4
    garbage_end = b"\n"
    cut = 3

    def frame(self, mm: float) -> bytes:
        return b"%g mm\r\n" % mm

    def raw(self, mm: float) -> bytes:
        return b"%g mm" % mm

    def send(self, data: bytes) -> None:
        self.line.send(data)


class TcpText(SerialText):
    kind = "tcp text"
    wrong = _URLS
    make_line = TcpLine


class Rfc2217Text(SerialText):
    """The same lines through a bridge that is told the speed of its line."""

    kind = "rfc2217 text"
    wrong = _URLS
    make_line = Rfc2217Line


class SerialPattern(SerialText):
    kind = "serial text by profile"
    wrong = _PROFILES
    profile = """
    [text]
    pattern = 'D=(?P<value>[0-9.]+);(?P<status>[A-Z]+)'
    unit = "m"
    ok = ["OK"]
    faults = { LOW = "too little light comes back" }
    """
    error = b"D=0;LOW\r\n"

    def frame(self, mm: float) -> bytes:
        return b"D=%.4f;OK\r\n" % (mm / 1000)

    def raw(self, mm: float) -> bytes:
        return self.frame(mm).strip()


class SerialPauses(SerialPattern):
    """Text whose lines end with a pause, so that nothing but time parts them."""

    kind = "serial text without line ends"
    profile = SerialPattern.profile + '    ends = ""\n'
    many = 5
    stays_apart = False
    error = b"D=0;LOW"
    garbage = bytes(range(128, 256))
    garbage_end = b""
    cut = 8

    def frame(self, mm: float) -> bytes:
        return super().frame(mm).strip()


PARTS = [
    constant(b"\xa5"),
    counter(1, "little"),
    whole_distance(3, "little", 1.0),
    status(),
    sum8(),
]


class SerialFrames(OnALine, ByteRig):
    """Frames that are found by header and checksum in any stream."""

    kind = "serial frames"
    wrong = _PROFILES
    profile = """
    [serial]
    baud = 19200
    [frame]
    length = 7
    header = "A5"
    distance = { at = 2, order = "little", type = "uint24", unit = "mm" }
    status = { at = 5, ok = ["00"], faults = { 01 = "too little light comes back" } }
    checksum = { kind = "sum8" }
    """
    error = frame(PARTS, Moment(0.0, status=1))
    garbage = b"\x01\x02\xa5\xa5\x00\xff"
    cut = 4

    def frame(self, mm: float) -> bytes:
        return frame(PARTS, Moment(mm, count=int(mm) // 3))

    def send(self, data: bytes) -> None:
        self.line.send(data)


class SerialBursts(SerialFrames):
    """The same frames, told apart by pauses alone."""

    kind = "serial bursts"
    profile = SerialFrames.profile.replace('checksum = { kind = "sum8" }', "")


class TcpFrames(SerialFrames):
    """The same frames through a converter on the network."""

    kind = "tcp frames"
    wrong = _URLS
    make_line = TcpLine


class ModbusRegisters(OnALine):
    """A device that is asked again and again, and shows its last distance until the next.

    What it is to do waits for the coming requests, one thing for each.
    """

    kind = "modbus"
    wrong = _PROFILES
    profile = """
    [modbus]
    register = 4
    type = "float32"
    unit = "m"
    every = 0.05
    only_changes = true
    """
    garbage = bytes(range(9))
    many = 12

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(folder, monkeypatch)
        self.slave = ModbusSlave({3: [0] * 6})
        self.slave.spoil = self._next_answer
        self._coming: list[Callable[[bytes], bytes]] = []
        self._serving = contextlib.ExitStack()
        self._show(1000.0)

    async def __aenter__(self) -> Self:
        await super().__aenter__()
        self._serving.enter_context(serving(self.slave, self.line))
        return self

    async def __aexit__(self, *_exc: object) -> None:
        self._serving.close()
        await super().__aexit__()

    async def settle(self, reports: Reports) -> None:
        assert isinstance(await anext(reports), Reading)

    def _show(self, mm: float) -> None:
        self.slave.set_number(4, struct.pack(">f", mm / 1000))

    def _next_answer(self, right: bytes) -> bytes:
        return self._coming.pop(0)(right) if self._coming else right

    def raw(self, mm: float) -> bytes:
        return with_checksum(b"\x01\x03\x04" + struct.pack(">f", mm / 1000))

    def say(self, mm: float) -> None:
        def show(_right: bytes) -> bytes:
            self._show(mm)
            return self.raw(mm)

        self._coming.append(show)

    def fail(self) -> None:
        self._coming.append(lambda _right: with_checksum(b"\x01\x83\x04"))

    def garble(self) -> None:
        self._coming.append(lambda _right: self.garbage)

    def begin(self, mm: float) -> bytes:
        part = self.raw(mm)[:5]
        self._coming.append(lambda _right: part)
        return part

    def end(self, mm: float) -> None:
        self.line.send(self.raw(mm)[5:])

    def say_byte_by_byte(self, mm: float) -> None:
        def show(_right: bytes) -> bytes:
            self._show(mm)
            for byte in self.raw(mm):
                self.line.send(bytes([byte]))
            return b""

        self._coming.append(show)

    async def taken(self) -> None:
        while self._coming:
            await asyncio.sleep(0.001)
        await super().taken()
