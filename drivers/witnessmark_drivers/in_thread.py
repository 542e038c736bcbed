"""Blocking work in a thread of its own, iterated from asyncio."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncGenerator, Callable, Iterator
from typing import TypeVar

T = TypeVar("T")


class _Ended:
    """The last thing that the thread sends, with what it ended on."""

    def __init__(self, error: Exception | None) -> None:
        self.error = error


async def iterate_in_thread(
    work: Callable[[threading.Event], Iterator[T]], name: str
) -> AsyncGenerator[T, None]:
    """Yield what ``work(stop)`` yields in a thread called ``name``; its error is raised here.

    ``work`` has to look at ``stop`` again and again and return once it is set. The thread has ended
    when this generator is closed.
    """
    loop = asyncio.get_running_loop()
    inbox: asyncio.Queue[T | _Ended] = asyncio.Queue()
    stop, over = threading.Event(), asyncio.Event()

    def run() -> None:
        error = None
        try:
            for item in work(stop):
                loop.call_soon_threadsafe(inbox.put_nowait, item)
        except Exception as problem:  # noqa: BLE001 - raised where the items are awaited
            error = problem
        loop.call_soon_threadsafe(inbox.put_nowait, _Ended(error))
        loop.call_soon_threadsafe(over.set)

    thread = threading.Thread(target=run, name=name)
    thread.start()
    try:
        while not isinstance(item := await inbox.get(), _Ended):
            yield item
        if item.error:
            raise item.error
    finally:
        stop.set()
        try:
            await _to_the_end(over)
        finally:
            thread.join()  # a cancelled wait has still waited until the work is over


async def _to_the_end(over: asyncio.Event) -> None:
    """Wait for the thread, however often that is cancelled: it closes the port as it ends."""
    cancelled = None
    while not over.is_set():
        try:
            await over.wait()
        except asyncio.CancelledError as error:
            cancelled = error
    if cancelled is not None:
        raise cancelled
