"""When a meter is to be asked for a reading: once it is open, so often, and when told to."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable


class Asking:
    """Tells the thread that reads a meter when to ask it next; any thread may hurry it.

    ``every_s`` of None asks once. ``now_s`` is a clock that never goes back.
    """

    def __init__(self, every_s: float | None, now_s: Callable[[], float] = time.monotonic) -> None:
        self._every_s = every_s
        self._now_s = now_s
        self._next_s: float | None = None
        self._hurry = threading.Event()

    def begin(self) -> None:
        """Ask the meter at once, as it was just opened."""
        self._hurry.set()

    def hurry(self) -> None:
        """Ask at once, without waiting for the time to come."""
        self._hurry.set()

    def is_due(self) -> bool:
        """Return whether to ask now; each time is told once."""
        now_s = self._now_s()
        due = self._hurry.is_set() or (self._next_s is not None and now_s >= self._next_s)
        if due:
            self._hurry.clear()
            self._next_s = None if self._every_s is None else now_s + self._every_s
        return due
