"""Meters of three kinds as they are found on Bluetooth, with what they send for an answer."""

from __future__ import annotations

import enum
import functools
import operator
import struct
from collections.abc import Callable

from witnessmark_simulators.bluetooth.gatt import (
    BATTERY_LEVEL,
    BATTERY_SERVICE,
    NOTIFY,
    READ,
    WRITE,
    WRITE_SILENTLY,
    Characteristic,
    Descriptor,
    Service,
    short_uuid,
)
from witnessmark_simulators.bluetooth.peripheral import Peripheral
from witnessmark_simulators.meter import Answer

ADDRESS = "C0:FF:EE:00:12:34"

MEASUREMENTS = "5f7a0001-3c1d-4b8e-9a52-0d6c1e2f4a10"
READINGS = "5f7a0002-3c1d-4b8e-9a52-0d6c1e2f4a10"
REQUESTS = "5f7a0003-3c1d-4b8e-9a52-0d6c1e2f4a10"
SETTINGS = "5f7a0004-3c1d-4b8e-9a52-0d6c1e2f4a10"
"""Of our own making: the meter's service, the characteristic that notifies, the one to write to,
and one that some meters have besides, which does nothing here."""

FIRE = b"\x10\x01"
"""What makes the binary meter measure."""

_PACKET = 20
_TENTHS_OF_A_MM = struct.pack("<BbHBH", 0x08, -4, 0x2701, 1, 0x0106)
_NO_VALUE = b"\xff\xff\xff\xff"
_HEAD = 0xA5


class Speech(enum.StrEnum):
    """How a meter tells its distances."""

    TEXT = "text"
    """Lines, cut into packets."""
    DESCRIBED = "described"
    """Numbers of a characteristic that says that they are tenths of a millimetre."""
    BINARY = "binary"
    """Frames of its own: head, status, three bytes of tenths of a millimetre, exclusive or."""


def simulated_meter(
    speech: Speech,
    address: str = ADDRESS,
    *,
    name: str | None = "Simulated meter",
    battery: bytes = b"\x55",
    has_settings: bool = False,
    on_write: Callable[[bytes], None] | None = None,
) -> Peripheral:
    """Return a meter that tells its distances so, and its battery, maker and model.

    ``on_write`` gets what is written to ``REQUESTS``; with settings there is more that can be
    written.
    """
    form = Descriptor(short_uuid(0x2904), _TENTHS_OF_A_MM)
    descriptors = (form,) if speech is Speech.DESCRIBED else ()
    readings = Characteristic(READINGS, (READ, NOTIFY), descriptors=descriptors)
    takes = [Characteristic(REQUESTS, (WRITE,))]
    if has_settings:
        takes.append(Characteristic(SETTINGS, (WRITE_SILENTLY,)))
    about = (
        Characteristic(short_uuid(0x2A29), (READ,), b"Witnessmark simulators"),
        Characteristic(short_uuid(0x2A24), (READ,), speech.encode()),
    )
    level = Characteristic(BATTERY_LEVEL, (READ, NOTIFY), battery)
    services = (
        Service(short_uuid(0x180A), about),
        Service(BATTERY_SERVICE, (level,)),
        Service(MEASUREMENTS, (readings, *takes)),
    )
    return Peripheral(address, name, services, speaks=READINGS, obeys=REQUESTS, on_write=on_write)


def packets(speech: Speech, answer: Answer) -> list[bytes]:
    """Return what such a meter notifies for an answer, one notification after another."""
    if not answer.raw:
        return []
    if speech is Speech.TEXT:
        return [answer.raw[at : at + _PACKET] for at in range(0, len(answer.raw), _PACKET)]
    if answer.distance_mm is None and answer.fault is None:
        return [answer.raw[:_PACKET]]
    tenths = None if answer.distance_mm is None else round(answer.distance_mm * 10)
    return [_described(tenths) if speech is Speech.DESCRIBED else binary_frame(tenths)]


def binary_frame(tenths: int | None) -> bytes:
    """Return the binary meter's frame for tenths of a millimetre; None: it could not measure."""
    body = bytes([_HEAD, tenths is None]) + (tenths or 0).to_bytes(3, "big")
    return body + bytes([functools.reduce(operator.xor, body)])


def _described(tenths: int | None) -> bytes:
    return _NO_VALUE if tenths is None else tenths.to_bytes(4, "little")
