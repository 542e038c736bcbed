"""The air about a computer: its radio, and the simulated meters within reach."""

from __future__ import annotations

from collections.abc import Iterable

from witnessmark_simulators.bluetooth.peripheral import Peripheral


class Radio:
    """A Bluetooth radio and what it can hear.

    Args:
        peripherals: the meters.
        present: whether the computer has a radio at all.
        powered: whether it is switched on.
        permitted: whether programs may use it.
    """

    def __init__(
        self,
        peripherals: Iterable[Peripheral],
        *,
        present: bool = True,
        powered: bool = True,
        permitted: bool = True,
    ) -> None:
        self.peripherals = {peripheral.address: peripheral for peripheral in peripherals}
        self.present = present
        self.powered = powered
        self.permitted = permitted

    def switch(self, *, on: bool) -> None:
        """Switch the radio on, or off, which drops every link."""
        self.powered = on
        if not on:
            for peripheral in self.peripherals.values():
                peripheral.drop()

    def heard(self) -> list[Peripheral]:
        """Return the meters that advertise and can be heard now."""
        if not (self.present and self.powered):
            return []
        return [peripheral for peripheral in self.peripherals.values() if peripheral.seen]
