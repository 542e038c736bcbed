"""What every simulated line has in common: a meter's bytes go out, and it can be unplugged."""

from __future__ import annotations

import abc
from typing import Self


class Line(abc.ABC):
    """A place that a serial driver can open, and the meter's end of it.

    Entered as a context it is plugged in; left, it is gone. What is sent while it is unplugged is
    lost, and so is what nobody reads once the line's own buffer is full. ``unplug`` may lose bytes
    that were sent and not yet read.
    """

    def __enter__(self) -> Self:
        self.plug_in()
        return self

    def __exit__(self, *_exc: object) -> None:
        self.close()

    @property
    def address(self) -> str:
        """The meter's address, such as ``serial:/dev/ttyUSB0``; it outlasts an unplugging."""
        return f"serial:{self.port}"

    @property
    def environment(self) -> dict[str, str]:
        """What has to be in the environment of a program so that it finds the line."""
        return {}

    @property
    @abc.abstractmethod
    def port(self) -> str:
        """What pyserial opens: a path or a URL."""

    @property
    @abc.abstractmethod
    def plugged_in(self) -> bool:
        """Whether the line can be opened now."""

    @abc.abstractmethod
    def plug_in(self) -> None:
        """Make the line reachable under its address; nothing changes when it is."""

    @abc.abstractmethod
    def unplug(self) -> None:
        """Cut off whoever has the line open; nothing is found at the address any more."""

    @abc.abstractmethod
    def send(self, raw: bytes) -> None:
        """Send the meter's bytes to whoever has the line open."""

    def receive(self) -> bytes:
        """Return what was written to the meter and not yet received; a line may take nothing."""
        return b""

    def close(self) -> None:
        """Unplug for good."""
        self.unplug()
