"""What is said before the evening of a store that would not keep it."""

import shutil
import sqlite3
from pathlib import Path
from types import SimpleNamespace

import pytest
from room_records import AT

from witnessmark.errors import StoreError
from witnessmark.model import Reading
from witnessmark.store.database import LEAST_FREE_BYTES
from witnessmark.store.store import Store


class Disk:
    free = 10**12

    def usage(self, _path: object) -> SimpleNamespace:
        return SimpleNamespace(free=self.free)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    disk = Disk()
    monkeypatch.setattr(shutil, "disk_usage", disk.usage)
    return disk


def test_a_store_with_room_to_spare_is_ready(store: Store, disk: Disk) -> None:
    assert store.readiness() is None
    disk.free = LEAST_FREE_BYTES
    assert store.readiness() is None


def test_a_disk_that_is_nearly_full_is_told_with_what_to_do(store: Store, disk: Disk) -> None:
    disk.free = 12_400_000
    sentence = store.readiness()
    assert sentence is not None
    assert sentence.startswith(f"{store.path}: only 12 MB are left on this disk; free some space")
    assert "WITNESSMARK_STORE" in sentence


def test_a_store_that_cannot_be_written_is_not_ready(store: Store) -> None:
    store._connection.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match="cannot be written; set WITNESSMARK_STORE to a file"):
        store.readiness()


def test_a_file_that_is_opened_for_reading_only_is_not_ready(path: Path, store: Store) -> None:
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True, isolation_level=None)
    with Store(connection, path) as locked:
        assert locked.latest_round() is None
        with pytest.raises(StoreError, match="cannot be written; set WITNESSMARK_STORE to a file"):
            locked.readiness()


def test_asking_changes_nothing_in_the_store(store: Store) -> None:
    store.append(None, Reading(1.0, AT, "sim:"))
    before = store.rows("SELECT * FROM journal")
    version = store.rows("SELECT user_version FROM pragma_user_version")
    store.readiness()
    assert store.rows("SELECT * FROM journal") == before
    assert store.rows("SELECT user_version FROM pragma_user_version") == version
