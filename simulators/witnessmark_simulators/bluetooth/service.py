"""A stand-in for the system's Bluetooth service ``org.bluez``, on a private bus (Linux).

What a client such as bleak asks of the real service to scan, connect, read, write and subscribe is
here; pairing, classic Bluetooth and several radios are not. The battery service of a meter is kept
back and told as an interface of the device, as the real one does.
"""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Callable
from typing import Any, Self

from dbus_fast import Message, MessageType, Variant
from dbus_fast.aio import MessageBus

from witnessmark_simulators.bluetooth.bus import BLUETOOTH, PrivateBus
from witnessmark_simulators.bluetooth.objects import (
    ADAPTER,
    ADAPTER_PATH,
    CHARACTERISTIC,
    DESCRIPTOR,
    DEVICE,
    attribute_objects,
    attribute_path,
    device_path,
    objects,
)
from witnessmark_simulators.bluetooth.outbox import OBJECT_MANAGER, PROPERTIES, Outbox
from witnessmark_simulators.bluetooth.peripheral import Peripheral, Refusal, Refused
from witnessmark_simulators.bluetooth.radio import Radio

_ADVERTISING_S = 0.05

_ERRORS = {
    Refusal.FAILED: ("org.bluez.Error.Failed", "the meter refuses"),
    Refusal.NOT_PAIRED: ("org.bluez.Error.NotPermitted", "Not paired"),
    Refusal.BUSY: ("org.bluez.Error.InProgress", "Operation already in progress"),
}

Answer = tuple[str, list[Any]]
"""Signature and body of a reply."""

_NOTHING: Answer = ("", [])


class _CallError(Exception):
    """The call is answered with an error of this name."""


