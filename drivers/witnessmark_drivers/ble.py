"""``ble:ADDRESS``: a meter on Bluetooth Low Energy.

ADDRESS is the one that ``witnessmark meters`` lists: six bytes such as C0:FF:EE:00:12:34, or on
macOS a UUID. Some devices change theirs, so that in its place the name that the meter shows may
stand (``ble:?name=Meter``), or a service (``ble:?service=UUID``). What says of itself that it is a
length is read so, printable text as text, anything else by profile. Options: ``unit`` (of numbers
without one), ``profile``, ``within`` (seconds to look for the meter, 10), ``characteristic`` (which
of several values is the distance).
"""

from __future__ import annotations

import asyncio
import contextlib
import math
from collections.abc import AsyncGenerator, Coroutine
from typing import Final

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.capture import Question, RawFrame
from witnessmark.meters.over_bluetooth import OverBluetooth
from witnessmark.meters.port import (
    Clock,
    Driver,
    Fault,
    FoundMeter,
    Link,
    MeterError,
    MeterLost,
    MeterUnreachable,
    Report,
    utc_now,
)
from witnessmark.meters.profile import Bluetooth
from witnessmark.meters.profile_values import Uuid
from witnessmark.meters.text import unit_option
from witnessmark_drivers.ble_air import OF_THIS_SYSTEM, Backends, Sought, in_range, plain_address
from witnessmark_drivers.ble_link import (
    Asked,
    BleLink,
    Event,
    Happening,
    Notified,
    linked,
    opening,
)
from witnessmark_drivers.ble_sources import (
    Ear,
    Source,
    notifying,
    own_sources,
    profile_source,
    writable,
)
from witnessmark_drivers.ble_words import NOTHING_IN_RANGE

_SCAN_S: Final = 4.0
_BROKEN_OFF_S: Final = 0.5
"""Pause without a notification after which a text that has begun is over, seconds."""


