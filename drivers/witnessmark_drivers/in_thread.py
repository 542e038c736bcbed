"""Blocking work in a thread of its own, iterated from asyncio."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import AsyncGenerator, Callable, Iterator
from typing import Final, TypeVar

T = TypeVar("T")

MOST_WAITING: Final = 256
"""Items that wait to be taken while the thread goes on."""
_LOOK_S: Final = 0.05


class _Ended:
    """The last thing that the thread sends, with what it ended on."""

    def __init__(self, error: BaseException | None) -> None:
        self.error = error


async def iterate_in_thread(
    work: Callable[[threading.Event], Iterator[T]], name: str, most_waiting: int = MOST_WAITING
) -> AsyncGenerator[T, None]:
    """Yield what ``work(stop)`` yields in a thread called ``name``; its error is raised here.

    Where ``most_waiting`` of it are not taken yet, the thread waits with the next: nothing that a
    meter sends is left out, and a flood of it fills no memory.

    ``work`` has to look at ``stop`` again and again and return once it is set. The thread has ended
    when this generator is closed.
    """
    loop = asyncio.get_running_loop()
    inbox: asyncio.Queue[T | _Ended] = asyncio.Queue()
    stop, over = threading.Event(), asyncio.Event()
    room = threading.Semaphore(most_waiting)

    def has_room() -> bool:
        while not room.acquire(timeout=_LOOK_S):
            if stop.is_set():  # nobody takes anything any more
                return False
        return True

    def run() -> None:
        error: BaseException | None = None
        try:
            for item in work(stop):
                if has_room():
                    loop.call_soon_threadsafe(inbox.put_nowait, item)
        except BaseException as problem:  # noqa: BLE001 - raised where the items are awaited
            error = problem
        with contextlib.suppress(RuntimeError):  # left behind, and the loop has ended meanwhile
            loop.call_soon_threadsafe(inbox.put_nowait, _Ended(error))
            loop.call_soon_threadsafe(over.set)

    # a port whose closing never ends is left behind, and must not keep the program from ending
    thread = threading.Thread(target=run, name=name, daemon=True)
    thread.start()
    try:
        while not isinstance(item := await inbox.get(), _Ended):
            room.release()
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
