"""Blocking work in a thread, iterated and left from asyncio."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Iterator

import pytest

from witnessmark_drivers.in_thread import iterate_in_thread


async def test_the_thread_is_waited_for_however_often_that_is_cancelled() -> None:
    may_end, begun = threading.Event(), asyncio.Event()
    ended: list[str] = []

    def work(stop: threading.Event) -> Iterator[int]:
        yield 1
        stop.wait()
        may_end.wait()
        ended.append("closed")

    async def listen() -> None:
        async for _ in iterate_in_thread(work, "listener"):
            begun.set()

    task = asyncio.create_task(listen())
    await begun.wait()
    for _ in range(3):
        task.cancel()
        await asyncio.sleep(0)
    assert not task.done()
    may_end.set()
    with pytest.raises(asyncio.CancelledError):
        await task
    assert ended == ["closed"]
