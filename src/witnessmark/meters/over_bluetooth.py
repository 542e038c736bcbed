"""A profile as a Bluetooth driver needs it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from witnessmark.errors import BadInput
from witnessmark.meters.decoding import Decoder, Outcome, decoder_for
from witnessmark.meters.profile import Bluetooth, Profile
from witnessmark.meters.profile_folder import load_profile


class PacketDecoder:
    """Makes reports of what one characteristic notifies."""

    def __init__(self, decoder: Decoder) -> None:
        self._decoder = decoder

    def feed(self, data: bytes, at: datetime) -> Sequence[Outcome]:
        """Return what a notification completes."""
        return self._decoder.packet(data, at)


class OverBluetooth:
    """How a profile reads a meter on Bluetooth."""

    def __init__(self, name: str, profile: Profile, bluetooth: Bluetooth) -> None:
        self.name = name
        self._profile = profile
        self._bluetooth = bluetooth

    @classmethod
    def load(cls, name: str) -> OverBluetooth:
        """Return the profile of that name.

        Raises:
            BadInput: when there is none, it is wrong, or it does not say which characteristic.
        """
        profile = load_profile(name)
        if profile.bluetooth is None:
            raise BadInput(
                f'profile "{name}" is not for Bluetooth: it has no table bluetooth that names '
                "the characteristic"
            )
        return cls(name, profile, profile.bluetooth)

    @property
    def notifies(self) -> str:
        """The UUID of the characteristic that brings the readings."""
        return str(self._bluetooth.characteristic)

    @property
    def takes_request(self) -> str | None:
        """The UUID of the characteristic to which ``request`` is written; None: the same."""
        uuid = self._bluetooth.request_characteristic
        return None if uuid is None else str(uuid)

    @property
    def request(self) -> bytes | None:
        """What fires the meter; None when only its button does."""
        request = self._bluetooth.request
        return None if request is None else bytes(request.data)

    @property
    def every_s(self) -> float | None:
        """How often the request is made, seconds; None: the profile does not say."""
        request = self._bluetooth.request
        return None if request is None or request.every is None else float(request.every)

    def decoder(self, meter: str) -> PacketDecoder:
        """Return a fresh decoder for a link to ``meter``."""
        return PacketDecoder(decoder_for(self._profile, meter))
