"""What goes wrong with a file, each told in one sentence, and nothing lost by it."""

import errno
import os
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from filelock import FileLock

from witnessmark.errors import StoreError
from witnessmark.model import Reading, Setup
from witnessmark.store import database
from witnessmark.store.schema import APPLICATION_ID, MIGRATIONS, prepare
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)


def reading(number: int, raw: bytes = b"") -> Reading:
    return Reading(1000.0 + number, AT, "sim:", raw)


def refusal(path: Path) -> str:
    with pytest.raises(StoreError) as raised:
        Store.open(path)
    sentence = str(raised.value)
    assert sentence.startswith(f"{path}: ")
    assert "\n" not in sentence
    return sentence


@pytest.fixture
def plain(tmp_path: Path) -> Path:
    return tmp_path / "plain.sqlite3"


def run(path: Path, *statements: str) -> None:
    with closing(sqlite3.connect(path)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()


def test_an_empty_file_becomes_a_store(plain: Path) -> None:
    plain.touch()
    with Store.open(plain) as store:
        store.append(None, reading(1))
        assert store.entries(None) == [reading(1)]


def test_a_migration_that_fails_leaves_the_file_as_it_was(plain: Path) -> None:
    with Store.open(plain) as store:
        store.append(None, reading(1))
    broken = (*MIGRATIONS, ("CREATE TABLE pin (id INTEGER PRIMARY KEY)", "CREATE TABLE pin (id)"))
    with (
        closing(sqlite3.connect(plain, isolation_level=None)) as connection,
        pytest.raises(sqlite3.OperationalError, match="already exists"),
    ):
        prepare(connection, plain, broken)
    with Store.open(plain) as store:
        assert store.entries(None) == [reading(1)]


def test_a_newer_file_is_refused_and_left_alone(plain: Path) -> None:
    Store.open(plain).close()
    run(plain, "PRAGMA user_version = 99")
    before = plain.read_bytes()
    assert "newer witnessmark (store version 99" in refusal(plain)
    assert plain.read_bytes() == before


@pytest.mark.parametrize(
    "statement",
    ["CREATE TABLE songs (title)", "PRAGMA user_version = 1", "PRAGMA application_id = 252006674"],
)
def test_a_database_of_another_program_is_refused_and_left_alone(
    plain: Path, statement: str
) -> None:
    assert APPLICATION_ID != 252006674
    run(plain, statement)
    before = plain.read_bytes()
    assert "a database of another program" in refusal(plain)
    assert plain.read_bytes() == before


def test_another_kind_of_file_is_refused_and_left_alone(plain: Path) -> None:
    plain.write_text("a shopping list, long enough to be read as a header\n" * 40)
    before = plain.read_bytes()
    assert "not a store" in refusal(plain)
    assert plain.read_bytes() == before


def damaged(path: Path, start: int, length: int) -> None:
    content = bytearray(path.read_bytes())
    content[start : start + length] = b"\xa5" * len(content[start : start + length])
    path.write_bytes(content)


def test_a_file_damaged_at_its_start_is_told(plain: Path) -> None:
    Store.open(plain).close()
    damaged(plain, 0, 100)
    assert "damaged at its start" in refusal(plain)


def test_a_damaged_list_of_tables_is_told(plain: Path) -> None:
    Store.open(plain).close()
    damaged(plain, 100, 8)
    assert "the store is damaged; keep the file but move it elsewhere" in refusal(plain)


def test_damage_further_on_is_told_when_it_is_met(plain: Path) -> None:
    with Store.open(plain) as store:
        for number in range(500):
            store.append(None, reading(number, b"x" * 40))
    damaged(plain, plain.stat().st_size // 2, 8192)
    with Store.open(plain) as store, pytest.raises(StoreError, match="damaged"):
        store.entries(None)


def test_a_row_that_cannot_be_read_is_passed_over_and_told(store: Store, setup: Setup) -> None:
    store.append(None, reading(1))
    assert store.passed_over == ""
    columns = "INSERT INTO journal (key, kind, at, body) VALUES "
    store._connection.execute(columns + "('a', 'dream', '2026-05-17T09:30:00Z', '{}')")
    store.append(None, reading(2))
    assert store.entries(None) == [reading(1), reading(2)]
    assert store.passed_over.startswith(
        f"{store.path}: journal entry 2 cannot be read and is left out ("
    )
    store.save_setup("Attic", setup, AT)
    row = "INSERT INTO setup (saved_at, name, body) VALUES ('2026-05-17T09:30:00Z', 'Barn', '{}')"
    store._connection.execute(row)
    latest = store.latest_setup()
    assert latest is not None
    assert latest.name == "Attic"
    assert "2 records cannot be read and are left out" in store.passed_over


def test_a_text_that_is_no_text_is_passed_over(store: Store) -> None:
    store.append(None, reading(1))
    columns = "INSERT INTO journal (key, kind, at, body) VALUES "
    store._connection.execute(
        columns + "('a', 'reading', '2026-05-17T09:30:00Z', CAST(x'7bff7d' AS TEXT))"
    )
    assert store.entries(None) == [reading(1)]
    assert "journal entry 2 cannot be read" in store.passed_over


def test_a_round_whose_setup_cannot_be_read_leaves_the_one_before(
    store: Store, setup: Setup
) -> None:
    first = store.start_round(store.save_setup("Attic", setup, AT), AT)
    row = "INSERT INTO setup (saved_at, name, body) VALUES ('2026-05-17T09:30:00Z', 'Attic', '{}')"
    damaged_id = store._connection.execute(row).lastrowid
    assert damaged_id is not None
    store.start_round(damaged_id, AT)
    latest = store.latest_round("Attic")
    assert latest is not None
    assert latest.id == first


@pytest.mark.parametrize(
    "error",
    [
        OSError(errno.ENOLCK, "No locks available"),
        OSError(errno.ENOSYS, "x"),
        NotImplementedError(),
    ],
)
def test_a_disk_without_locks_is_told_as_such(
    store: Store, setup: Setup, monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def no_lock(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(FileLock, "acquire", no_lock)
    setup_id = store.save_setup("Attic", setup, AT)
    with pytest.raises(StoreError, match="locks no files") as raised:
        store.start_round(setup_id, AT)
    assert "folder cannot be made" not in str(raised.value)


def test_no_lock_for_the_store_itself_is_told_as_such(plain: Path) -> None:
    refused = sqlite3.OperationalError("disk I/O error")
    refused.sqlite_errorcode = sqlite3.SQLITE_IOERR_LOCK
    with pytest.raises(StoreError, match="locks no files"), database.explained(plain):
        raise refused


def test_a_folder_is_no_store(tmp_path: Path) -> None:
    assert "a folder, a device or a pipe, not a file; set WITNESSMARK_STORE" in refusal(tmp_path)


@pytest.mark.skipif(os.name != "posix", reason="these are files of POSIX")
def test_a_pipe_and_a_device_are_no_store(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero"), Path("/dev/null")):
        assert "not a file" in refusal(path)


def test_a_loop_of_links_and_an_endless_name_are_no_store(tmp_path: Path) -> None:
    (tmp_path / "loop").symlink_to("loop")
    assert "cannot be opened or made" in refusal(tmp_path / "loop")
    assert "ile name too long" in refusal(tmp_path / ("x" * 300))


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    assert "its folder cannot be made" in refusal(tmp_path / "file" / "deep" / "store.sqlite3")


def test_a_store_that_cannot_be_written_still_reads(store: Store, round_id: int) -> None:
    store.append(round_id, reading(1))
    store._connection.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreError, match="cannot be written; set WITNESSMARK_STORE"):
        store.append(round_id, reading(2))
    assert store.entries(round_id) == [reading(1)]


def test_a_full_disk_is_told_and_what_was_stored_stays(store: Store, round_id: int) -> None:
    (pages,) = store._connection.execute("PRAGMA page_count").fetchone()
    store._connection.execute(f"PRAGMA max_page_count = {pages + 4}")
    readings = [reading(number, b"x" * 500) for number in range(1000)]
    stored: list[Reading] = []

    def fill() -> None:
        for each in readings:
            store.append(round_id, each)
            stored.append(each)

    with pytest.raises(StoreError, match="the disk is full"):
        fill()
    assert stored
    assert store.entries(round_id) == stored
    store._connection.execute(f"PRAGMA max_page_count = {pages + 400}")
    store.append(round_id, reading(5000))
    assert store.entries(round_id) == [*stored, reading(5000)]


def test_a_store_held_by_another_program_is_told(
    path: Path, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "BUSY_SECONDS", 0.0)
    store._connection.execute("BEGIN IMMEDIATE")
    with Store.open(path) as other:
        with pytest.raises(StoreError, match="another program has locked the store"):
            other.append(None, reading(1))
        store._connection.execute("ROLLBACK")
        other.append(None, reading(1))
    assert store.entries(None) == [reading(1)]


def test_a_closed_store_says_so(store: Store) -> None:
    store.close()
    with pytest.raises(StoreError, match="closed"):
        store.append(None, reading(1))
