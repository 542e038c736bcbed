"""A simulated meter on Bluetooth as a line like any other: plugged in is in range."""

from __future__ import annotations

import asyncio
import sys
import threading
from collections.abc import Callable
from queue import SimpleQueue

from witnessmark.meters.port import MeterUnreachable
from witnessmark_simulators.bluetooth.peripheral import Peripheral
from witnessmark_simulators.bluetooth.radio import Radio
from witnessmark_simulators.line import Line

_PACKET = 20


class BluetoothLine(Line):
    """The stand-in service with one meter, in a thread of its own (Linux).

    It is entered with the service running, and left with it ended. Bytes are cut into packets.
    What is written to the meter as a request is received here.

    Raises:
        MeterUnreachable: on another system, and from entering when ``dbus-daemon`` is missing.
    """

    def __init__(self, peripheral: Peripheral) -> None:
        if sys.platform != "linux":
            raise MeterUnreachable(
                "simulated Bluetooth needs Linux; "
                "here use a simulated meter on TCP: witnessmark simulate tcp"
            )
        # what it is made of is there on Linux alone
        from witnessmark_simulators.bluetooth.service import BluetoothService  # noqa: PLC0415

        self._peripheral = peripheral
        self._written = SimpleQueue[bytes]()
        peripheral.on_write = self._written.put
        self._service = BluetoothService(Radio([peripheral]))
        self._plugged_in = False
        self._running: tuple[asyncio.AbstractEventLoop, threading.Thread] | None = None

    @property
    def address(self) -> str:
        """The meter's address, such as ``ble:C0:FF:EE:00:12:34``."""
        return f"ble:{self.port}"

    @property
    def port(self) -> str:
        """The meter's Bluetooth address."""
        return self._peripheral.address

    @property
    def environment(self) -> dict[str, str]:
        """What makes a program meet this service instead of the system's."""
        return {"DBUS_SYSTEM_BUS_ADDRESS": self._service.address}

    @property
    def plugged_in(self) -> bool:
        """Whether the meter is in range."""
        return self._plugged_in

    def plug_in(self) -> None:
        """Start the service when there is none yet; be in range."""
        if self._running is None:
            self._running = self._started()
        self._plugged_in = True
        self._do(self._peripheral.come_back)

    def unplug(self) -> None:
        """Leave the range of the computer, which cuts the link."""
        self._plugged_in = False
        self._do(self._peripheral.leave)

    def send(self, raw: bytes) -> None:
        """Notify bytes, packet by packet, to whoever has subscribed."""
        for start in range(0, len(raw), _PACKET):
            self._do(self._peripheral.send, raw[start : start + _PACKET])

    def receive(self) -> bytes:
        """Return what has been written to the meter, if anything."""
        return b"" if self._written.empty() else self._written.get()

    def close(self) -> None:
        """Go out of range for good and end the service."""
        self.unplug()
        if self._running is not None:
            loop, thread = self._running
            self._running = None
            asyncio.run_coroutine_threadsafe(self._service.__aexit__(), loop).result()
            _end(loop, thread)

    def _do(self, deed: Callable[..., object], *arguments: object) -> None:
        """Have the service's thread do something, in the order in which it was asked."""
        if self._running is not None:
            self._running[0].call_soon_threadsafe(deed, *arguments)

    def _started(self) -> tuple[asyncio.AbstractEventLoop, threading.Thread]:
        loop = asyncio.new_event_loop()
        thread = threading.Thread(target=loop.run_forever, name="simulated Bluetooth")
        thread.start()
        try:
            asyncio.run_coroutine_threadsafe(self._service.__aenter__(), loop).result()
        except BaseException:
            _end(loop, thread)
            raise
        return loop, thread


def _end(loop: asyncio.AbstractEventLoop, thread: threading.Thread) -> None:
    loop.call_soon_threadsafe(loop.stop)
    thread.join()
    loop.close()