class BleMeter(Driver):
    """A meter that notifies its readings. It fills ``CanFire`` and ``OffersRawFrames``."""

    scheme = "ble"

    def __init__(
        self, address: Address, clock: Clock = utc_now, backends: Backends = OF_THIS_SYSTEM
    ) -> None:
        """Check the address and load the profile.

        Args:
            address: with the meter's Bluetooth address as its target.
            clock: gives the time at which a notification came.
            backends: what bleak uses below, for where there is no radio.

        Raises:
            BadInput: when the address cannot be right, or the profile is wrong.
        """
        super().__init__(address, clock)
        address.allow_options("unit", "profile", "within", "name", "service", "characteristic")
        self._sought = _sought(address)
        self._device = self._sought.words
        self._characteristic = _uuid_option(address, "characteristic")
        self._within_s = _within_option(address)
        self._unit = unit_option(address)
        self._profile = _profile_option(address)
        self._backends = backends
        self._inbox: asyncio.Queue[Happening] = asyncio.Queue()
        self._services: dict[str, str] = {}
        self._takes_requests: tuple[str, ...] = ()

    @property
    def waits(self) -> bool:
        """Whether the profile has a request that is not made again by itself."""
        profile = self._profile
        return profile is not None and profile.request is not None and profile.every_s is None

    def fire(self) -> None:
        """Make the meter measure now, where its profile says how."""
        profile = self._profile
        if profile is not None and profile.request is not None:
            target = profile.takes_request or profile.notifies
            self._inbox.put_nowait(Asked(target, profile.request))

    async def reports(self) -> AsyncGenerator[Report, None]:
        """Find the meter, connect, and report what it notifies."""
        async with self._linked() as link:
            async with opening(self._device):
                sources = await self._sources(link)
                for source in sources:
                    if not source.is_polled:
                        await link.listen(source.characteristic)
            yield self.opened(_words(link, sources[0]))
            polled = [link.watch_value(one.characteristic) for one in sources if one.is_polled]
            async with (
                _meanwhile(self._fire_again_and_again(), *polled),
                contextlib.aclosing(self._read(link, sources)) as reports,
            ):
                async for report in reports:
                    yield report

    async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        """Connect, and yield the bytes of all characteristics that could be readings."""
        async with self._linked() as link:
            async with opening(self._device):
                for characteristic in notifying(link.client):
                    self._services[characteristic.uuid] = characteristic.service_uuid
                    await link.listen(characteristic)
                self._takes_requests = tuple(one.uuid for one in writable(link.client))
            yield self.opened(link.words)
            while (event := await link.next(None)) is not Event.GONE:
                if isinstance(event, Notified):
                    yield RawFrame(event.data, event.at, event.characteristic.uuid)
                elif isinstance(event, Asked) and (refusal := await link.write(event)):
                    raise MeterError(f"{self._device}: {refusal}")
                elif event is Event.FLOODED:
                    raise self._flooded()
            raise self._lost()

    def ask(self, question: Question) -> None:
        """Write a request to the meter, while it is listened to.

        Raises:
            BadInput: when it has no such characteristic, or several and none was named.
        """
        self._inbox.put_nowait(Asked(self._target(question), question.request.data))

    def transport(self, channel: str, question: Question | None = None) -> Bluetooth:
        """Return a profile's table with the characteristics that bring frames and take requests.

        Raises:
            BadInput: when it has no such characteristic, or several and none was named.
        """
        service = self._services.get(channel)
        return Bluetooth(
            characteristic=Uuid(channel),
            service=Uuid(service) if service else None,
            request=question.request if question else None,
            request_characteristic=self._target(question) if question else None,
        )

    def _target(self, question: Question) -> Uuid:
        """Return the characteristic of the meter that takes a question."""
        named, offered = question.characteristic, self._takes_requests
        if not offered:
            raise BadInput(f"{self._device}: nothing can be written to it, so it cannot be asked")
        if named in offered or (named is None and len(offered) == 1):
            return Uuid(named or offered[0])
        what = f"{named} cannot be written" if named else "say which characteristic takes requests"
        raise BadInput(f"{self._device}: {what}; these can be written: {', '.join(offered)}")

    @classmethod
    async def discover(cls) -> list[FoundMeter]:
        """Return the Bluetooth devices in range that have a name or are very near.

        Raises:
            MeterUnreachable: when Bluetooth cannot be used, or there are none.
        """
        found = await in_range(_SCAN_S)
        if not found:
            raise MeterUnreachable(NOTHING_IN_RANGE)
        return found

    def _linked(self) -> contextlib.AbstractAsyncContextManager[BleLink]:
        self._inbox = asyncio.Queue()
        return linked(
            self._sought,
            self._inbox,
            self.clock,
            within_s=self._within_s,
            backends=self._backends,
        )

    async def _sources(self, link: BleLink) -> list[Source]:
        meter = self.address.text
        if self._profile is not None:
            return [profile_source(link.client, self._profile, meter)]
        return await own_sources(link.client, meter, self._unit, self._characteristic)

    async def _read(self, link: BleLink, sources: list[Source]) -> AsyncGenerator[Report, None]:
        ear = Ear(sources, self._device)
        while True:
            event = await link.next(_BROKEN_OFF_S if ear.waits else None)
            match event:
                case Notified():
                    reports = ear.take(*event)
                case Asked():
                    refusal = await link.write(event)
                    reports = [Fault(refusal, self.clock(), self.address.text)] if refusal else []
                case Event.PAUSE:
                    reports = ear.break_off("the line broke off", self.clock())
                case Event.GONE | Event.FLOODED:
                    reports = ear.break_off("the link was lost in mid-line", self.clock())
            for report in reports:
                yield report
            if event is Event.GONE:
                raise self._lost()
            if event is Event.FLOODED:
                raise self._flooded()

    async def _fire_again_and_again(self) -> None:
        self.fire()
        while self._profile is not None and self._profile.every_s is not None:
            await asyncio.sleep(self._profile.every_s)
            self.fire()

    def _flooded(self) -> MeterLost:
        return MeterLost(
            f"{self._device}: it sends faster than its readings can be saved, so some are lost; "
            "have it measure one distance at a time"
        )

    def _lost(self) -> MeterLost:
        return MeterLost(
            f"{self._device}: the meter is gone; switch it on again, or bring it nearer"
        )


@contextlib.asynccontextmanager
async def _meanwhile(*works: Coroutine[None, None, None]) -> AsyncGenerator[None, None]:
    """Keep these at work meanwhile, and cancel them at the end."""
    tasks = [asyncio.create_task(work) for work in works]
    try:
        yield
    finally:
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)


def _words(link: BleLink, source: Source) -> str:
    words = f'{link.words}, value "{source.described}"' if source.described else link.words
    return f"{words}, read whenever it changes" if source.is_polled else words


def _sought(address: Address) -> Sought:
    """Return by what the meter is looked for: address, name or service."""
    name, service = address.options.get("name", ""), _uuid_option(address, "service") or ""
    device = plain_address(address.target) if address.target else ""
    if device is None or sum(map(bool, (device, name, service))) != 1:
        raise BadInput(
            f'meter address "{address.text}": write ble:ADDRESS, such as ble:C0:FF:EE:00:12:34, '
            "with an ADDRESS from: witnessmark meters; or ble:?name=NAME or ble:?service=UUID"
        )
    return Sought(device, name, service)


def _uuid_option(address: Address, name: str) -> str | None:
    text = address.options.get(name)
    try:
        return None if text is None else str(Uuid.read(text))
    except BadInput as error:
        raise BadInput(f'meter address "{address.text}": {name} {error}') from None


def _profile_option(address: Address) -> OverBluetooth | None:
    name = address.options.get("profile")
    if name is None:
        return None
    if "unit" in address.options:
        raise BadInput(f'meter address "{address.text}": leave unit out, the profile says it')
    return OverBluetooth.load(name)


def _within_option(address: Address) -> float:
    text = address.options.get("within", "10")
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 < seconds <= 600:
        raise BadInput(
            f'meter address "{address.text}": within "{text}" must be seconds, above 0, to 600'
        )
    return seconds
