"""Copies of the program that are killed at any moment: all that was reported is there, once."""

import os
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from effort import cases
from test_store_migrations import VERSIONS, build

from witnessmark.model import Mark, Reading, Setup, Trial
from witnessmark.store.history import history
from witnessmark.store.schema import MIGRATIONS
from witnessmark.store.store import Store

WRITERS = Path(__file__).with_name("killed_writers.py")
KILLS, KILLS_AT_OPENING = cases(45, 300), cases(12, 40)
Report = tuple[str, int, int]

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")


def reports(*paths: Path, most: int) -> dict[int, list[Report]]:
    """What the writers reported, by writer, each killed at a moment of its own."""
    arguments = [sys.executable, WRITERS, str(most), *paths]
    done = subprocess.run(arguments, capture_output=True, text=True, check=True)
    told: dict[int, list[Report]] = {writer: [] for writer in range(len(paths))}
    for line in done.stdout.splitlines():
        writer, table, id_, number = line.split()
        told[int(writer)].append((table, int(id_), int(number)))
    return told


def stored(store: Store) -> list[Report]:
    """What there is in a store, told as a writer tells it."""
    found: list[Report] = []
    for item in history(store):
        match item.record:
            case Reading(distance_mm):
                found.append(("journal", item.id, int(distance_mm)))
            case Trial():
                found.append(("trial", item.id, int(item.record.impression.words)))
            case Mark(_, name):
                found.append(("mark", item.id, int(name)))
            case Setup() if item.kind == "setup":
                found.append(("setup", item.id, int(item.record.temperature_c)))
    return found


@pytest.fixture
def quick(tmp_path: Path) -> Iterator[Path]:
    """A folder in memory where there is one: a kill is not a power cut, and needs no disk."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else tmp_path) as folder:
        yield Path(folder)


def test_all_that_was_reported_survives_kills_at_any_moment(quick: Path) -> None:
    path = quick / "store.sqlite3"
    Store.open(path).close()
    told = reports(*[path] * KILLS, most=14)
    with Store.open(path) as store:
        found = stored(store)
        assert store.rows("PRAGMA integrity_check") == [("ok",)]
        assert store.rows("PRAGMA foreign_key_check") == []
    reported = {report for each in told.values() for report in each}
    assert reported <= set(found)
    numbers = Counter(number for _, _, number in found)
    assert set(numbers.values()) == {1}
    # one commit may have been under way
    unreported = Counter(number // 100_000 for _, _, number in set(found) - reported)
    assert max(unreported.values(), default=0) <= 1
    assert len(reported) > 5 * KILLS
    assert {table for table, _, _ in reported} == {"setup", "journal", "trial", "mark"}


def test_a_store_whose_making_was_killed_opens(quick: Path) -> None:
    paths = [quick / f"{number}.sqlite3" for number in range(KILLS_AT_OPENING)]
    for path, told in zip(paths, reports(*paths, most=0).values(), strict=True):
        with Store.open(path) as store:
            assert set(told) <= set(stored(store))


@pytest.mark.parametrize("version", VERSIONS)
def test_an_older_file_whose_bringing_forward_was_killed_opens(quick: Path, version: int) -> None:
    paths = [quick / f"{number}.sqlite3" for number in range(KILLS_AT_OPENING)]
    for path in paths:
        build(path, version)
    reports(*paths, most=0)
    for path in paths:
        with Store.open(path) as store:
            versions = store.rows("SELECT user_version FROM pragma_user_version")
            assert versions == [(len(MIGRATIONS),)]
            assert store.entries(None)
