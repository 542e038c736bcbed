"""``serial:PORT``: a meter that sends lines of text on a serial line.

PORT is a device path, a COM name, or a URL that pyserial knows: ``socket://HOST:PORT`` for a
converter on the network, ``rfc2217://HOST:PORT``. Options: ``baud`` (9600), ``unit`` (of numbers
without one), ``profile``.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import AsyncGenerator, Iterator

from serial.tools import list_ports

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.port import Clock, Driver, Found, Report, utc_now
from witnessmark.meters.text import report_line, unit_option
from witnessmark_drivers.in_thread import iterate_in_thread
from witnessmark_drivers.serial_port import check_port, opened_port, read_pieces, splitter_for


class SerialText(Driver):
    """Text lines from a serial port, a pseudo-terminal or a pyserial URL."""

    scheme = "serial"

    def __init__(self, address: Address, clock: Clock = utc_now) -> None:
        """Check port and options.

        Raises:
            BadInput: when the address cannot be right.
        """
        super().__init__(address, clock)
        address.allow_options("baud", "unit", "profile")
        check_port(address.target)
        _refuse_profile(address)
        self._baud = _baud_option(address)
        self._unit = unit_option(address)

    async def reports(self) -> AsyncGenerator[Report, None]:
        """Open the port in a thread of its own and report what comes."""
        name = f"reading {self.address.target}"
        async with contextlib.aclosing(iterate_in_thread(self._read, name)) as reports:
            async for report in reports:
                yield report

    def _read(self, stop: threading.Event) -> Iterator[Report]:
        port, meter = self.address.target, self.address.text
        with opened_port(port, self._baud) as line:
            splitter = splitter_for(line)
            yield self.opened(f"{port} is open")
            for piece in read_pieces(line, splitter, stop):
                yield report_line(piece, at=self.clock(), meter=meter, unit=self._unit)

    @classmethod
    async def discover(cls) -> list[Found]:
        """The serial ports of this computer, whatever hangs on them."""
        ports = await asyncio.to_thread(list_ports.comports)
        return [Found(f"serial:{port.device}", _words(port.description)) for port in ports]


def _words(description: str | None) -> str:
    known = description and description != "n/a"
    return f"serial port: {description}" if known else "serial port"


def _baud_option(address: Address) -> int:
    text = address.options.get("baud", "9600")
    if not (text.isascii() and text.isdigit() and 50 <= int(text) <= 4_000_000):
        raise BadInput(
            f'meter address "{address.text}": baud "{text}" must be a number such as 9600 or 115200'
        )
    return int(text)


def _refuse_profile(address: Address) -> None:
    if "profile" in address.options:
        raise BadInput(
            f'meter address "{address.text}": no profile "{address.options["profile"]}" here; '
            "leave ?profile= out to read lines of text"
        )
