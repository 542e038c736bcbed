"""``serial:PORT``: a meter on a serial line, which sends lines of text or is read by a profile.

PORT is a device path, a COM name, or a URL that pyserial knows: ``socket://HOST:PORT`` for a
converter on the network, ``rfc2217://HOST:PORT``. In its place the serial number of a USB adapter
may stand (``serial:?adapter=NUMBER``), which stays when the port's name changes. Options: ``baud``
(9600, or the profile's), ``unit`` (of numbers without one), ``profile``.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import AsyncGenerator, Iterator
from queue import SimpleQueue
from typing import TYPE_CHECKING

import msgspec
from serial.tools import list_ports
from serial.tools.list_ports_common import ListPortInfo

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.capture import Question, RawFrame
from witnessmark.meters.port import (
    Clock,
    Driver,
    FoundMeter,
    Link,
    MeterUnreachable,
    Report,
    utc_now,
)
from witnessmark.meters.profile import Modbus, Profile, Request, Serial
from witnessmark.meters.profile_values import Baud
from witnessmark.meters.text import LineReader, unit_option
from witnessmark_drivers.asking import Asking
from witnessmark_drivers.in_thread import iterate_in_thread
from witnessmark_drivers.serial_port import (
    Port,
    check_port,
    opened_port,
    read_pieces,
    splitter_for,
)
from witnessmark_drivers.serial_profile import (
    begin_decoding,
    profile_option,
    read_by_decoder,
    read_raw,
)

if TYPE_CHECKING:  # pymodbus is loaded only for a meter that needs it
    from witnessmark_drivers.modbus import RegisterReader


class SerialText(Driver):
    """Lines of text, or what a profile knows, from a serial port or a pyserial URL.

    It fills ``CanFire`` and ``OffersRawFrames``.
    """

    scheme = "serial"

    def __init__(self, address: Address, clock: Clock = utc_now) -> None:
        """Check port and options, and load the profile.

        Raises:
            BadInput: when the address cannot be right, or the profile is wrong.
        """
        super().__init__(address, clock)
        address.allow_options("baud", "unit", "profile", "adapter")
        self._adapter = address.options.get("adapter")
        self._named = address.target or f"adapter {self._adapter}"
        if self._adapter is None or address.target:
            check_port(address.target)
        if self._adapter is not None and address.target:
            raise BadInput(
                f'meter address "{address.text}": give the port or its adapter, not both'
            )
        self._profile = profile_option(address)
        self._serial = _settings(address, self._profile)
        self._unit = unit_option(address)
        self._asking = Asking(_every_s(self._profile))
        self._requests = SimpleQueue[bytes]()
        self._registers: RegisterReader | None = None

    @property
    def waits(self) -> bool:
        """Whether the profile has a request that is not made again by itself."""
        return self._serial.request is not None and self._serial.request.every is None

    def fire(self) -> None:
        """Make the meter measure now, where its profile says how."""
        self._asking.hurry()

    async def reports(self) -> AsyncGenerator[Report, None]:
        """Open the port in a thread of its own and report what comes."""
        name = f"reading {self._named}"
        async with contextlib.aclosing(iterate_in_thread(self._read, name)) as reports:
            async for report in reports:
                yield report

    async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        """Open the port in a thread of its own and yield what comes, undecoded."""
        self._requests = SimpleQueue()
        name = f"listening to {self._named}"
        async with contextlib.aclosing(iterate_in_thread(self._listen, name)) as frames:
            async for frame in frames:
                yield frame

    def ask(self, question: Question) -> None:
        """Write a request to the line, while it is listened to.

        Raises:
            BadInput: when it is to go to a Bluetooth characteristic.
        """
        self._requests.put(self._allowed(question).data)

    def transport(self, channel: str, question: Question | None = None) -> Serial:
        """Return the table of a profile for this line, with the request.

        Raises:
            BadInput: when that is to go to a Bluetooth characteristic.
        """
        request = self._allowed(question) if question else None
        return msgspec.structs.replace(self._serial, request=request)

    def _allowed(self, question: Question) -> Request:
        if question.characteristic is not None:
            raise BadInput(
                f"{self.address.target}: a serial line has no characteristics; leave "
                f"{question.characteristic} out"
            )
        return question.request

    def _opened_port(self) -> contextlib.AbstractContextManager[Port]:
        port = self.address.target if self._adapter is None else _port_of(self._adapter)
        return opened_port(port, self._serial.baud, self._serial.line)

    def _read(self, stop: threading.Event) -> Iterator[Report]:
        with self._opened_port() as line:
            if self._profile is None:
                yield from self._read_lines(line, stop)
            elif self._profile.modbus:
                yield from self._poll(line, self._profile.modbus, stop)
            else:
                yield from self._decode(line, self._profile, stop)

    def _is_open(self) -> Link:
        over = " over the network" if self.address.network_host else ""
        return self.opened(f"{self._named} is open{over}")

    def _read_lines(self, line: Port, stop: threading.Event) -> Iterator[Report]:
        splitter = splitter_for(line)
        reader = LineReader(self.address.text, self._unit)
        yield self._is_open()
        for piece in read_pieces(line, splitter, stop):
            yield reader.report(piece, self.clock())

    def _decode(self, line: Port, profile: Profile, stop: threading.Event) -> Iterator[Report]:
        decoder, first = begin_decoding(line, profile, self.address.text)
        yield self._is_open()
        yield from decoder.feed(first, self.clock())
        request = self._serial.request.data if self._serial.request else b""
        self._asking.begin()
        yield from read_by_decoder(
            line, decoder, stop, self.clock, request=request, asking=self._asking
        )

    def _poll(self, line: Port, modbus: Modbus, stop: threading.Event) -> Iterator[Report]:
        from witnessmark_drivers.modbus import RegisterReader, poll  # noqa: PLC0415

        if self._registers is None:
            self._registers = RegisterReader(modbus, self.address.text, self.clock)
        for outcome in poll(line, self._registers, stop, self._asking):
            yield self._is_open() if outcome is None else outcome

    def _listen(self, stop: threading.Event) -> Iterator[Link | RawFrame]:
        with self._opened_port() as line:
            yield self._is_open()
            yield from read_raw(line, stop, self.clock, self._requests)

    @classmethod
    async def discover(cls) -> list[FoundMeter]:
        """Return the serial ports of this computer, whatever hangs on them."""
        ports = await asyncio.to_thread(list_ports.comports)
        return [FoundMeter(f"serial:{port.device}", _words(port)) for port in ports]


def _words(port: ListPortInfo) -> str:
    known = port.description and port.description != "n/a"
    words = f"serial port: {port.description}" if known else "serial port"
    return f"{words}, also serial:?adapter={port.serial_number}" if port.serial_number else words


def _port_of(adapter: str) -> str:
    """Return the port of the USB adapter with that serial number.

    Raises:
        MeterUnreachable: when it is not plugged in.
    """
    for port in list_ports.comports():
        if port.serial_number == adapter:
            return port.device
    raise MeterUnreachable(
        f"adapter {adapter}: no such port; plug it in and see: witnessmark meters"
    )


def _settings(address: Address, profile: Profile | None) -> Serial:
    """Return the profile's line, at the speed that the address asks for if it does."""
    settings = profile.serial if profile and profile.serial else Serial()
    text = address.options.get("baud", str(settings.baud))
    is_number = text.isascii() and text.isdigit() and len(text) <= len(str(Baud.most))
    if not (is_number and Baud.least <= int(text) <= Baud.most):
        raise BadInput(
            f'meter address "{address.text}": baud "{text}" must be a number such as 9600 or 115200'
        )
    return msgspec.structs.replace(settings, baud=Baud(text))


def _every_s(profile: Profile | None) -> float | None:
    """Return how often the meter is asked; None: once."""
    if profile is None:
        return None
    if profile.modbus:
        return profile.modbus.every
    request = profile.serial.request if profile.serial else None
    return request.every if request else None
