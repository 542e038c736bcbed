"""Which round is this copy's of the program, so that two copies never write into the same one.

A claim is a locked file beside the store. The system frees the lock when the process ends, however
it ends, so that no round is left claimed by nobody.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.store.trouble import explained

if TYPE_CHECKING:
    from filelock import BaseFileLock


class Claims:
    """The rounds that one copy of the program has to itself."""

    def __init__(self, store: Path) -> None:
        """Nothing is claimed yet of the store in that file."""
        self._store = store
        self._locks: dict[str, BaseFileLock] = {}

    def take(self, key: str) -> bool:
        """Claim the round of that key; False while another copy has it.

        Raises:
            StoreError: when no file can be locked there.
        """
        from filelock import FileLock, Timeout  # noqa: PLC0415 - slow to import

        if key in self._locks:
            return True
        path = self._store.with_name(f"{self._store.name}-round-{key}.lock")
        # Any thread may let it go. A lock that the system does not free would be no use here.
        lock = FileLock(path, thread_local=False, fallback_to_soft=False)
        with explained(self._store):
            try:
                lock.acquire(blocking=False)
            except Timeout:
                return False
        self._locks[key] = lock
        return True

    def keep_only(self, key: str | None) -> None:
        """Leave all other rounds to any other copy; all of them where ``key`` is None."""
        for other in self._locks.keys() - {key}:
            lock = self._locks.pop(other)
            # While it is still held: whoever waits for this very file sees that it is gone, and
            # makes another. Windows removes no open file, and there the lock does so itself.
            if os.name == "posix":
                with contextlib.suppress(OSError):
                    Path(lock.lock_file).unlink()
            lock.release()
