"""Which of a meter's characteristics tell its readings, and how each is decoded.

A profile that was asked for decides alone, and so does the characteristic that the address names.
Else the one that says of itself that it holds a length is taken; else all that might send text are
listened to, until one of them has given a number with a unit of length. A number without one could
be the charge. Where two could be the distance, the person is asked.
"""

from __future__ import annotations

import contextlib
import re
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
_ENOUGH: Final = 3
"""Readings of one characteristic after which no other is waited for."""
_SAME_MM: Final = 1.0
"""Two ways of sending one distance may round it differently: one in mm, one in thousandths of m."""
_BARE: Final = re.compile(rb"[0-9.,+\-/ ]+")
_NOT_FOR_READINGS: Final = frozenset(
    normalize_uuid_16(number) for number in (0x1800, 0x1801, 0x180A, 0x180F)
)
"""Generic access, generic attributes, device information, battery."""


Report = Reading | Fault | Noise


class Decoder(Protocol):
    """Makes reports of what one characteristic notifies over one link."""

    def feed(self, data: bytes, at: datetime) -> Sequence[Report]:
        """Return what a notification completes."""


class Source(NamedTuple):
    """A characteristic to listen to, what its notifications mean, and what it calls its value."""

    characteristic: BleakGATTCharacteristic
    decoder: Decoder
    described: str | None = None
    is_polled: bool = False
    """True where it sends nothing by itself."""


class ValueDecoder:
    """Reads each notification as one value of a characteristic that describes itself."""

    def __init__(self, form: PresentationFormat, meter: str, unit: str | None) -> None:
        self._form = form
        self._meter = meter
        self._unit = unit

    def feed(self, data: bytes, at: datetime) -> list[Report]:
        """Return what the value says."""
        return [report_value(self._form, data, at=at, meter=self._meter, text_unit=self._unit)]


class Ear:
    """Makes reports of what the sources of one link notify.

    Of several, the one that brings a number with a unit of length is the one. Its first readings
    are kept back for a moment, in which others may bring such numbers too: the same ones are the
    same shots told twice, and count once; other ones are a question to the person.
    """

    def __init__(self, sources: Sequence[Source], meter: str) -> None:
        self._meter = meter
        self._sources = {one.characteristic.handle: one for one in sources}
        self._kept_back: dict[int, list[Reading]] = {}

    @property
    def waits(self) -> bool:
        """True while a text may still go on, or readings are kept back."""
        return bool(self._kept_back) or any(text.waits for _, text in self._texts())

    def take(
        self, characteristic: BleakGATTCharacteristic, data: bytes, at: datetime
    ) -> Sequence[Report]:
        """Return what a notification completes.

        Raises:
            MeterUnreachable: when two characteristics could be the distance.
        """
        source = self._sources.get(characteristic.handle)
        if source is None:
            return ()
        reports = self._judged(characteristic.handle, source.decoder.feed(data, at))
        is_enough = any(len(readings) >= _ENOUGH for readings in self._kept_back.values())
        return reports + (self._settled() if is_enough else [])

    def break_off(self, why: str, at: datetime) -> list[Report]:
        """Return what had begun, as nothing more came for a while or the link is gone.

        Raises:
            MeterUnreachable: when two characteristics could be the distance.
        """
        reports: list[Report] = []
        for handle, text in self._texts():
            reports += self._judged(handle, text.break_off(why, at))
        return reports + self._settled()

    def _judged(self, handle: int, reports: Sequence[Report]) -> list[Report]:
        """Return the reports, without readings of one that may not be the distance."""
        if len(self._sources) == 1:
            return list(reports)
        judged: list[Report] = []
        for report in reports:
            if not isinstance(report, Reading):
                judged.append(report)
            elif _BARE.fullmatch(report.raw.strip()):
                which = self._sources[handle].characteristic.uuid
                why = (
                    "a number without a unit, of a meter that tells more than one value; if it is "
                    f"the distance, add characteristic={which} to the address"
                )
                judged.append(Noise(why, report.at, report.meter, report.raw))
            else:
                self._kept_back.setdefault(handle, []).append(report)
        return judged

    def _settled(self) -> list[Report]:
        """Return what was kept back, of the one characteristic that is the distance from now on."""
        kept_back, self._kept_back = self._kept_back, {}
        if not kept_back:
            return []
        (handle, readings), *others = kept_back.items()
        for _, theirs in others:
            pairs = zip(readings, theirs, strict=False)
            if any(abs(one.distance_mm - other.distance_mm) > _SAME_MM for one, other in pairs):
                raise _which_of(self._meter, [self._sources[one] for one in kept_back])
        self._sources = {handle: self._sources[handle]}
        return list(readings)

    def _texts(self) -> list[tuple[int, TextDecoder]]:
        return [
            (handle, source.decoder)
            for handle, source in self._sources.items()
            if isinstance(source.decoder, TextDecoder)
        ]


