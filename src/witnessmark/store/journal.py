"""The store off the event loop: one thread writes, and whoever appends waits for the commit."""

from __future__ import annotations

import asyncio
import contextlib
import os
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Concatenate, ParamSpec, Self, TypeVar

from witnessmark.errors import StoreError
from witnessmark.store.records import JournalEntry, PendingEntry, RecordRefused, new_key
from witnessmark.store.store import Store

P = ParamSpec("P")
T = TypeVar("T")

Outcomes = list[int | RecordRefused]


class _Batch:
    """The entries that came in while the last commit was under way; they share the next one."""

    def __init__(self) -> None:
        self.drafts: list[PendingEntry] = []
        self.committed: Future[Outcomes]


class Journal:
    """An open store that never holds up the event loop.

    Owns the store from here on: every call goes through the one thread, in the order it was made,
    save those that only ``look``, which have a connection and a thread of their own.
    A call that is cancelled is still carried out, so that no reading is lost with its screen.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._writer = ThreadPoolExecutor(1, thread_name_prefix="witnessmark-journal")
        self._reader = ThreadPoolExecutor(
            1, thread_name_prefix="witnessmark-reader", initializer=_step_back
        )
        self._read_from: Store | None = None
        """The same store, opened once more to be read; None until it is."""
        self._lock = threading.Lock()
        self._open_batch: _Batch | None = None
        self._closed = False

    async def append(
        self, round_id: int | None, entry: JournalEntry, key: str | None = None
    ) -> int:
        """Journal an entry and return its id; it is on disk when this returns.

        Entries appended at the same time are stored in the order of the calls. Raises as
        ``Store.append`` does, and ``StoreError`` once the journal is closed.
        """
        draft = PendingEntry(round_id, entry, key or new_key())
        with self._lock:
            batch = self._open_batch
            if batch is None:
                batch = _Batch()
                batch.committed = self._submit(self._commit, batch)
                self._open_batch = batch
            position = len(batch.drafts)
            batch.drafts.append(draft)
        outcome = (await _outcome(batch.committed))[position]
        if isinstance(outcome, RecordRefused):
            raise outcome
        return outcome

    async def run(
        self, call: Callable[Concatenate[Store, P], T], *args: P.args, **kwargs: P.kwargs
    ) -> T:
        """Call a method of the store, as in ``await journal.run(Store.entries, round_id)``."""
        with self._lock:
            self._open_batch = None  # or a later append would overtake this call
        return await _outcome(self._submit(call, self._store, *args, **kwargs))

    async def look(
        self, call: Callable[Concatenate[Store, P], T], *args: P.args, **kwargs: P.kwargs
    ) -> T:
        """Call what only reads the store, however long it takes: no reading waits for it.

        What was appended before is there. Raises as ``run`` does.
        """
        if self._closed:
            raise StoreError(f"{self._store.path}: the journal is closed, nothing more is read")
        looking = self._reader.submit(lambda: call(self._looked_at(), *args, **kwargs))
        return await asyncio.wrap_future(looking)  # a cancelled caller wants no result

    def _looked_at(self) -> Store:
        if self._read_from is None:
            self._read_from = Store.at(self._store.path)
        return self._read_from

    def _close(self) -> None:
        self._store.close()
        if self._read_from is not None:
            self._read_from.interrupt()
        self._reader.shutdown(cancel_futures=True)
        if self._read_from is not None:
            self._read_from.close()

    async def aclose(self) -> None:
        """Finish what was begun, close the store and end the thread."""
        if self._closed:
            return
        closing = self._submit(self._close)
        self._closed = True
        try:
            await _outcome(closing)
        finally:
            self._writer.shutdown()

    def close(self) -> None:
        """Close the store where no event loop runs any more that could wait for it."""
        if not self._closed:
            self._submit(self._close).result()
            self._closed = True

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        await self.aclose()

    def _submit(self, call: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> Future[T]:
        if self._closed:
            raise StoreError(f"{self._store.path}: the journal is closed, nothing more is stored")
        return self._writer.submit(call, *args, **kwargs)

    def _commit(self, batch: _Batch) -> Outcomes:
        with self._lock:
            self._open_batch = None
        return self._store.append_all(batch.drafts)


async def _outcome(job: Future[T]) -> T:
    return await asyncio.shield(asyncio.wrap_future(job))


def _step_back() -> None:
    """Have this thread leave the processor to those that a person waits for, where that can be."""
    if sys.platform == "linux":  # elsewhere a priority is of the whole process
        with contextlib.suppress(OSError):
            os.setpriority(os.PRIO_PROCESS, threading.get_native_id(), 10)
