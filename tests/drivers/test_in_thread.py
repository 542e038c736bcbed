"""Blocking work in a thread, iterated and left from asyncio."""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Iterator

import pytest
from patience import until

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


async def test_a_flood_waits_to_be_taken_and_nothing_of_it_is_left_out() -> None:
    made: list[int] = []
    ended = threading.Event()

    def work(stop: threading.Event) -> Iterator[int]:
        while not stop.is_set():
            made.append(len(made))
            yield made[-1]
        ended.set()

    async with contextlib.aclosing(iterate_in_thread(work, "flood", most_waiting=5)) as items:
        taken = [await anext(items)]
        await until(lambda: len(made) == 7)  # one taken, five waiting, one in its hands
        taken += [await anext(items) for _ in range(50)]
        assert len(made) <= 51 + 5 + 1
    assert taken == list(range(51))
    assert ended.is_set()


async def test_whatever_ends_the_work_is_raised_where_it_is_awaited() -> None:
    def work(_: threading.Event) -> Iterator[int]:
        yield 1
        raise SystemExit("a library gave up")

    items = iterate_in_thread(work, "quitter")
    assert await anext(items) == 1
    with pytest.raises(SystemExit):
        await anext(items)
