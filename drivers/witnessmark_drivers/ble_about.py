"""What a connected meter says of itself: maker, model, firmware, and how full its battery is."""

from __future__ import annotations

import contextlib
from typing import Final

from bleak import BleakClient
from bleak.backends.device import BLEDevice
from bleak.exc import BleakError
from bleak.uuids import normalize_uuid_16

from witnessmark_drivers.ble_words import printable

_STRINGS: Final = {"maker": 0x2A29, "model": 0x2A24, "firmware": 0x2A26, "serial": 0x2A25}
_BATTERY_LEVEL: Final = normalize_uuid_16(0x2A19)


async def about(client: BleakClient, device: BLEDevice) -> list[str]:
    """Return battery and device information in words, as far as the meter offers them."""
    percent = await battery_percent(client, device)
    said = [] if percent is None else [f"battery {percent} %"]
    for name, number in _STRINGS.items():
        value = await _value(client, normalize_uuid_16(number))
        if text := printable(value.decode(errors="replace")):
            said.append(f"{name} {text}")
    return said


async def battery_percent(client: BleakClient, device: BLEDevice) -> int | None:
    """Return the battery's charge, percent; None when the meter does not say, or says nonsense."""
    level = await _value(client, _BATTERY_LEVEL)
    percent = level[0] if len(level) == 1 else await _percent_known_to_linux(device)
    return percent if percent is not None and 0 <= percent <= 100 else None


async def _value(client: BleakClient, uuid: str) -> bytes:
    for characteristic in client.services.characteristics.values():
        if characteristic.uuid == uuid and "read" in characteristic.properties:
            with contextlib.suppress(BleakError):
                return bytes(await client.read_gatt_char(characteristic))
    return b""


async def _percent_known_to_linux(device: BLEDevice) -> int | None:
    """Return it from the system's service, which keeps the battery characteristic to itself."""
    path = device.details.get("path") if isinstance(device.details, dict) else None
    if path is None:
        return None
    from dbus_fast import BusType, Message  # noqa: PLC0415 - on Linux alone
    from dbus_fast.aio import MessageBus  # noqa: PLC0415

    question = Message(
        destination="org.bluez",
        path=path,
        interface="org.freedesktop.DBus.Properties",
        member="Get",
        signature="ss",
        body=["org.bluez.Battery1", "Percentage"],
    )
    bus = MessageBus(bus_type=BusType.SYSTEM)
    try:
        await bus.connect()
        reply = await bus.call(question)
    except (OSError, EOFError):
        return None
    finally:
        bus.disconnect()
    return reply.body[0].value if reply.signature == "v" else None
