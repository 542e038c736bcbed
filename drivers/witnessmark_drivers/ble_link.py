"""A link to one meter on Bluetooth: made, listened to, and let go."""

from __future__ import annotations

import asyncio
import contextlib
import enum
import functools
from collections.abc import AsyncGenerator, Awaitable, Callable
from datetime import datetime
from typing import Final, NamedTuple, TypeVar

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakError

from witnessmark.meters.port import Clock
from witnessmark_drivers.ble_about import about
from witnessmark_drivers.ble_air import Backends, Sought, find
from witnessmark_drivers.ble_service import service_watched
from witnessmark_drivers.ble_words import is_busy, printable, told

_OPENING_S: Final = 20.0
_CLOSING_S: Final = 5.0
BUSY_PAUSES_S: Final = (0.25, 0.5, 1.0, 2.0, 4.0)
"""After which the system is asked again that was busy with the same, seconds."""
_POLL_S: Final = 0.3
MOST_WAITING: Final = 10_000
"""Notifications that wait to be taken; a meter that has sent more is let go."""

T = TypeVar("T")


class Notified(NamedTuple):
    """A notification and when it came."""

    characteristic: BleakGATTCharacteristic
    data: bytes
    at: datetime


class Asked(NamedTuple):
    """The meter is to be asked: what is to be written to which characteristic."""

    uuid: str
    data: bytes


class Event(enum.Enum):
    """What else may happen on a link."""

    GONE = enum.auto()
    FLOODED = enum.auto()
    """More came than is kept: nothing that came after this was."""
    PAUSE = enum.auto()
    """Nothing came for as long as was asked for."""


Happening = Notified | Asked | Event
"""All that may happen on a link."""


class BleLink:
    """An open link. What comes is kept in order until it is asked for, also once the link is gone.

    Args:
        client: connected.
        inbox: into which the client's loss is put.
        words: who is connected, and what the meter says of itself.
        clock: gives the time of notifications.
    """

    def __init__(
        self, client: BleakClient, inbox: asyncio.Queue[Happening], words: str, clock: Clock
    ) -> None:
        self.client = client
        self.words = words
        self._inbox = inbox
        self._clock = clock

    async def listen(self, characteristic: BleakGATTCharacteristic) -> None:
        """Have a characteristic notify from now on."""
        await self.client.start_notify(
            characteristic, functools.partial(_take, self._inbox, self._clock)
        )

    async def watch_value(self, characteristic: BleakGATTCharacteristic) -> None:
        """Read a characteristic that does not notify again and again, and take its changes.

        What it holds at first may be of an earlier shot, so that only the next value counts.
        """
        before = None
        while self.client.is_connected:
            with contextlib.suppress(BleakError):
                value = bytes(await self.client.read_gatt_char(characteristic))
                if before not in {None, value}:
                    _keep(self._inbox, Notified(characteristic, value, self._clock()))
                before = value
            await asyncio.sleep(_POLL_S)

    async def next(self, patience_s: float | None) -> Happening:
        """Return what happens next; a pause after ``patience_s`` without anything (None: never)."""
        try:
            async with asyncio.timeout(patience_s):
                return await self._inbox.get()
        except TimeoutError:
            return Event.PAUSE

    async def write(self, asked: Asked) -> str | None:
        """Write to the characteristic; why not, in words, when the meter refuses.

        Nothing is written once the link is gone.
        """
        if not self.client.is_connected:
            return None
        try:
            target = self.client.services.get_characteristic(asked.uuid)
            answers = target is not None and "write" in target.properties
            await self.client.write_gatt_char(target or asked.uuid, asked.data, response=answers)
        except BleakError as error:
            if self.client.is_connected:
                return f"the meter does not take the request ({error})"
        return None


@contextlib.asynccontextmanager
async def linked(
    sought: Sought,
    inbox: asyncio.Queue[Happening],
    clock: Clock,
    *,
    within_s: float,
    backends: Backends,
) -> AsyncGenerator[BleLink, None]:
    """Give a link to the meter, looked for during ``within_s``; let it go at the end.

    Raises:
        MeterUnreachable: saying why and what to do.
    """
    address = sought.words
    async with contextlib.AsyncExitStack() as stack:
        with told(address):
            device = await _until_free(lambda: find(sought, within_s, backends))
            await stack.enter_async_context(
                service_watched(device, lambda: inbox.put_nowait(Event.GONE))
            )
            client = BleakClient(
                device,
                lambda _client: inbox.put_nowait(Event.GONE),
                timeout=_OPENING_S,
                backend=backends.client,
            )
            await _until_free(client.connect)
        stack.push_async_callback(_let_go, client)
        async with opening(address):
            said = await about(client, device)
        name = f"{printable(device.name) or address} connected"
        yield BleLink(client, inbox, ", ".join([name, *said]), clock)


@contextlib.asynccontextmanager
async def opening(meter: str) -> AsyncGenerator[None, None]:
    """Hold a meter to answer before long what is asked of it in here.

    Raises:
        MeterUnreachable: when it does not, or refuses.
    """
    with told(meter):
        async with asyncio.timeout(_OPENING_S):
            yield


async def _until_free(deed: Callable[[], Awaitable[T]]) -> T:
    """Return what a deed brings, tried again while the system is at the same already."""
    for pause_s in BUSY_PAUSES_S:
        try:
            return await deed()
        except BleakError as error:
            if not is_busy(error):
                raise
        await asyncio.sleep(pause_s)
    return await deed()


def _take(
    inbox: asyncio.Queue[Happening],
    clock: Clock,
    characteristic: BleakGATTCharacteristic,
    data: bytearray,
) -> None:
    _keep(inbox, Notified(characteristic, bytes(data), clock()))


def _keep(inbox: asyncio.Queue[Happening], notified: Notified) -> None:
    """Keep a notification until it is taken, or say once that there is no more room for any."""
    if inbox.qsize() < MOST_WAITING:
        inbox.put_nowait(notified)
    elif inbox.qsize() == MOST_WAITING:
        inbox.put_nowait(Event.FLOODED)


async def _let_go(client: BleakClient) -> None:
    # a link that is gone already, or a service that died, is as good as let go
    with contextlib.suppress(BleakError, OSError, EOFError, TimeoutError):
        async with asyncio.timeout(_CLOSING_S):
            await client.disconnect()
