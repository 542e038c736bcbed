"""The log of commits has its length before readings come, so that none waits for it to grow."""

import sqlite3
from pathlib import Path

from room_records import AT

from witnessmark.model import Reading
from witnessmark.store.database import ROOM_AHEAD_BYTES
from witnessmark.store.store import Store


def log_bytes(store: Store) -> int:
    return store.path.with_name(f"{store.path.name}-wal").stat().st_size


def contents(store: Store) -> list[object]:
    return store.rows("SELECT * FROM sqlite_master")


def test_no_reading_lengthens_the_log(store: Store) -> None:
    before, was_short = contents(store), log_bytes(store)
    store.make_room_ahead()
    length = log_bytes(store)
    assert was_short < ROOM_AHEAD_BYTES <= length
    readings = [Reading(float(number), AT, "sim:") for number in range(20)]
    for reading in readings:
        store.append(None, reading)
    store.make_room_ahead()
    assert log_bytes(store) == length
    assert store.entries(None) == readings
    assert contents(store) == before


def test_what_was_stored_after_it_outlives_an_abrupt_end(store: Store, tmp_path: Path) -> None:
    store.make_room_ahead()
    store.append(None, Reading(1.0, AT, "sim:"))
    copy = tmp_path / store.path.name
    for end in ("", "-wal"):  # as they lie on the disk of a computer that is switched off
        left = store.path.with_name(store.path.name + end)
        copy.with_name(copy.name + end).write_bytes(left.read_bytes())
    with Store.open(copy) as found:
        assert found.entries(None) == [Reading(1.0, AT, "sim:")]
        assert found.rows("PRAGMA integrity_check") == [("ok",)]
        assert contents(found) == contents(store)


def test_without_room_all_is_stored_the_same(store: Store) -> None:
    (pages,) = store.first("SELECT page_count FROM pragma_page_count")
    store._connection.execute(f"PRAGMA max_page_count = {pages + 10}")
    store.make_room_ahead()
    assert log_bytes(store) < ROOM_AHEAD_BYTES
    store.append(None, Reading(1.0, AT, "sim:"))
    assert store.entries(None) == [Reading(1.0, AT, "sim:")]


def test_while_another_copy_writes_the_log_is_left_alone(store: Store) -> None:
    store._connection.execute("PRAGMA busy_timeout = 0")
    other = sqlite3.connect(store.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    store.make_room_ahead()
    assert log_bytes(store) < ROOM_AHEAD_BYTES
    other.execute("ROLLBACK")
    other.close()
    store.make_room_ahead()
    assert log_bytes(store) >= ROOM_AHEAD_BYTES
