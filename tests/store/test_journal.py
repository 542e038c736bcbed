import asyncio
import gc
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest

from witnessmark.errors import StoreError
from witnessmark.model import Act, Decision, Reading
from witnessmark.store.journal import Journal
from witnessmark.store.records import RecordRefused
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)


def reading(number: int) -> Reading:
    return Reading(float(number), AT, "sim:")


@asynccontextmanager
async def held_up(journal: Journal) -> AsyncIterator[None]:
    """The journal's thread is busy until this is left, so that calls queue behind it."""
    go_on = threading.Event()
    busy = asyncio.create_task(journal.run(lambda _: go_on.wait()))
    await asyncio.sleep(0)
    try:
        yield
        await asyncio.sleep(0)
    finally:
        go_on.set()
    await busy


def stored(path: Path, round_id: int | None = None) -> list[object]:
    with Store.open(path) as store:
        return list(store.entries(round_id))


async def test_an_entry_is_on_disk_when_append_returns(path: Path) -> None:
    async with Journal(Store.open(path)) as journal:
        await journal.append(None, reading(1))
        assert stored(path) == [reading(1)]


async def test_a_burst_keeps_its_order_and_shares_commits(path: Path) -> None:
    store = Store.open(path)
    commits: list[str] = []
    store._connection.set_trace_callback(
        lambda statement: commits.append(statement) if statement == "COMMIT" else None
    )
    async with Journal(store) as journal:
        ids = await asyncio.gather(*(journal.append(None, reading(n)) for n in range(500)))
    assert ids == list(range(1, 501))
    assert stored(path) == [reading(n) for n in range(500)]
    assert 1 <= len(commits) < 100


async def test_calls_are_carried_out_in_the_order_they_were_made(path: Path) -> None:
    async with Journal(Store.open(path)) as journal, held_up(journal):
        gathered = asyncio.gather(
            journal.append(None, reading(1)),
            journal.run(Store.entries, None),
            journal.append(None, reading(2)),
        )
    assert (await gathered)[1] == [reading(1)]
    async with Journal(Store.open(path)) as journal:
        assert await journal.run(Store.entries, None) == [reading(1), reading(2)]


async def test_the_loop_runs_on_while_another_program_holds_the_store(path: Path) -> None:
    with Store.open(path) as other:
        async with Journal(Store.open(path)) as journal:
            other._connection.execute("BEGIN IMMEDIATE")
            waiting = asyncio.create_task(journal.append(None, reading(1)))
            for _ in range(100):
                await asyncio.sleep(0)
            assert not waiting.done()
            other._connection.execute("ROLLBACK")
            assert await waiting == 1


async def test_a_refused_entry_is_told_to_its_own_caller_only(path: Path) -> None:
    async with Journal(Store.open(path)) as journal:
        first, refused, last = await asyncio.gather(
            journal.append(None, Decision(Act.UNDO, AT)),
            journal.append(77, reading(1)),
            journal.append(None, Decision(Act.SKIP, AT)),
            return_exceptions=True,
        )
    assert (first, last) == (1, 2)
    assert isinstance(refused, RecordRefused)
    assert stored(path) == [Decision(Act.UNDO, AT), Decision(Act.SKIP, AT)]


async def test_a_full_disk_is_told_to_every_caller(path: Path) -> None:
    store = Store.open(path)
    (pages,) = store._connection.execute("PRAGMA page_count").fetchone()
    store._connection.execute(f"PRAGMA max_page_count = {pages}")
    async with Journal(store) as journal:
        long = Reading(1.0, AT, "sim:", b"x" * 20_000)
        outcomes = await asyncio.gather(
            *(journal.append(None, long) for _ in range(5)), return_exceptions=True
        )
    assert [type(outcome) for outcome in outcomes] == [StoreError] * 5
    assert all("the disk is full" in str(outcome) for outcome in outcomes)
    assert stored(path) == []


async def test_a_cancelled_append_is_stored_all_the_same(path: Path) -> None:
    async with Journal(Store.open(path)) as journal, held_up(journal):
        task = asyncio.create_task(journal.append(None, reading(1)))
        await asyncio.sleep(0)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
    assert stored(path) == [reading(1)]


async def test_who_looks_holds_up_no_reading(path: Path) -> None:
    looking, done = threading.Event(), threading.Event()

    def look(store: Store) -> int:
        looking.set()
        assert done.wait(30)
        return len(store.entries(None))

    async with Journal(Store.open(path)) as journal:
        looks = asyncio.create_task(journal.look(look))
        while not looking.is_set():
            await asyncio.sleep(0.001)
        await asyncio.wait_for(journal.append(None, reading(1)), 30)
        done.set()
        assert await looks == 1


async def test_the_end_waits_for_nobody_who_looks(path: Path) -> None:
    endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT max(i) FROM n"
    journal = Journal(Store.open(path))
    looks = asyncio.create_task(journal.look(Store.rows, endless))
    await asyncio.sleep(0.2)  # until it is at it
    await journal.aclose()
    with pytest.raises(StoreError, match="interrupted"):
        await looks


async def test_who_looks_no_more_is_told_nothing(path: Path) -> None:
    told: list[object] = []
    asyncio.get_running_loop().set_exception_handler(lambda _, context: told.append(context))
    endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT max(i) FROM n"
    journal = Journal(Store.open(path))
    looks = asyncio.create_task(journal.look(Store.rows, endless))
    await asyncio.sleep(0.2)
    looks.cancel()
    await journal.aclose()
    await asyncio.gather(looks, return_exceptions=True)
    gc.collect()
    await asyncio.sleep(0)
    assert not told


async def test_closing_finishes_what_was_begun_and_leaves_no_thread(path: Path) -> None:
    before = set(threading.enumerate())
    journal = Journal(Store.open(path))
    tasks = [asyncio.create_task(journal.append(None, reading(n))) for n in range(50)]
    await asyncio.sleep(0)
    await journal.aclose()
    await journal.aclose()
    assert set(threading.enumerate()) == before
    assert await asyncio.gather(*tasks) == list(range(1, 51))
    with pytest.raises(StoreError, match="the journal is closed"):
        await journal.append(None, reading(99))
    assert stored(path) == [reading(n) for n in range(50)]
