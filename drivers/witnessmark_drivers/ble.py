"""``ble:ADDRESS``: a meter on Bluetooth Low Energy.

ADDRESS is the one that ``witnessmark meters`` lists: six bytes such as C0:FF:EE:00:12:34, or on
macOS a UUID. What says of itself that it is a length is read so, printable text as text, anything
else by profile. Options: ``unit`` (of numbers without one), ``profile``, ``within`` (seconds to
look for the meter, 10).
"""

from __future__ import annotations

import asyncio
import contextlib
import math
from collections.abc import AsyncGenerator
from typing import Final

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.capture import RawFrame
from witnessmark.meters.over_bluetooth import OverBluetooth
from witnessmark.meters.port import Clock, Driver, Fault, Found, Link, MeterLost, Report, utc_now
from witnessmark.meters.profile import Bluetooth
from witnessmark.meters.profile_values import Uuid
from witnessmark.meters.text import unit_option
from witnessmark_drivers.ble_air import OF_THIS_SYSTEM, Backends, in_range, plain_address
from witnessmark_drivers.ble_link import BleLink, Event, Notified, linked, opening
from witnessmark_drivers.ble_sources import Ear, Source, notifying, own_sources, profile_source

_SCAN_S: Final = 4.0
_BROKEN_OFF_S: Final = 0.5
"""So long without a notification, and a text that has begun is over."""


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
        address.allow_options("unit", "profile", "within")
        self._device = _device_address(address)
        self._within_s = _within_option(address)
        self._unit = unit_option(address)
        self._profile = _profile_option(address)
        self._backends = backends
        self._inbox: asyncio.Queue[Notified | Event] = asyncio.Queue()
        self._services: dict[str, str] = {}

    def fire(self) -> None:
        """Make the meter measure now, where its profile says how."""
        self._inbox.put_nowait(Event.FIRE)

    async def reports(self) -> AsyncGenerator[Report, None]:
        """Find the meter, connect, and report what it notifies."""
        async with self._linked() as link:
            async with opening(self._device):
                sources = await self._sources(link)
                for source in sources:
                    await link.listen(source.characteristic)
            yield self.opened(_words(link, sources[0]))
            async with self._firing(), contextlib.aclosing(self._read(link, sources)) as reports:
                async for report in reports:
                    yield report

    async def raw_frames(self) -> AsyncGenerator[Link | RawFrame, None]:
        """Connect, and yield the bytes of all characteristics that could be readings."""
        async with self._linked() as link:
            async with opening(self._device):
                for characteristic in notifying(link.client):
                    self._services[characteristic.uuid] = characteristic.service_uuid
                    await link.listen(characteristic)
            yield self.opened(link.words)
            while (event := await link.next(None)) is not Event.GONE:
                if isinstance(event, Notified):
                    yield RawFrame(event.data, event.at, event.characteristic.uuid)
            raise self._lost()

    def transport(self, channel: str) -> Bluetooth:
        """The table of a profile that says which characteristic brings these frames."""
        service = self._services.get(channel)
        return Bluetooth(characteristic=Uuid(channel), service=Uuid(service) if service else None)

    @classmethod
    async def discover(cls) -> list[Found]:
        """The Bluetooth devices in range that have a name or are very near."""
        return await in_range(_SCAN_S)

    def _linked(self) -> contextlib.AbstractAsyncContextManager[BleLink]:
        self._inbox = asyncio.Queue()
        return linked(
            self._device,
            self._inbox,
            self.clock,
            within_s=self._within_s,
            backends=self._backends,
        )

    async def _sources(self, link: BleLink) -> list[Source]:
        meter = self.address.text
        if self._profile is not None:
            return [profile_source(link.client, self._profile, meter)]
        return await own_sources(link.client, meter, self._unit)

    async def _read(self, link: BleLink, sources: list[Source]) -> AsyncGenerator[Report, None]:
        ear = Ear(sources)
        while True:
            event = await link.next(_BROKEN_OFF_S if ear.waits else None)
            match event:
                case Notified():
                    reports = ear.take(*event)
                case Event.FIRE:
                    reports = await self._request(link)
                case Event.PAUSE:
                    reports = ear.break_off("the line broke off", self.clock())
                case Event.GONE:
                    reports = ear.break_off("the link was lost in mid-line", self.clock())
            for report in reports:
                yield report
            if event is Event.GONE:
                raise self._lost()

    @contextlib.asynccontextmanager
    async def _firing(self) -> AsyncGenerator[None, None]:
        """Meanwhile the meter is fired, once and as often as its profile says."""
        timer = asyncio.create_task(self._fire_again_and_again())
        try:
            yield
        finally:
            timer.cancel()
            await asyncio.gather(timer, return_exceptions=True)

    async def _fire_again_and_again(self) -> None:
        self.fire()
        while self._profile is not None and self._profile.every_s is not None:
            await asyncio.sleep(self._profile.every_s)
            self.fire()

    async def _request(self, link: BleLink) -> list[Fault]:
        """Write the profile's request, if it has one; a fault when the meter refuses it."""
        profile = self._profile
        if profile is None or profile.request is None:
            return []
        words = await link.write(profile.takes_request or profile.notifies, profile.request)
        return [Fault(words, self.clock(), self.address.text)] if words else []

    def _lost(self) -> MeterLost:
        return MeterLost(
            f"{self._device}: the meter is gone; switch it on again, or bring it nearer"
        )


def _words(link: BleLink, source: Source) -> str:
    return f'{link.words}, value "{source.described}"' if source.described else link.words


def _device_address(address: Address) -> str:
    device = plain_address(address.target)
    if device is None:
        raise BadInput(
            f'meter address "{address.text}": write ble:ADDRESS, such as ble:C0:FF:EE:00:12:34, '
            "with an ADDRESS from: witnessmark meters"
        )
    return device


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