def _which_of(meter: str, sources: Sequence[Source]) -> MeterUnreachable:
    """Return the question that has to be answered before such a meter can be read."""
    named = [
        f"{one.characteristic.uuid}{f' ({one.described})' if one.described else ''}"
        for one in sources
    ]
    return MeterUnreachable(
        f"{meter}: it tells lengths in {len(named)} characteristics, {' and '.join(named)}; add "
        "the one that is the distance to the address, as characteristic=UUID"
    )


def notifying(client: BleakClient) -> list[BleakGATTCharacteristic]:
    """Return the characteristics that send values by themselves, in the meter's own order."""
    return _those_with(client, {"notify", "indicate"})


def writable(client: BleakClient) -> list[BleakGATTCharacteristic]:
    """Return the characteristics to which a request may be written, in the meter's own order."""
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
    """Return the characteristic that the profile names.

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


async def own_sources(
    client: BleakClient, meter: str, unit: str | None, chosen: str | None = None
) -> list[Source]:
    """Return the characteristics that need no profile; only the ``chosen`` one if any.

    Raises:
        MeterUnreachable: when there are none, or several that could be the distance.
    """
    lengths: list[Source] = []
    read_only: list[Source] = []
    texts: list[Source] = []
    for characteristic in _those_with(client, {"notify", "indicate", "read"}):
        if chosen not in {None, characteristic.uuid}:
            continue
        notifies = bool({"notify", "indicate"} & {*characteristic.properties})
        form = await _presentation(client, characteristic)
        if form is None:
            if notifies:
                texts.append(Source(characteristic, TextDecoder(meter, unit)))
            continue
        decoder = ValueDecoder(form, meter, unit)
        source = Source(characteristic, decoder, form.described, is_polled=not notifies)
        if form.is_length:
            (lengths if notifies else read_only).append(source)
        elif notifies and form.is_text and form.unit == UNITLESS:
            texts.append(source)
    described = lengths or read_only
    if len(described) > 1:
        raise _which_of(meter, described)
    if not (described or texts):
        raise MeterUnreachable(
            f"{meter}: it notifies nothing that could be a reading; is it a meter, and does it "
            f"need a profile (?profile=NAME)? If it does, see: witnessmark learn {meter} --help"
            if chosen is None
            else f"{meter}: it has no characteristic {chosen} that brings readings"
        )
    return described or texts


async def _presentation(
    client: BleakClient, characteristic: BleakGATTCharacteristic
) -> PresentationFormat | None:
    """Return what the characteristic says of its values; None when it says nothing, or nonsense."""
    descriptor = characteristic.get_descriptor(_PRESENTATION_FORMAT)
    if descriptor is None:
        return None
    data = bytes(await client.read_gatt_descriptor(descriptor))
    with contextlib.suppress(BadInput):
        return PresentationFormat.parse(data)
    return None
