"""A simulated meter's serial line: a pseudo-terminal under a path that stays the same."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
import threading
from pathlib import Path

from witnessmark.meters.port import MeterUnreachable
from witnessmark_simulators.line import Line


class SerialLine(Line):
    """A pseudo-terminal that pyserial opens like any serial port (Linux and macOS).

    Each plugging in makes a new pseudo-terminal, as a USB adapter comes back as a new device; the
    path is a link that leads to the present one. A thread of its own may answer on the line.

    Raises:
        MeterUnreachable: on a system without pseudo-terminals.
    """

    def __init__(self) -> None:
        if os.name != "posix":
            raise MeterUnreachable(
                "a simulated serial line needs Linux or macOS; "
                "here use a simulated meter on TCP: witnessmark simulate tcp"
            )
        self._folder = tempfile.TemporaryDirectory(prefix="witnessmark-")
        self._link = Path(self._folder.name, "meter")
        self._ends: tuple[int, int] | None = None
        self._using = threading.Lock()

    @property
    def port(self) -> str:
        """The path to open."""
        return str(self._link)

    @property
    def plugged_in(self) -> bool:
        """Whether the path leads anywhere."""
        return self._ends is not None

    @property
    def unread(self) -> int:
        """How many bytes were sent that whoever has the line open has not read."""
        import fcntl  # noqa: PLC0415 - not on every system
        import termios  # noqa: PLC0415

        with self._using:
            if self._ends is None:
                return 0
            waiting = fcntl.ioctl(self._ends[1], termios.FIONREAD, bytes(4))
            return int.from_bytes(waiting, sys.byteorder)

    def plug_in(self) -> None:
        """Make a new pseudo-terminal and let the path lead to it."""
        import tty  # noqa: PLC0415 - not on every system

        if self._ends is None:
            meter_end, open_end = self._ends = os.openpty()
            tty.setraw(open_end)
            os.set_blocking(meter_end, False)
            self._link.symlink_to(os.ttyname(open_end))

    def unplug(self) -> None:
        """Remove the pseudo-terminal; who has it open meets the end of the line."""
        if self._ends is not None:
            self._link.unlink()
            with self._using:
                for end in self._ends:
                    os.close(end)
                self._ends = None

    def send(self, raw: bytes) -> None:
        """Send bytes; those that overflow an unread line are lost."""
        with self._using, contextlib.suppress(BlockingIOError):
            if self._ends is not None:
                os.write(self._ends[0], raw)

    def receive(self) -> bytes:
        """Return what whoever has the line open has written, if anything."""
        with self._using, contextlib.suppress(BlockingIOError):
            if self._ends is not None:
                return os.read(self._ends[0], 4096)
        return b""

    def close(self) -> None:
        """Unplug for good and remove the path's folder."""
        super().close()
        self._folder.cleanup()
