"""Long evenings: taking up a long round, a reading while the history is read, memory of a round.

    python tests/benchmarks/bench_long_evening.py [ROUND [HISTORY [READINGS]]]

What is printed are ratios, taken in one run:

* going on with a round of ROUND readings (100,000), from the start of a program that does only this
  to its end, to beginning an empty one: medians of turns (aim: 1.5)
* a reading journaled while pages of a history of HISTORY entries (1,000,000) are read one after
  another, to one journaled while nothing else is done: medians (aim: 1.2)
* resident memory after READINGS readings (200,000) in one round, to that after a tenth of them
"""

from __future__ import annotations

import asyncio
import re
import statistics
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from witnessmark.errors import WitnessmarkError
from witnessmark.model import Reading
from witnessmark.placing.expectation import expect
from witnessmark.placing.round import Round
from witnessmark.session.resume import SNAPSHOT_EVERY
from witnessmark.session.session import Session
from witnessmark.session.workspace import Workspace
from witnessmark.store.history import Wanted, history_page
from witnessmark.store.records import Snapshot
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

ATTIC = Workspace.on(DEMO_SETUP, name="Attic", meter_address="typed:")
TURNS = 7
RNG = np.random.default_rng(1)
MANY = """
    WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ?1)
    INSERT INTO journal (round_id, key, kind, at, body, raw)
    SELECT ?2, printf('%032x', i), 'reading',
        strftime('%Y-%m-%dT%H:%M:%f', 'now', ((i - ?1) * 0.05) || ' seconds') || '000+00:00',
        '{"distance_mm":1512.5,"meter":"ble:AA:BB"}', x'312e3531326d0d0a'
    FROM n
"""


def now() -> datetime:
    """This moment, UTC."""
    return datetime.now(UTC)


def as_expected(state: Round) -> Reading:
    """A reading that the prompted shot may well give."""
    try:
        expected_mm = expect(state.work, state.prompted).reading_mm
    except WitnessmarkError:
        expected_mm = 1500.0
    return Reading(round(expected_mm + RNG.normal(0.0, 0.4), 1), now(), "typed:")


def fill(path: Path, entries: int) -> None:
    """A round of so many entries, with its states kept as a session keeps them."""
    with Store.open(path) as store:
        setup_id = store.save_setup("Attic", DEMO_SETUP, now(), ATTIC.choices)
        round_id = store.start_round(setup_id, now())
        with store.writing():
            store._connection.execute(MANY, (entries, round_id))
        state = Round.begin(DEMO_SETUP)
        for place in range(2 * SNAPSHOT_EVERY - 1):
            reading = as_expected(state)
            state, id_ = state.feed(reading), store.append(round_id, reading)
            if (place + 1) % SNAPSHOT_EVERY == 0:
                store.keep_snapshot(round_id, Snapshot(id_, state.packed()))


def session_on(path: Path) -> Session:
    """A session in that room, without screen or phone."""
    return Session(Store.open(path), ATTIC, act_words=dict)


async def take_up(path: Path, how: str) -> None:
    """Go on with the round that there is, or begin an empty one."""
    session = session_on(path)
    await (session.begin_afresh() if how == "afresh" else session.resume())
    assert session.guidance is not None
    await session.aclose()


def taken_up_s(path: Path, how: str) -> float:
    """Seconds that this takes a program that is started for it."""
    start = time.perf_counter()
    subprocess.run([sys.executable, __file__, str(path), how], check=True)
    return time.perf_counter() - start


def taking_up(folder: Path, entries: int) -> None:
    """Print the ratio of a long round to an empty one."""
    long, empty = folder / "long.sqlite3", folder / "empty.sqlite3"
    fill(long, entries)
    with Store.open(empty) as store:
        store.save_setup("Attic", DEMO_SETUP, now(), ATTIC.choices)
    spent: dict[str, list[float]] = {"long": [], "empty": []}
    for _ in range(TURNS):
        spent["empty"].append(taken_up_s(empty, "afresh"))
        spent["long"].append(taken_up_s(long, "resume"))
    ratio = statistics.median(spent["long"]) / statistics.median(spent["empty"])
    print(f"taking up {entries} readings / an empty round: {ratio:.2f}x (aim 1.5x)")


async def journaled_s(session: Session, count: int = 40) -> list[float]:
    """How long each of some readings takes to the disk and back, seconds."""
    spent = []
    for _ in range(count):
        start = time.perf_counter()
        await session.journal.append(None, Reading(1500.0, now(), "typed:"))
        spent.append(time.perf_counter() - start)
        await asyncio.sleep(0.01)
    return spent


async def looking(folder: Path, entries: int) -> None:
    """Print the ratio of a reading beside a history to one alone, taken in turns."""
    path = folder / "history.sqlite3"
    fill(path, entries)
    session = session_on(path)
    start = time.perf_counter()
    await session.journal.look(history_page, Wanted("Attic"), None)
    print(f"the latest page of {entries} entries took {time.perf_counter() - start:.2f} s")
    alone, beside = [], []
    for _ in range(TURNS):
        alone += await journaled_s(session)
        turning = asyncio.create_task(turn_pages(session))
        beside += await journaled_s(session)
        turning.cancel()
        await asyncio.gather(turning, return_exceptions=True)
    await session.aclose()
    ratio = statistics.median(beside) / statistics.median(alone)
    print(f"a reading while pages of {entries} entries are read / alone: {ratio:.2f}x (aim 1.2x)")


async def turn_pages(session: Session) -> None:
    """Read the latest page again and again."""
    while True:
        await session.journal.look(history_page, Wanted("Attic"), None)


def resident_mb() -> float:
    """Memory that this process holds."""
    found = re.search(r"VmRSS:\s+(\d+)", Path("/proc/self/status").read_text())
    return int(found[1]) / 1024 if found else 0.0


async def growing(folder: Path, readings: int) -> None:
    """Print how the memory of a round grows."""
    session = session_on(folder / "growing.sqlite3")
    await session.resume()
    early_mb = 0.0
    for place in range(readings):
        assert session.live is not None
        await session.record(as_expected(session.live.state))
        if place == readings // 10:
            early_mb = resident_mb()
    late_mb = resident_mb()
    await session.aclose()
    print(
        f"memory after {readings} readings / after {readings // 10}: {late_mb / early_mb:.2f}x "
        f"({early_mb:.0f} to {late_mb:.0f} MB)"
    )


def main(entries: int = 100_000, history: int = 1_000_000, readings: int = 200_000) -> None:
    """Print the ratios."""
    with tempfile.TemporaryDirectory() as folder:
        taking_up(Path(folder), entries)
        asyncio.run(looking(Path(folder), history))
        asyncio.run(growing(Path(folder), readings))


if __name__ == "__main__":
    if sys.argv[2:] in (["afresh"], ["resume"]):
        asyncio.run(take_up(Path(sys.argv[1]), sys.argv[2]))
    else:
        main(*map(int, sys.argv[1:]))
