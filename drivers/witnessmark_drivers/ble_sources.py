"""Which of a meter's characteristics tell its readings, and how each is decoded.

A profile that was asked for decides alone. Else the first characteristic that says of itself that
it holds a length is taken; else all that might send text are listened to, until one of them has
given a reading.
"""

from __future__ import annotations

import contextlib
from collections.abc import Sequence, Set
from datetime import datetime
from typing import Final, NamedTuple, Protocol

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.uuids import normalize_uuid_16

from witnessmark.errors import BadInput
from witnessmark.meters.over_bluetooth import OverBluetooth
from witnessmark.meters.port import Fault, MeterUnreachable, Noise
from witnessmark.meters.presentation import UNITLESS, PresentationFormat, report_value
from witnessmark.model import Reading
from witnessmark_drivers.ble_text import TextDecoder

_PRESENTATION_FORMAT: Final = normalize_uuid_16(0x2904)
_NOT_FOR_READINGS: Final = frozenset(
    normalize_uuid_16(number) for number in (0x1800, 0x1801, 0x180A, 0x180F)
)
"""Generic access, generic attributes, device information, battery."""


class Decoder(Protocol):
    """Makes reports of what one characteristic notifies over one link."""

    def feed(self, data: bytes, at: datetime) -> Sequence[Reading | Fault | Noise]:
        """What a notification completes."""


class Source(NamedTuple):
    """A characteristic to listen to, what its notifications mean, and what it calls its value."""

    characteristic: BleakGATTCharacteristic
    decoder: Decoder
    described: str | None = None


class ValueDecoder:
    """Reads each notification as one value of a characteristic that describes itself."""

    def __init__(self, form: PresentationFormat, meter: str, unit: str | None) -> None:
        self._form = form
        self._meter = meter
        self._unit = unit

    def feed(self, data: bytes, at: datetime) -> list[Reading | Fault | Noise]:
        """What the value says."""
        return [report_value(self._form, data, at=at, meter=self._meter, text_unit=self._unit)]


class Ear:
    """Makes reports of what the sources of one link notify.

    Of several, the first that brings a reading is the one; what the others say then is left aside,
    because a meter that tells its readings in two places would count twice.
    """

    def __init__(self, sources: Sequence[Source]) -> None:
        self._decoders = {one.characteristic.handle: one.decoder for one in sources}

    @property
    def waits(self) -> bool:
        """Whether a text has begun that may still go on."""
        return any(decoder.waits for decoder in self._texts())

    def take(
        self, characteristic: BleakGATTCharacteristic, data: bytes, at: datetime
    ) -> Sequence[Reading | Fault | Noise]:
        """What a notification completes."""
        decoder = self._decoders.get(characteristic.handle)
        if decoder is None:
            return ()
        reports = decoder.feed(data, at)
        if any(isinstance(report, Reading) for report in reports):
            self._decoders = {characteristic.handle: decoder}
        return reports

    def break_off(self, why: str, at: datetime) -> list[Reading | Fault | Noise]:
        """Nothing more came for a while, or the link is gone: what had begun."""
        return [report for decoder in self._texts() for report in decoder.break_off(why, at)]

    def _texts(self) -> list[TextDecoder]:
        return [one for one in self._decoders.values() if isinstance(one, TextDecoder)]


def notifying(client: BleakClient) -> list[BleakGATTCharacteristic]:
    """The characteristics that send values by themselves, in the meter's own order."""
    return _those_with(client, {"notify", "indicate"})


def writable(client: BleakClient) -> list[BleakGATTCharacteristic]:
    """The characteristics to which a request may be written, in the meter's own order."""
    return _those_with(client, {"write", "write-without-response"})


def _those_with(client: BleakClient, properties: Set[str]) -> list[BleakGATTCharacteristic]:
    return sorted(
        (
            characteristic
            for characteristic in client.services.characteristics.values()
            if properties & {*characteristic.properties}
            and characteristic.service_uuid not in _NOT_FOR_READINGS
        ),
        key=lambda characteristic: characteristic.handle,
    )


def profile_source(client: BleakClient, profile: OverBluetooth, meter: str) -> Source:
    """The characteristic that the profile names.

    Raises:
        MeterUnreachable: when the meter does not notify it, or takes no request where it should.
    """
    foreign = f'{meter}: the profile "{profile.name}" is not for this meter'
    target = profile.takes_request or profile.notifies
    if profile.request and target not in {one.uuid for one in writable(client)}:
        raise MeterUnreachable(f"{foreign}, to whose {target} nothing can be written")
    for characteristic in notifying(client):
        if characteristic.uuid == profile.notifies:
            return Source(characteristic, profile.decoder(meter))
    raise MeterUnreachable(f"{foreign}, which does not notify {profile.notifies}")


async def own_sources(client: BleakClient, meter: str, unit: str | None) -> list[Source]:
    """The characteristics that can be understood without a profile.

    Raises:
        MeterUnreachable: when there are none.
    """
    texts = []
    for characteristic in notifying(client):
        form = await _presentation(client, characteristic)
        if form is None:
            texts.append(Source(characteristic, TextDecoder(meter, unit)))
            continue
        source = Source(characteristic, ValueDecoder(form, meter, unit), form.described)
        if form.is_length:
            return [source]
        if form.is_text and form.unit == UNITLESS:
            texts.append(source)
    if not texts:
        raise MeterUnreachable(
            f"{meter}: it notifies nothing that could be a reading; is it a meter, "
            "and does it need a profile (?profile=NAME)?"
        )
    return texts


async def _presentation(
    client: BleakClient, characteristic: BleakGATTCharacteristic
) -> PresentationFormat | None:
    """What the characteristic says of its values; None when it says nothing, or nonsense."""
    descriptor = characteristic.get_descriptor(_PRESENTATION_FORMAT)
    if descriptor is None:
        return None
    data = bytes(await client.read_gatt_descriptor(descriptor))
    with contextlib.suppress(BadInput):
        return PresentationFormat.parse(data)
    return None
