"""The Bluetooth driver through bleak, on the stand-in for the system's service and in memory."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import AsyncGenerator, Iterator
from pathlib import Path
from typing import ClassVar, Self

import pytest
from air import BINARY_PROFILE, bleak_let_go

from witnessmark.meters.address import Address
from witnessmark.meters.testing import AT, ByteRig, with_options
from witnessmark_drivers.ble import BleMeter
from witnessmark_drivers.ble_air import OF_THIS_SYSTEM, Backends
from witnessmark_simulators.bluetooth.memory import memory_backends
from witnessmark_simulators.bluetooth.meters import (
    Speech,
    binary_frame,
    packets,
    simulated_meter,
)
from witnessmark_simulators.bluetooth.radio import Radio
from witnessmark_simulators.meter import Answer

_METER = "ble:C0:FF:EE:00:12:34"
_GARBAGE = (b"\xff", bytes(range(128, 148)), b"\x001512\r\n", b"\xa5\x00\x00\x27\x10\x93")
"""Notifications that mean nothing to a meter of any speech."""


class InTheAir(ByteRig):
    """A meter within reach; plugged in is in range. It is in memory unless ``on_a_bus``."""

    speech: ClassVar[Speech]
    on_a_bus: ClassVar[bool] = False
    garbage = b"".join(_GARBAGE)
    wrong = (
        ("ble:", "write ble:ADDRESS, such as ble:C0"),
        ("ble:my meter", "write ble:ADDRESS, such as ble:C0"),
        (f"{_METER}?unit=ells", 'no unit "ells"; choose mm'),
        (f"{_METER}?baud=9600", 'no option "baud" here; known: unit, profile, within'),
        (f"{_METER}?within=0", "must be seconds, above 0, to 600"),
        (f"{_METER}?within=long", "must be seconds, above 0, to 600"),
        (f"{_METER}?within=nan", "must be seconds, above 0, to 600"),
    )

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        super().__init__(folder, monkeypatch)
        self.meter = simulated_meter(self.speech)
        self._radio = Radio([self.meter])
        self._backends = Backends(*memory_backends(self._radio))
        self._stack = contextlib.AsyncExitStack()

    async def __aenter__(self) -> Self:
        if self.on_a_bus:
            self._backends = OF_THIS_SYSTEM
            await self._stack.enter_async_context(self._service(self._radio))
        return self

    async def __aexit__(self, *_exc: object) -> None:
        await self._stack.aclose()

    @contextlib.asynccontextmanager
    async def _service(self, radio: Radio) -> AsyncGenerator[None, None]:
        from witnessmark_simulators.bluetooth.service import BluetoothService  # noqa: PLC0415

        async with BluetoothService(radio) as service:
            self.monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", service.address)
            yield
        await bleak_let_go()

    @property
    def address(self) -> str:
        return with_options(f"ble:{self.meter.address}", "within=0.3")

    def driver(self) -> BleMeter:
        return BleMeter(Address.parse(self.address), lambda: AT, self._backends)

    def send(self, data: bytes) -> None:
        assert self.meter.send(data)

    def garble(self) -> None:
        for data in _GARBAGE:
            self.send(data)

    def frame(self, mm: float) -> bytes:
        answer = Answer(b"%g mm\r\n" % mm, distance_mm=mm)
        (packet,) = packets(self.speech, answer)
        return packet

    def unplug(self) -> None:
        self.meter.leave()

    def plug_in(self) -> None:
        self.meter.come_back()

    @contextlib.contextmanager
    def occupied(self) -> Iterator[None]:
        self.meter.is_taken = True
        yield
        self.meter.is_taken = False

    @contextlib.asynccontextmanager
    async def forbidden(self) -> AsyncGenerator[None, None]:
        self._radio.permitted = False
        if not self.on_a_bus:
            yield
            return
        async with self._service(self._radio):
            yield


class BluetoothText(InTheAir):
    kind = "bluetooth text"
    speech = Speech.TEXT
    error = b"E7\r\n"
    cut = 3

    def raw(self, mm: float) -> bytes:
        return self.frame(mm).strip()


class BluetoothDescribed(InTheAir):
    kind = "bluetooth described"
    speech = Speech.DESCRIBED
    error = b"\xff\xff\xff\xff"
    cut = 2


class BluetoothFrames(InTheAir):
    kind = "bluetooth by profile"
    speech = Speech.BINARY
    error = binary_frame(None)
    cut = 4
    wrong = (
        (f"{_METER}?profile=never-seen", 'no profile "never-seen" here; known: '),
        (f"{_METER}?profile=any&unit=m", "leave unit out, the profile says it"),
        (f"{_METER}?profile=text-metres", "is not for Bluetooth: it has no table bluetooth"),
    )

    async def __aenter__(self) -> Self:
        self.monkeypatch.setenv("WITNESSMARK_PROFILES", str(self.folder))
        (self.folder / "mine.toml").write_text(BINARY_PROFILE)
        return await super().__aenter__()

    @property
    def address(self) -> str:
        return with_options(super().address, "profile=mine")


def _on_a_bus(rig: type[InTheAir]) -> type[InTheAir]:
    return type(f"{rig.__name__}OnABus", (rig,), {"on_a_bus": True})


IN_MEMORY = (BluetoothText, BluetoothDescribed, BluetoothFrames)
ON_A_BUS = tuple(_on_a_bus(rig) for rig in IN_MEMORY) if sys.platform == "linux" else ()
