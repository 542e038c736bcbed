"""The meters in range: looking for all of them, or for one by its address."""

from __future__ import annotations

import asyncio
import contextlib
import re
from typing import Final, NamedTuple

from bleak import BleakAdapter, BleakScanner
from bleak.backends.adapter import BaseBleakAdapter
from bleak.backends.client import BaseBleakClient
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.uuids import normalize_uuid_16

from witnessmark.meters.port import FoundMeter, MeterUnreachable
from witnessmark_drivers.ble_words import not_seen, printable, told

NEAR_DBM: Final = -60
"""A meter held to the computer is received more strongly than this."""
_FAIR_DBM: Final = -80
_UNKNOWN_DBM: Final = -127
_OTHERS_S: Final = 0.5
"""Time to wait for others of the same name or service, seconds."""

_ADDRESS = re.compile(r"(?:[0-9A-F]{2}:){5}[0-9A-F]{2}|[0-9A-F]{8}(?:-[0-9A-F]{4}){3}-[0-9A-F]{12}")

_SERVICES_OF_ANY_METER = [normalize_uuid_16(number) for number in (0x1800, 0x1801, 0x180A, 0x180F)]


class Backends(NamedTuple):
    """What bleak is to use below; None: what this system has."""

    scanner: type[BaseBleakScanner] | None = None
    client: type[BaseBleakClient] | None = None
    adapter: type[BaseBleakAdapter] | None = None


OF_THIS_SYSTEM: Final = Backends()


def plain_address(text: str) -> str | None:
    """Return an address as bleak writes it: six bytes, or a UUID on macOS; None when neither."""
    upper = text.strip().upper()
    if len(upper) == 17:
        upper = upper.replace("-", ":")
    return upper if _ADDRESS.fullmatch(upper) else None


async def in_range(seconds: float, backends: Backends = OF_THIS_SYSTEM) -> list[FoundMeter]:
    """Return the devices that show themselves within so many seconds, strongest first.

    Those without a name are left out unless they are very near: there are dozens of them in any
    house, and none of them is likely to be a meter.

    Raises:
        MeterUnreachable: when Bluetooth cannot be used, saying why and what to do.
    """
    with told("Bluetooth"):
        async with BleakScanner(backend=backends.scanner) as scanner:
            await asyncio.sleep(seconds)
    seen = scanner.discovered_devices_and_advertisement_data.values()
    return [
        FoundMeter(f"ble:{device.address}", _words(device, shown))
        for device, shown in sorted(seen, key=lambda one: -one[1].rssi)
        if _name(device, shown) or shown.rssi >= NEAR_DBM
    ]


class Sought(NamedTuple):
    """What a meter is known by: its address, else the name or a service that it shows."""

    address: str = ""
    name: str = ""
    service: str = ""

    @property
    def words(self) -> str:
        """What it is called in messages."""
        return self.address or (f'"{self.name}"' if self.name else f"service {self.service}")

    def fits(self, device: BLEDevice, shown: AdvertisementData | None) -> bool:
        """Return whether a device is the one; of one that is connected nothing is shown."""
        if self.address:
            return device.address.upper() == self.address
        if self.name:
            return self.name in {device.name, shown and shown.local_name}
        return shown is not None and self.service in shown.service_uuids


async def find(sought: Sought, seconds: float, backends: Backends = OF_THIS_SYSTEM) -> BLEDevice:
    """Return the device that is sought; one that is connected already need not show itself.

    Raises:
        MeterUnreachable: when it does not show itself within so many seconds, or several do.
    """
    device = await _connected(sought, backends)
    if device is not None:
        return device
    try:
        async with asyncio.timeout(seconds):
            return await _shown(sought, backends)
    except TimeoutError:
        raise MeterUnreachable(not_seen(sought.words)) from None


async def _connected(sought: Sought, backends: Backends) -> BLEDevice | None:
    """Return the device if the system holds a link to it, as after a program that died."""
    adapter = await BleakAdapter.get(backend=backends.adapter)
    held = await adapter.get_connected_devices(_SERVICES_OF_ANY_METER)
    return next((device for device in held if sought.fits(device, None)), None)


async def _shown(sought: Sought, backends: Backends) -> BLEDevice:
    """Return the device as soon as it shows itself; wait a while for others of its name or service.

    Raises:
        MeterUnreachable: when there are several.
    """
    found: dict[str, BLEDevice] = {}
    async with (
        BleakScanner(backend=backends.scanner) as scanner,
        contextlib.aclosing(scanner.advertisement_data()) as everything,
    ):
        while not found:
            device, shown = await anext(everything)
            if sought.fits(device, shown):
                found[device.address] = device
        if not sought.address:
            with contextlib.suppress(TimeoutError):
                async with asyncio.timeout(_OTHERS_S):
                    async for device, shown in everything:
                        if sought.fits(device, shown):
                            found[device.address] = device
    if len(found) > 1:
        addresses = ", ".join(f"ble:{address}" for address in sorted(found))
        raise MeterUnreachable(f"{sought.words}: there are several; choose one of {addresses}")
    return next(iter(found.values()))


def _name(device: BLEDevice, shown: AdvertisementData) -> str:
    return printable(shown.local_name) or printable(device.name)


def _words(device: BLEDevice, shown: AdvertisementData) -> str:
    name = _name(device, shown)
    return f"Bluetooth: {name or 'a device without a name, very near'}, {_signal(shown.rssi)}"


def _signal(dbm: int) -> str:
    if dbm <= _UNKNOWN_DBM:
        return "signal unknown"
    strength = "strong" if dbm >= NEAR_DBM else "fair" if dbm >= _FAIR_DBM else "weak"
    return f"signal {strength} ({dbm} dBm)"
