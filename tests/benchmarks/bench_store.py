"""A long journal against a short one: taking up the latest round, exporting, importing.

    python tests/benchmarks/bench_store.py [ENTRIES]

Two stores in one run. Before the latest round of 40 readings lie a thousand journal entries in the
one and a million (or ENTRIES) in the other. What is printed are ratios, long to short:

* opening the store, claiming the latest round, reading its entries, closing: medians of calls in
  turn (aim: 1.0)
* exporting the room, and importing that into an empty store, an entry (aim: 1.0), and by how much
  the memory of the process grows from the short to the long
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from interleaved import medians_us
from saved_setup import save_setup

from witnessmark.model import Reading
from witnessmark.store.export.transfer import export_to, import_from
from witnessmark.store.records import new_key, to_row
from witnessmark.store.store import Store

SHORT, LONG = 1_000, 1_000_000
A_ROUND = 500
LATEST = 40
"""Entries in the round that is taken up."""
NOW = datetime.now(UTC)


def fill(path: Path, entries: int) -> None:
    """Rounds of ``A_ROUND`` entries each, then one more that was left just now."""
    save_setup(path, "typed:")
    with Store.open(path) as store, store.writing():
        for place in range(entries):
            at = NOW - timedelta(days=1, seconds=entries - place)
            if place % A_ROUND == 0:
                row = {"setup_id": 1, "started_at": at.isoformat(timespec="microseconds")}
                round_id = store.add("round", new_key(), row).id
            _append(store, round_id, at, place)
        latest = {"setup_id": 1, "started_at": NOW.isoformat(timespec="microseconds")}
        round_id = store.add("round", new_key(), latest).id
        for place in range(LATEST):
            _append(store, round_id, NOW, place)


def _append(store: Store, round_id: int, at: datetime, place: int) -> None:
    reading = Reading(1000.0 + place % 4000, at, "ble:AA:BB", b"1.512m\r\n")
    store.add("journal", new_key(), {"round_id": round_id, **to_row(reading)._asdict()})


def take_up(path: Path) -> None:
    """What the app asks of the store before its first prompt."""
    with Store.open(path) as store:
        begun = store.latest_round()
        assert begun is not None
        assert store.claim_round(begun.key)
        assert len(store.entries(begun.id)) == LATEST


def seconds(call: Callable[[], object]) -> float:
    """How long one call takes."""
    start = time.perf_counter()
    call()
    return time.perf_counter() - start


def copied(path: Path) -> tuple[float, float]:
    """Seconds of an export and of the import of what was exported."""
    room, copy = path.with_suffix(".room"), path.with_suffix(".copy")
    with Store.open(path) as store, Store.open(copy) as other:
        exporting = seconds(lambda: export_to(store, "Benchmark", room))
        return exporting, seconds(lambda: import_from(other, room))


def memory_mb() -> float:
    """The most memory that this process had so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(entries: int) -> None:
    """Print the ratios."""
    with tempfile.TemporaryDirectory() as folder:
        short, long = Path(folder) / "short.sqlite3", Path(folder) / "long.sqlite3"
        fill(short, SHORT)
        fill(long, entries)
        medians = medians_us(
            {"short": lambda: take_up(short), "long": lambda: take_up(long)}, turns=40, calls=3
        )
        ratio = medians["long"] / medians["short"]
        print(f"latest round of {entries} entries / of {SHORT}: {ratio:.2f}x (aim 1.0x)")
        of_short = copied(short)
        before = memory_mb()
        of_long = copied(long)
        for name, short_s, long_s in zip(("export", "import"), of_short, of_long, strict=True):
            ratio = long_s / (entries + LATEST) / (short_s / (SHORT + LATEST))
            print(f"{name} of {entries} entries / of {SHORT}, an entry: {ratio:.2f}x (aim 1.0x)")
        size_mb = long.with_suffix(".room").stat().st_size / 1e6
        print(f"for a file of {size_mb:.0f} MB memory grew by {memory_mb() - before:.1f} MB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else LONG)
