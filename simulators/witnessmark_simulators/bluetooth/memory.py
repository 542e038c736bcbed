"""A radio without any system's Bluetooth service: what bleak takes as ``backend=``, on any system.

It behaves as a system's service does as far as bleak's own interface says. What lies below, such as
messages on a bus or threads of the system, is not modelled.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import NamedTuple, TypeVar, cast

from bleak.args import SizedBuffer
from bleak.assigned_numbers import CharacteristicPropertyName
from bleak.backends.adapter import BaseBleakAdapter
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient, NotifyCallback
from bleak.backends.descriptor import BleakGATTDescriptor
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import (
    AdvertisementData,
    AdvertisementDataCallback,
    BaseBleakScanner,
)
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import (
    BleakBluetoothNotAvailableError,
    BleakBluetoothNotAvailableReason,
    BleakDBusError,
    BleakError,
    BleakGATTProtocolError,
    BleakGATTProtocolErrorCode,
)

from witnessmark_simulators.bluetooth.gatt import Attribute, Characteristic, Service
from witnessmark_simulators.bluetooth.peripheral import Peripheral, Refusal, Refused
from witnessmark_simulators.bluetooth.radio import Radio

T = TypeVar("T")

_ADVERTISING_S = 0.02
_PACKET = 20


class MemoryBackends(NamedTuple):
    """The three classes that bleak takes as ``backend=``."""

    scanner: type[BaseBleakScanner]
    client: type[BaseBleakClient]
    adapter: type[BaseBleakAdapter]


def memory_backends(radio: Radio) -> MemoryBackends:
    """Return backends whose air is that of ``radio``."""
    scanner = type("MemoryScanner", (_Scanner,), {"radio": radio})
    client = type("MemoryClient", (_Client,), {"radio": radio})
    adapter = type("MemoryAdapter", (_Adapter,), {"radio": radio})
    return MemoryBackends(scanner, client, adapter)


class _Scanner(BaseBleakScanner):
    radio: Radio

    def __init__(
        self,
        detection_callback: AdvertisementDataCallback | None,
        service_uuids: list[str] | None,
        _mode: str,
        **_options: object,
    ) -> None:
        super().__init__(detection_callback, service_uuids)
        self._next: asyncio.TimerHandle | None = None

    async def start(self) -> None:
        """Hear every meter in range again and again.

        Raises:
            BleakBluetoothNotAvailableError: without a radio, or when it is off.
        """
        _check(self.radio)
        self.seen_devices = {}
        self._advertise()

    async def stop(self) -> None:
        """Hear no more."""
        if self._next is not None:
            self._next.cancel()

    def _advertise(self) -> None:
        self._next = asyncio.get_running_loop().call_later(_ADVERTISING_S, self._advertise)
        for peripheral in self.radio.heard():
            offered = [
                one.item.uuid
                for one in peripheral.attributes.values()
                if isinstance(one.item, Service)
            ]
            data = AdvertisementData(peripheral.name, {}, {}, offered, None, peripheral.rssi, ())
            address = peripheral.address
            device = self.create_or_update_device(address, address, peripheral.name, None, data)
            self.call_detection_callbacks(device, data)


class _Adapter(BaseBleakAdapter):
    radio: Radio

    @classmethod
    async def get(cls, **_options: object) -> _Adapter:
        """Return the radio.

        Raises:
            BleakBluetoothNotAvailableError: when there is none, or it is off.
        """
        _check(cls.radio)
        return cls()

    async def get_connected_devices(self, service_uuids: frozenset[str]) -> list[BLEDevice]:
        """Return the meters that are connected and offer one of these services."""
        return [
            BLEDevice(peripheral.address, peripheral.name, None)
            for peripheral in self.radio.peripherals.values()
            if peripheral.connected
            and service_uuids & {one.item.uuid for one in peripheral.attributes.values()}
        ]


class _Client(BaseBleakClient):
    """One link; it fills ``Central``."""

    radio: Radio

    def __init__(
        self,
        device: BLEDevice | str,
        _services: set[str] | None = None,
        *,
        disconnected_callback: Callable[[], None] | None,
        timeout: float,
        **_options: object,
    ) -> None:
        super().__init__(device, disconnected_callback=disconnected_callback, timeout=timeout)
        self._peripheral: Peripheral | None = None
        self._callbacks: dict[int, NotifyCallback] = {}

    @property
    def mtu_size(self) -> int:
        """The size of a packet with its head."""
        return _PACKET + 3

    @property
    def is_connected(self) -> bool:
        """Whether the link stands."""
        return self._peripheral is not None

    async def connect(self, pair: bool, **_options: object) -> None:
        """Connect; a meter that is connected already is taken over.

        Raises:
            BleakError: when the meter refuses, or is to be paired, which these meters cannot.
            TimeoutError: when it does not answer.
        """
        if pair:
            await self.pair()
        peripheral = self.radio.peripherals[self.address]
        peripheral.disconnect()
        async with asyncio.timeout(self._timeout):
            await _answered(lambda: peripheral.connect(self))
        self._peripheral = peripheral
        self.services = _collected(peripheral)

    async def disconnect(self) -> None:
        """Let go of the link."""
        if self._peripheral is not None:
            self._peripheral.drop()

    def notified(self, handle: int, data: bytes) -> None:
        """Hand a value to whoever has subscribed."""
        self._callbacks[handle](bytearray(data))

    def dropped(self) -> None:
        """Tell that the link is gone."""
        self._peripheral = self.services = None
        self._callbacks.clear()
        if self._disconnected_callback is not None:
            self._disconnected_callback()

    async def pair(self, *_args: object, **_options: object) -> None:
        """Refuse: these meters are never paired."""
        raise BleakError("these meters cannot be paired")

    async def unpair(self) -> None:
        """Refuse, likewise."""
        raise BleakError("these meters cannot be paired")

    async def read_gatt_char(
        self, characteristic: BleakGATTCharacteristic, **_options: object
    ) -> bytearray:
        """Return the value of a characteristic."""
        return await self._read(characteristic.handle)

    async def read_gatt_descriptor(
        self, descriptor: BleakGATTDescriptor, **_options: object
    ) -> bytearray:
        """Return the value of a descriptor."""
        return await self._read(descriptor.handle)

    async def write_gatt_char(
        self,
        characteristic: BleakGATTCharacteristic,
        data: SizedBuffer,
        _response: bool,
    ) -> None:
        """Write to a characteristic."""
        peripheral = self._there()
        await _answered(lambda: peripheral.write(characteristic.handle, bytes(data)))

    async def write_gatt_descriptor(
        self, _descriptor: BleakGATTDescriptor, _data: SizedBuffer
    ) -> None:
        """Write to a descriptor, which none of these meters takes."""
        raise BleakGATTProtocolError(BleakGATTProtocolErrorCode.WRITE_NOT_PERMITTED)

    async def start_notify(
        self, characteristic: BleakGATTCharacteristic, callback: NotifyCallback, **_options: object
    ) -> None:
        """Subscribe."""
        peripheral = self._there()
        self._callbacks[characteristic.handle] = callback
        await _answered(lambda: peripheral.subscribe(characteristic.handle))

    async def stop_notify(self, characteristic: BleakGATTCharacteristic) -> None:
        """Unsubscribe."""
        self._there().unsubscribe(characteristic.handle)
        self._callbacks.pop(characteristic.handle, None)

    async def _read(self, handle: int) -> bytearray:
        peripheral = self._there()
        return bytearray(await _answered(lambda: peripheral.read(handle)))

    def _there(self) -> Peripheral:
        if self._peripheral is None:
            raise BleakError("Not connected")
        return self._peripheral


def _check(radio: Radio) -> None:
    reasons = BleakBluetoothNotAvailableReason
    if not radio.present:
        raise BleakBluetoothNotAvailableError("no radio", reasons.NO_BLUETOOTH)
    if not radio.permitted:
        raise BleakBluetoothNotAvailableError("not permitted", reasons.DENIED_BY_USER)
    if not radio.powered:
        raise BleakBluetoothNotAvailableError("switched off", reasons.POWERED_OFF)


async def _answered(deed: Callable[[], T]) -> T:
    """What the meter answers, in bleak's errors where it refuses; for ever where it is silent."""
    try:
        return deed()
    except Refused as refused:
        match refused.reason:
            case Refusal.NOT_PAIRED:
                code = BleakGATTProtocolErrorCode.INSUFFICIENT_AUTHENTICATION
                raise BleakGATTProtocolError(code) from refused
            case Refusal.BUSY:
                words = "Operation already in progress"
                raise BleakDBusError("org.bluez.Error.InProgress", [words]) from refused
            case Refusal.FAILED:
                raise BleakError("the meter refuses") from refused
    never: asyncio.Future[T] = asyncio.get_running_loop().create_future()
    return await never


def _collected(peripheral: Peripheral) -> BleakGATTServiceCollection:
    collection = BleakGATTServiceCollection()
    for attribute in peripheral.attributes.values():
        _add(collection, attribute)
    return collection


def _add(collection: BleakGATTServiceCollection, attribute: Attribute) -> None:
    handle, item = attribute.handle, attribute.item
    if isinstance(item, Service):
        collection.add_service(BleakGATTService(None, handle, item.uuid))
    elif isinstance(item, Characteristic):
        service = collection.services[attribute.parent]
        flags = cast("list[CharacteristicPropertyName]", list(item.flags))
        collection.add_characteristic(
            BleakGATTCharacteristic(None, handle, item.uuid, flags, lambda: _PACKET, service)
        )
    else:
        characteristic = collection.characteristics[attribute.parent]
        collection.add_descriptor(BleakGATTDescriptor(None, handle, item.uuid, characteristic))
