"""Which round is this copy's of the program, so that two copies never write into the same one.

A claim is a locked file beside the store. The system frees the lock when the process ends, however
it ends, so that no round is left claimed by nobody.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path
from typing import TYPE_CHECKING

from witnessmark.store.database import explained

if TYPE_CHECKING:
    from filelock import BaseFileLock


_AFTER = ".lock"
_PATIENCE_S = 0.1
"""Time that a claim is tried for, seconds: another copy may just be leaving."""


class Claims:
    """The rounds that one copy of the program has to itself."""

    def __init__(self, store: Path) -> None:
        """Nothing is claimed yet of the store in that file."""
        # by its own name: through a link the same round would have another lock
        self._store = store.resolve()
        self._locks: dict[Path, BaseFileLock] = {}

    def take(self, key: str) -> bool:
        """Claim the round of that key; False while another copy has it.

        Raises:
            StoreError: when no file can be locked there.
        """
        with explained(self._store):
            return self._lock(self._file(key), _PATIENCE_S)

    def keep_only(self, key: str) -> None:
        """Leave all rounds but one to any other copy."""
        for file in self._locks.keys() - {self._file(key)}:
            self._let_go(file)

    def leave(self) -> None:
        """Leave all rounds to any other copy, and clear up after those that were killed."""
        if self._locks:
            with contextlib.suppress(OSError):
                self._take_what_nobody_has()
        for file in list(self._locks):
            self._let_go(file)

    def _file(self, key: str) -> Path:
        return self._store.with_name(f"{self._before}{key}{_AFTER}")

    @property
    def _before(self) -> str:
        return f"{self._store.name}-round-"

    def _take_what_nobody_has(self) -> None:
        for file in self._store.parent.iterdir():
            if file.name.startswith(self._before) and file.name.endswith(_AFTER):
                self._lock(file, 0.0)

    def _lock(self, file: Path, patience_s: float) -> bool:
        from filelock import FileLock, Timeout  # noqa: PLC0415 - slow to import

        if file in self._locks:
            return True
        # Any thread may let it go. A lock that the system does not free would be no use here.
        lock = FileLock(file, thread_local=False, fallback_to_soft=False)
        try:
            lock.acquire(timeout=patience_s, poll_interval=_PATIENCE_S / 5)
        except Timeout:
            return False
        self._locks[file] = lock
        return True

    def _let_go(self, file: Path) -> None:
        lock = self._locks.pop(file)
        # While it is still held: whoever waits for this very file sees that it is gone, and makes
        # another. Windows removes no open file, and there the lock does so itself.
        if os.name == "posix":
            with contextlib.suppress(OSError):
                file.unlink()
        lock.release()
