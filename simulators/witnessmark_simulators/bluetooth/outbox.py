"""What the stand-in service sends, in one order: replies and signals."""

from __future__ import annotations

import asyncio
from typing import Any

from dbus_fast import Message
from dbus_fast.aio import MessageBus

from witnessmark_simulators.bluetooth.objects import Objects, Properties

OBJECT_MANAGER = "org.freedesktop.DBus.ObjectManager"
PROPERTIES = "org.freedesktop.DBus.Properties"

_AT_ONCE = 10
"""So many messages go out before the socket gets a rest: a full one ends the connection."""


class Outbox:
    """Messages that wait for the bus."""

    def __init__(self) -> None:
        self._messages: asyncio.Queue[Message] = asyncio.Queue()

    def put(self, message: Message) -> None:
        """Send a message after all that wait already."""
        self._messages.put_nowait(message)

    def changed(self, path: str, interface: str, changed: Properties) -> None:
        """Signal that properties of an object have new values."""
        body = [interface, changed, []]
        self._signal(path, PROPERTIES, "PropertiesChanged", "sa{sv}as", body)

    def added(self, objects: Objects) -> None:
        """Signal that there are new objects, in their order."""
        for path, interfaces in objects.items():
            body = [path, interfaces]
            self._signal("/", OBJECT_MANAGER, "InterfacesAdded", "oa{sa{sv}}", body)

    async def send_all(self, bus: MessageBus) -> None:
        """Send what comes, for ever."""
        while True:
            for _ in range(_AT_ONCE):
                bus.send(await self._messages.get())
            await asyncio.sleep(0.001)

    def _signal(
        self, path: str, interface: str, member: str, signature: str, body: list[Any]
    ) -> None:
        self.put(Message.new_signal(path, interface, member, signature, body))
