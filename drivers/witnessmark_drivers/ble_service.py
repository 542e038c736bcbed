"""Noticing that the system's Bluetooth service is gone, which bleak does not (Linux)."""

from __future__ import annotations

import contextlib
from collections.abc import AsyncGenerator, Callable
from typing import Final

from bleak.backends.device import BLEDevice

_SERVICE: Final = "org.bluez"
_BUS: Final = "org.freedesktop.DBus"
_CHANGE: Final = "NameOwnerChanged"


@contextlib.asynccontextmanager
async def service_watched(
    device: BLEDevice, gone: Callable[[], None]
) -> AsyncGenerator[None, None]:
    """Call ``gone`` when the service that holds the link to ``device`` ends meanwhile.

    With it every link is lost, and no signal comes from a service that has crashed.
    """
    if not (isinstance(device.details, dict) and "path" in device.details):
        yield
        return
    from dbus_fast import BusType, Message  # noqa: PLC0415 - on Linux alone
    from dbus_fast.aio import MessageBus  # noqa: PLC0415

    def take(message: Message) -> None:
        if message.member == _CHANGE and message.body[0] == _SERVICE and not message.body[2]:
            gone()

    rule = f"type='signal',sender='{_BUS}',member='{_CHANGE}',arg0='{_SERVICE}'"
    bus = MessageBus(bus_type=BusType.SYSTEM)
    try:
        await bus.connect()
        bus.add_message_handler(take)
        await bus.call(
            Message(
                destination=_BUS,
                path="/org/freedesktop/DBus",
                interface=_BUS,
                member="AddMatch",
                signature="s",
                body=[rule],
            )
        )
        yield
    finally:
        bus.disconnect()
