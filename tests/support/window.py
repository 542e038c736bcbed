"""The app in a terminal of its own, as a person has it in a window."""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
import termios
import time
from collections.abc import Callable
from pathlib import Path

from patience import HUNG_S

ALTERNATE_SCREEN, MOUSE = b"\x1b[?1049", b"\x1b[?1000"


class Window:
    """The app in a terminal of its own, on a store of its own.

    ``python`` is what Python runs, where that is not the program itself.
    """

    def __init__(self, store_file: Path, *python: str) -> None:
        self.painted = b""
        self.child, self.end = pty.fork()
        if self.child == 0:
            os.environ["WITNESSMARK_STORE"] = str(store_file)
            os.execv(sys.executable, [sys.executable, *(python or ("-m", "witnessmark"))])
        self._settings = termios.tcgetattr(self.end)

    def wait_for(self, text: bytes) -> None:
        """Wait until it has painted something."""
        until = time.monotonic() + HUNG_S
        while text not in self.painted:
            if not self._read(until - time.monotonic()):
                raise TimeoutError(f"{text!r} was not painted: {self.painted[-2000:]!r}")

    def wait_until(self, happened: Callable[[], bool]) -> None:
        """Wait until something has happened beside it, while it paints."""
        until = time.monotonic() + HUNG_S
        while not happened():
            self._read(0.02)
            if time.monotonic() > until:
                raise TimeoutError(f"it did not happen: {self.painted[-2000:]!r}")

    def press(self, keys: bytes) -> None:
        """Press keys."""
        os.write(self.end, keys)

    @property
    def is_as_before(self) -> bool:
        """Whether the terminal is as it was before the app."""
        modes_left = all(
            self.painted.rindex(mode + b"l") > self.painted.rindex(mode + b"h")
            for mode in (ALTERNATE_SCREEN, MOUSE)
        )
        return modes_left and termios.tcgetattr(self.end) == self._settings

    def exit_code(self) -> int:
        """Wait for its end."""
        until = time.monotonic() + HUNG_S
        while True:
            pid, status = os.waitpid(self.child, os.WNOHANG)
            if pid:
                while self._read(0.0):
                    pass
                return os.waitstatus_to_exitcode(status)
            if time.monotonic() > until:
                os.kill(self.child, signal.SIGKILL)
                raise TimeoutError("it did not end")
            self._read(0.05)

    def _read(self, within_s: float) -> bool:
        try:
            if not select.select([self.end], [], [], max(within_s, 0.0))[0]:
                return False
            self.painted += os.read(self.end, 65536)
        except (OSError, ValueError):  # its end of the terminal is closed
            time.sleep(0.05)
            return False
        return True
