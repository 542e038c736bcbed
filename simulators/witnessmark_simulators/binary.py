"""Binary frames of simulated meters, put together from parts.

The checksums are computed here on their own, so that an error in the decoders' shows in tests.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Sequence
from typing import Literal

import msgspec

from witnessmark_simulators.meter import Answer

ByteOrder = Literal["big", "little"]


class Moment(msgspec.Struct, frozen=True):
    """All that a meter might put into a frame."""

    distance_mm: float
    count: int = 0
    angle_deg: float = 0.0
    charge: int = 87
    status: int = 0


Part = Callable[[Moment, bytes], bytes]
"""Makes the next bytes of a frame from what it tells and the bytes before."""


def frame(parts: Sequence[Part], moment: Moment) -> bytes:
    """Return the frame that these parts make, one after the other."""
    data = b""
    for part in parts:
        data += part(moment, data)
    return data


def constant(data: bytes) -> Part:
    """Return the same bytes in every frame."""
    return lambda _moment, _before: data


def whole_distance(size: int, order: ByteOrder, unit_mm: float) -> Part:
    """Return the distance as a whole number of units; what is too long comes as all ones."""

    def part(moment: Moment, _before: bytes) -> bytes:
        most = (1 << 8 * size) - 1
        number = round(moment.distance_mm / unit_mm)
        return (number & most if abs(number) < most else most).to_bytes(size, order)

    return part


def decimal_distance(size: int, order: ByteOrder, unit_mm: float) -> Part:
    """Return the distance in decimal digits, two a byte; what is too long comes as all ones."""

    def part(moment: Moment, _before: bytes) -> bytes:
        number = round(moment.distance_mm / unit_mm)
        if not 0 <= number < 10 ** (2 * size):
            return b"\xff" * size
        digits = bytes.fromhex(f"{number:0{2 * size}d}")
        return digits if order == "big" else digits[::-1]

    return part


def float_distance(size: Literal[4, 8], order: ByteOrder, unit_mm: float) -> Part:
    """Return the distance as a binary fraction."""
    code = ("<" if order == "little" else ">") + ("f" if size == 4 else "d")
    return lambda moment, _before: struct.pack(code, moment.distance_mm / unit_mm)


def counter(size: int, order: ByteOrder) -> Part:
    """Return a number that goes up by one from frame to frame."""
    return lambda moment, _before: (moment.count % (1 << 8 * size)).to_bytes(size, order)


def angle(size: int, order: ByteOrder, step_deg: float = 0.1) -> Part:
    """Return the meter's tilt as a signed whole number."""
    return lambda moment, _before: round(moment.angle_deg / step_deg).to_bytes(
        size, order, signed=True
    )


def charge() -> Part:
    """Return the battery's charge in percent."""
    return lambda moment, _before: bytes([moment.charge])


def status(good: int = 0) -> Part:
    """Return ``good`` when all is well, else the status itself."""
    return lambda moment, _before: bytes([moment.status or good])


def sum8(left_out: int = 0) -> Part:
    """Return the sum of the bytes before, without the first ``left_out``."""
    return lambda _moment, before: bytes([sum(before[left_out:]) % 256])


def sum8_negated(left_out: int = 0) -> Part:
    """Return the byte that makes the sum zero."""
    return lambda _moment, before: bytes([(256 - sum(before[left_out:]) % 256) % 256])


def xor8(left_out: int = 0) -> Part:
    """Return the exclusive-or of all bytes before."""

    def part(_moment: Moment, before: bytes) -> bytes:
        result = 0
        for byte in before[left_out:]:
            result ^= byte
        return bytes([result])

    return part


def crc16_modbus(left_out: int = 0) -> Part:
    """Return the checksum of Modbus RTU, low byte first."""
    return lambda _moment, before: crc16(before[left_out:]).to_bytes(2, "little")


def crc16(data: bytes) -> int:
    """Return the remainder by x^16 + x^15 + x^2 + 1, lowest bits first, begun with FFFF."""
    remainder = 0xFFFF
    for bit in ((byte >> place) & 1 for byte in data for place in range(8)):
        carry = (remainder & 1) ^ bit
        remainder = (remainder >> 1) ^ (0xA001 * carry)
    return remainder


class BinaryVoice:
    """Says a meter's answers in binary frames instead of text."""

    def __init__(self, parts: Sequence[Part], *, fault_status: int = 1) -> None:
        self._parts = tuple(parts)
        self._fault_status = fault_status
        self._count = 0

    def __call__(self, answer: Answer) -> Answer:
        """Return the same answer with other bytes; what means nothing stays as it is."""
        if answer.distance_mm is None and answer.fault is None:
            return answer
        self._count += 1
        moment = Moment(
            answer.distance_mm or 0.0,
            count=self._count,
            status=0 if answer.fault is None else self._fault_status,
        )
        return msgspec.structs.replace(answer, raw=frame(self._parts, moment))
