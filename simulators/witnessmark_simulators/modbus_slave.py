"""A simulated Modbus RTU device: registers, answers, and the ways in which answers go wrong.

Requests, answers and checksums are put together here on their own, so that an error in the driver's
library or in its use shows in tests.
"""

from __future__ import annotations

import contextlib
import struct
import time
from collections import deque
from collections.abc import Callable, Iterator, Mapping
from typing import Final

from witnessmark_simulators.binary import crc16
from witnessmark_simulators.in_background import repeating
from witnessmark_simulators.serial_line import SerialLine

ILLEGAL_FUNCTION: Final = 1
ILLEGAL_ADDRESS: Final = 2
ILLEGAL_VALUE: Final = 3
MOST_REGISTERS: Final = 125
_REQUEST_LENGTH: Final = 8

Spoil = Callable[[bytes], bytes]
"""Makes of a right answer the one that is sent; nothing at all is silence."""


def with_checksum(frame: bytes) -> bytes:
    """Return the frame as it goes on the wire."""
    return frame + crc16(frame).to_bytes(2, "little")


class ModbusSlave:
    """Answers requests for registers.

    Args:
        registers: by function (3 or 4), the registers from 0 on.
        device: its number on the line.
    """

    def __init__(self, registers: Mapping[int, list[int]], device: int = 1) -> None:
        self.registers = {function: list(values) for function, values in registers.items()}
        self.device = device
        self.takes_s = 0.0
        self.spoil: Spoil = bytes
        self.requests: list[bytes] = []

    def set_number(self, register: int, data: bytes, function: int = 3) -> None:
        """Put the bytes of a number, high byte first, into registers."""
        values = struct.unpack(f">{len(data) // 2}H", data)
        self.registers[function][register : register + len(values)] = values

    def answer(self, request: bytes) -> bytes:
        """Return the answer to a request; nothing when it is broken or for another device."""
        if len(request) != _REQUEST_LENGTH or with_checksum(request[:-2]) != request:
            return b""
        device, function, start, count = struct.unpack(">BBHH", request[:-2])
        if device != self.device:
            return b""
        self.requests.append(request)
        if function not in self.registers:
            return self._exception(function, ILLEGAL_FUNCTION)
        if not 1 <= count <= MOST_REGISTERS:
            return self._exception(function, ILLEGAL_VALUE)
        values = self.registers[function][start : start + count]
        if len(values) < count:
            return self._exception(function, ILLEGAL_ADDRESS)
        data = struct.pack(f">{count}H", *values)
        return self.spoil(with_checksum(bytes([device, function, len(data)]) + data))

    def _exception(self, function: int, code: int) -> bytes:
        return self.spoil(with_checksum(bytes([self.device, function | 0x80, code])))


@contextlib.contextmanager
def serving(slave: ModbusSlave, line: SerialLine) -> Iterator[None]:
    """Have the slave answer on the line meanwhile, in a thread of its own.

    An answer holds what the registers held when the request came, and is sent ``slave.takes_s``
    later; a further request may come before that.
    """
    pending, under_way = b"", deque[tuple[float, bytes]]()

    def serve() -> None:
        nonlocal pending
        pending += line.receive()
        now_s = time.monotonic()
        while len(pending) >= _REQUEST_LENGTH:
            request, pending = pending[:_REQUEST_LENGTH], pending[_REQUEST_LENGTH:]
            under_way.append((now_s + slave.takes_s, slave.answer(request)))
        while under_way and under_way[0][0] <= now_s:
            line.send(under_way.popleft()[1])

    with repeating(serve, "modbus slave"):
        yield
