"""A program on a terminal of its own, whose screen text is waited for."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import sys
import termios
import time
from pathlib import Path
from types import TracebackType
from typing import Self

_CONTROL = re.compile(rb"\x1b\[[0-9;?]*[a-zA-Z]")
_BEGUN = re.compile(rb"\x1b(\[[0-9;?]*)?$")


class Terminal:
    """Runs Python with these arguments on an 80x24 terminal."""

    def __init__(self, arguments: list[str]) -> None:
        self.started = time.perf_counter()
        self.child, self._end = pty.fork()
        if self.child == 0:
            os.execv(sys.executable, [sys.executable, *arguments])
        fcntl.ioctl(self._end, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
        self._seen, self._begun = b"", b""

    def wait_for(self, text: bytes, within_s: float = 30.0) -> float:
        """The moment at which ``text`` is painted, by the clock of ``time.perf_counter``."""
        until = time.perf_counter() + within_s
        while text not in self._seen:
            if not select.select([self._end], [], [], max(0.0, until - time.perf_counter()))[0]:
                raise TimeoutError(f"{text!r} was not painted within {within_s} s")
            self._take(os.read(self._end, 65536))
        self._seen = self._seen[self._seen.index(text) :]
        return time.perf_counter()

    def found(self, pattern: bytes) -> bytes:
        """What is painted by now and fits a regular expression, once it is."""
        while (match := re.search(pattern, self._seen)) is None:
            self._take(os.read(self._end, 65536))
        return match[0]

    def forget(self) -> None:
        """Drop the text that was painted so far."""
        self._seen = b""

    def press(self, key: bytes) -> None:
        """Press a key."""
        os.write(self._end, key)

    def _take(self, painted: bytes) -> None:
        """Add to the text what was painted; a control sequence may come in two reads."""
        painted = self._begun + painted
        begun = _BEGUN.search(painted)
        self._begun = begun[0] if begun else b""
        self._seen += _CONTROL.sub(b"", painted.removesuffix(self._begun))

    @property
    def resident_kb(self) -> int:
        """Memory that the program holds."""
        status = Path(f"/proc/{self.child}/status").read_text()
        found = re.search(r"VmRSS:\s+(\d+)", status)
        return int(found[1]) if found else 0

    @property
    def computed_s(self) -> float:
        """Processor time of the program so far, however busy the machine is, seconds."""
        tasks = Path(f"/proc/{self.child}/task").glob("*/schedstat")
        return sum(int(task.read_text().split()[0]) for task in tasks) / 1e9

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        os.kill(self.child, signal.SIGKILL)
        os.waitpid(self.child, 0)
        os.close(self._end)
