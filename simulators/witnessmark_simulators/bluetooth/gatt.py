"""What a simulated meter offers on Bluetooth: services, characteristics and descriptors."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

NOTIFY = "notify"
INDICATE = "indicate"
READ = "read"
WRITE = "write"
WRITE_SILENTLY = "write-without-response"

_BASE = "0000{:04x}-0000-1000-8000-00805f9b34fb"


def short_uuid(number: int) -> str:
    """Return the long form of a UUID that the Bluetooth SIG has assigned."""
    return _BASE.format(number)


BATTERY_SERVICE, BATTERY_LEVEL = short_uuid(0x180F), short_uuid(0x2A19)


class Descriptor(msgspec.Struct, frozen=True):
    """A fact about a characteristic."""

    uuid: str
    value: bytes


class Characteristic(msgspec.Struct, frozen=True):
    """A value that can be read, written or notified, as its flags say."""

    uuid: str
    flags: tuple[str, ...]
    value: bytes = b""
    descriptors: tuple[Descriptor, ...] = ()


class Service(msgspec.Struct, frozen=True):
    """Characteristics that belong together."""

    uuid: str
    characteristics: tuple[Characteristic, ...]


class Attribute(msgspec.Struct, frozen=True):
    """One of these in its place: its handle, and that of what it belongs to (0: the meter)."""

    handle: int
    parent: int
    item: Service | Characteristic | Descriptor


def numbered(services: tuple[Service, ...]) -> Iterator[Attribute]:
    """Yield all attributes with handles from 1 up; a parent comes before its children."""
    handle = 0
    for service in services:
        handle += 1
        in_service = handle
        yield Attribute(handle, 0, service)
        for characteristic in service.characteristics:
            handle += 1
            in_characteristic = handle
            yield Attribute(handle, in_service, characteristic)
            for descriptor in characteristic.descriptors:
                handle += 1
                yield Attribute(handle, in_characteristic, descriptor)
