"""A simulated meter at its end of the Bluetooth link, whatever the other end is made of."""

from __future__ import annotations

import enum
from collections import Counter
from collections.abc import Callable
from typing import Protocol

from witnessmark_simulators.bluetooth.gatt import (
    WRITE,
    WRITE_SILENTLY,
    Characteristic,
    Descriptor,
    Service,
    numbered,
)


class Deed(enum.Enum):
    """What a computer asks of a meter."""

    CONNECT = "connect"
    READ = "read"
    WRITE = "write"
    SUBSCRIBE = "subscribe"


class Refusal(enum.Enum):
    """Why a meter does not do what it is asked."""

    FAILED = "failed"
    NOT_PAIRED = "not paired"
    BUSY = "busy"
    """Another program, or the system itself, is at the same."""
    SILENCE = "silence"
    """It never answers."""


class Refused(Exception):
    """The meter refuses what it was asked, for ``reason``."""

    def __init__(self, reason: Refusal) -> None:
        super().__init__(reason.value)
        self.reason = reason


class Central(Protocol):
    """The computer's end of the link."""

    def notified(self, handle: int, data: bytes) -> None:
        """Take the new value of a characteristic to which this end has subscribed."""

    def dropped(self) -> None:
        """Take note that the link is gone."""


class Peripheral:
    """A meter that can be seen, connected, read and written, and that drops, hangs and refuses.

    Args:
        address: six bytes in hexadecimal, joined by colons.
        name: what it advertises; None for a meter without a name.
        services: what it offers.
        speaks: the UUID of the characteristic in which its readings come.
        rssi: how strongly it is received, dBm.
        obeys: the UUID of the characteristic that takes requests; None: any that can be written.
        on_write: called with what is written there, as a meter is fired by request.
    """

    def __init__(
        self,
        address: str,
        name: str | None,
        services: tuple[Service, ...],
        *,
        speaks: str,
        rssi: int = -55,
        obeys: str | None = None,
        on_write: Callable[[bytes], None] | None = None,
    ) -> None:
        self.address = address
        self.name = name
        self.rssi = rssi
        self.in_range = True
        self.is_taken = False
        """Whether another computer or a telephone holds the link."""
        self.on_write = on_write
        self._speaks = speaks
        self._obeys = obeys
        self.attributes = {attribute.handle: attribute for attribute in numbered(services)}
        self.refused: list[Deed] = []
        """What it was asked to do and refused, in order."""
        self.reads: Counter[str] = Counter()
        """How often each characteristic and descriptor was read, by its UUID."""
        self._values: dict[str, bytes] = {}
        self._refusals: dict[Deed, Refusal] = {}
        self._central: Central | None = None
        self._subscribed: set[int] = set()

    @property
    def connected(self) -> bool:
        """Whether a computer holds the link."""
        return self._central is not None

    @property
    def seen(self) -> bool:
        """Whether it advertises: a meter does so until it is connected to anything."""
        return self.in_range and not (self.connected or self.is_taken)

    def refuse(self, deed: Deed, reason: Refusal | None) -> None:
        """Refuse something from now on; with None nothing."""
        if reason is None:
            self._refusals.pop(deed, None)
        else:
            self._refusals[deed] = reason

    def connect(self, central: Central) -> None:
        """Take a computer's link.

        Raises:
            Refused: when scripted, out of range or already connected.
        """
        self._meet(Deed.CONNECT)
        if not self.seen:
            raise Refused(Refusal.FAILED)
        self._central = central

    def disconnect(self) -> None:
        """Let go of the link without a word, as the computer asked for it."""
        self._central = None
        self._subscribed.clear()

    def read(self, handle: int) -> bytes:
        """Return the value of a characteristic or descriptor.

        Raises:
            Refused: when scripted.
        """
        self._meet(Deed.READ)
        item = self.attributes[handle].item
        self.reads[item.uuid] += 1
        held = item.value if isinstance(item, Characteristic | Descriptor) else b""
        return self._values.get(item.uuid, held)

    def hold(self, value: bytes, uuid: str) -> None:
        """Hold another value in a characteristic, for whoever reads it."""
        self._values[uuid] = value

    def write(self, handle: int, data: bytes) -> None:
        """Take what is written to a characteristic.

        Raises:
            Refused: when scripted, or it cannot be written.
        """
        self._meet(Deed.WRITE)
        item = self.attributes[handle].item
        if not (isinstance(item, Characteristic) and {WRITE, WRITE_SILENTLY} & {*item.flags}):
            raise Refused(Refusal.FAILED)
        if self.on_write is not None and self._obeys in {None, item.uuid}:
            self.on_write(data)

    def subscribe(self, handle: int) -> None:
        """Notify this characteristic from now on.

        Raises:
            Refused: when scripted.
        """
        self._meet(Deed.SUBSCRIBE)
        self._subscribed.add(handle)

    def unsubscribe(self, handle: int) -> None:
        """Notify it no longer."""
        self._subscribed.discard(handle)

    def send(self, data: bytes, uuid: str | None = None) -> bool:
        """Notify a value: of the characteristic ``uuid``, else of the one for readings.

        Returns whether it went out, which takes a computer that has subscribed.
        """
        handle = self._handle(uuid or self._speaks)
        if self._central is None or handle not in self._subscribed:
            return False
        self._central.notified(handle, data)
        return True

    def drop(self) -> None:
        """Lose the link."""
        central = self._central
        self.disconnect()
        if central is not None:
            central.dropped()

    def leave(self) -> None:
        """Leave the range, or go off."""
        self.in_range = False
        self.drop()

    def come_back(self) -> None:
        """Come within range again."""
        self.in_range = True
        self.is_taken = False
        """Whether another computer or a telephone holds the link."""

    def _handle(self, uuid: str) -> int:
        return next(one.handle for one in self.attributes.values() if one.item.uuid == uuid)

    def _meet(self, deed: Deed) -> None:
        if deed in self._refusals:
            self.refused.append(deed)
            raise Refused(self._refusals[deed])