class BluetoothService:
    """The service with its bus, while this is entered as an asynchronous context.

    Args:
        radio: the computer's radio and the meters within its reach.
    """

    def __init__(self, radio: Radio) -> None:
        self.radio = radio
        self._private_bus = PrivateBus(permits=radio.permitted)
        self._outbox = Outbox()
        self._stack = contextlib.AsyncExitStack()
        self._scanning = False
        self._told_powered = radio.powered
        self._methods: dict[tuple[str, str], Callable[[str, list[Any]], Answer]] = {
            (OBJECT_MANAGER, "GetManagedObjects"): self._managed_objects,
            (PROPERTIES, "Get"): self._property,
            (ADAPTER, "SetDiscoveryFilter"): lambda _path, _body: _NOTHING,
            (ADAPTER, "StartDiscovery"): self._start_discovery,
            (ADAPTER, "StopDiscovery"): self._stop_discovery,
            (DEVICE, "Connect"): self._connect,
            (DEVICE, "Disconnect"): self._disconnect,
            (CHARACTERISTIC, "ReadValue"): self._read,
            (DESCRIPTOR, "ReadValue"): self._read,
            (CHARACTERISTIC, "WriteValue"): self._write,
            (CHARACTERISTIC, "StartNotify"): self._start_notify,
            (CHARACTERISTIC, "StopNotify"): self._stop_notify,
        }

    @property
    def address(self) -> str:
        """What DBUS_SYSTEM_BUS_ADDRESS has to be for a program to meet this service."""
        return self._private_bus.address

    async def __aenter__(self) -> Self:
        """Start the bus and the service on it.

        Raises:
            MeterUnreachable: when ``dbus-daemon`` is not installed or does not start.
        """
        async with contextlib.AsyncExitStack() as stack:
            stack.enter_context(self._private_bus)
            bus = await MessageBus(bus_address=self.address).connect()
            stack.push_async_callback(_hang_up, bus)
            bus.add_message_handler(self._take)
            await bus.request_name(BLUETOOTH)
            self._bus = bus
            for work in (self._outbox.send_all(bus), self._advertise()):
                stack.push_async_callback(_end, asyncio.create_task(work))
            self._stack = stack.pop_all()
        return self

    async def __aexit__(self, *_exc: object) -> None:
        await self._stack.aclose()

    async def vanish(self) -> None:
        """End without a word to anyone, as a service does that crashes; the bus lives on."""
        await self._bus.release_name(BLUETOOTH)
        for peripheral in self.radio.peripherals.values():
            peripheral.disconnect()

    async def come_back(self) -> None:
        """Start again, and tell what there is."""
        await self._bus.request_name(BLUETOOTH)
        self._outbox.added(objects(self.radio))

    async def _advertise(self) -> None:
        """Tell again and again, while somebody scans, how strongly each meter is received."""
        while True:
            await asyncio.sleep(_ADVERTISING_S)
            if self._told_powered != self.radio.powered:
                self._told_powered = self.radio.powered
                powered = {"Powered": Variant("b", self.radio.powered)}
                self._outbox.changed(ADAPTER_PATH, ADAPTER, powered)
            for peripheral in self.radio.heard() if self._scanning else ():
                received = {"RSSI": Variant("n", peripheral.rssi)}
                self._outbox.changed(device_path(peripheral), DEVICE, received)

    def _take(self, message: Message) -> bool:
        """Answer a call by way of the outbox, so that signals and replies keep their order."""
        if message.message_type is not MessageType.METHOD_CALL:
            return False
        reply = self._reply(message)
        if reply is not None:
            self._outbox.put(reply)
        return True

    def _reply(self, message: Message) -> Message | None:
        method = self._methods.get((message.interface or "", message.member or ""), _no_such_method)
        try:
            return Message.new_method_return(message, *method(message.path or "", message.body))
        except _CallError as error:
            return Message.new_error(message, str(error), f"{message.member} at {message.path}")
        except Refused as refused:
            silent = refused.reason is Refusal.SILENCE
            return None if silent else Message.new_error(message, *_ERRORS[refused.reason])

    def _managed_objects(self, _path: str, _body: list[Any]) -> Answer:
        return "a{oa{sa{sv}}}", [objects(self.radio)]

    def _property(self, path: str, body: list[Any]) -> Answer:
        interface, name = body
        value = objects(self.radio).get(path, {}).get(interface, {}).get(name)
        if value is None:
            raise _CallError("org.freedesktop.DBus.Error.InvalidArgs")
        return "v", [value]

    def _start_discovery(self, _path: str, _body: list[Any]) -> Answer:
        if not self.radio.powered:
            raise _CallError("org.bluez.Error.NotReady")
        self._scanning = True
        return _NOTHING

    def _stop_discovery(self, _path: str, _body: list[Any]) -> Answer:
        self._scanning = False
        return _NOTHING

    def _connect(self, path: str, _body: list[Any]) -> Answer:
        peripheral = self._peripheral(path)
        peripheral.connect(_Link(self._outbox, peripheral))
        self._outbox.changed(path, DEVICE, {"Connected": Variant("b", True)})
        self._outbox.added(attribute_objects(peripheral))
        self._outbox.changed(path, DEVICE, {"ServicesResolved": Variant("b", True)})
        return _NOTHING

    def _disconnect(self, path: str, _body: list[Any]) -> Answer:
        self._peripheral(path).drop()
        return _NOTHING

    def _read(self, path: str, _body: list[Any]) -> Answer:
        return "ay", [self._peripheral(path).read(_handle(path))]

    def _write(self, path: str, body: list[Any]) -> Answer:
        self._peripheral(path).write(_handle(path), bytes(body[0]))
        return _NOTHING

    def _start_notify(self, path: str, _body: list[Any]) -> Answer:
        self._peripheral(path).subscribe(_handle(path))
        return _NOTHING

    def _stop_notify(self, path: str, _body: list[Any]) -> Answer:
        self._peripheral(path).unsubscribe(_handle(path))
        return _NOTHING

    def _peripheral(self, path: str) -> Peripheral:
        for peripheral in self.radio.peripherals.values():
            if f"{path}/".startswith(f"{device_path(peripheral)}/"):
                return peripheral
        raise _CallError("org.freedesktop.DBus.Error.UnknownObject")


class _Link:
    """The service's end of a link; it fills ``Central``."""

    def __init__(self, outbox: Outbox, peripheral: Peripheral) -> None:
        self._outbox = outbox
        self._peripheral = peripheral

    def notified(self, handle: int, data: bytes) -> None:
        path = attribute_path(self._peripheral, handle)
        self._outbox.changed(path, CHARACTERISTIC, {"Value": Variant("ay", data)})

    def dropped(self) -> None:
        path = device_path(self._peripheral)
        for name in ("ServicesResolved", "Connected"):
            self._outbox.changed(path, DEVICE, {name: Variant("b", False)})


def _no_such_method(_path: str, _body: list[Any]) -> Answer:
    raise _CallError("org.freedesktop.DBus.Error.UnknownMethod")


def _handle(path: str) -> int:
    """Return the handle that ends the path of an attribute."""
    return int(path[-4:], 16)


async def _hang_up(bus: MessageBus) -> None:
    bus.disconnect()
    await bus.wait_for_disconnect()  # type: ignore[no-untyped-call]


async def _end(task: asyncio.Task[None]) -> None:
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
