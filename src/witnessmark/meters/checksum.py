"""Checksums that end a frame, as the bytes that stand on the wire."""

from __future__ import annotations

import binascii
import enum
import functools
import operator
from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Final


class Checksum(enum.StrEnum):
    """What a frame is checked by."""

    SUM8 = "sum8"
    """The sum of the bytes, its lowest eight bits."""
    SUM8_NEGATED = "sum8-negated"
    """What makes the sum of all bytes zero."""
    SUM8_INVERTED = "sum8-inverted"
    """The sum with its bits inverted."""
    XOR8 = "xor8"
    CRC8 = "crc8"
    """Polynomial 07, from 00."""
    CRC16_MODBUS = "crc16-modbus"
    """Polynomial 8005 reflected, from FFFF, low byte first."""
    CRC16_CCITT = "crc16-ccitt"
    """Polynomial 1021, from FFFF, high byte first."""
    CRC16_XMODEM = "crc16-xmodem"
    """Polynomial 1021, from 0000, high byte first."""

    @property
    def size(self) -> int:
        """The number of bytes that it has."""
        return 2 if self.startswith("crc16") else 1

    def of(self, data: bytes) -> bytes:
        """Return the checksum of ``data`` as it stands on the wire."""
        low_byte_first = self is Checksum.CRC16_MODBUS
        return self.number(data).to_bytes(self.size, "little" if low_byte_first else "big")

    def number(self, data: bytes) -> int:
        """Return the checksum of ``data`` as a number, for lines that write it in digits."""
        return _COMPUTE[self](data)


def _sum8(data: bytes) -> int:
    return sum(data) & 0xFF


def _xor8(data: bytes) -> int:
    return functools.reduce(operator.xor, data, 0)


def _crc8(data: bytes) -> int:
    table, crc = _crc8_table(), 0
    for byte in data:
        crc = table[crc ^ byte]
    return crc


def _crc16_reflected(data: bytes) -> int:
    table, crc = _crc16_reflected_table(), 0xFFFF
    for byte in data:
        crc = crc >> 8 ^ table[(crc ^ byte) & 0xFF]
    return crc


# What each byte does to a checksum, made once it is needed: learning tries many on long lines.
@functools.cache
def _crc8_table() -> bytes:
    def after(crc: int) -> int:
        for _ in range(8):
            crc = (crc << 1 ^ 0x07 if crc & 0x80 else crc << 1) & 0xFF
        return crc

    return bytes(map(after, range(256)))


@functools.cache
def _crc16_reflected_table() -> tuple[int, ...]:
    def after(crc: int) -> int:
        for _ in range(8):
            crc = crc >> 1 ^ 0xA001 if crc & 1 else crc >> 1
        return crc

    return tuple(map(after, range(256)))


_COMPUTE: Final[Mapping[Checksum, Callable[[bytes], int]]] = MappingProxyType(
    {
        Checksum.SUM8: _sum8,
        Checksum.SUM8_NEGATED: lambda data: -sum(data) & 0xFF,
        Checksum.SUM8_INVERTED: lambda data: ~sum(data) & 0xFF,
        Checksum.XOR8: _xor8,
        Checksum.CRC8: _crc8,
        Checksum.CRC16_MODBUS: _crc16_reflected,
        Checksum.CRC16_CCITT: lambda data: binascii.crc_hqx(data, 0xFFFF),
        Checksum.CRC16_XMODEM: lambda data: binascii.crc_hqx(data, 0x0000),
    }
)
