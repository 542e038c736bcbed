"""A file of every earlier version, with the rows that its program wrote, opens as it is now.

Whoever adds a migration adds to ``WRITTEN`` what the version before it wrote; the first test sees
to that.
"""

import json
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from witnessmark.errors import StoreError
from witnessmark.model import Act, Decision, Mark, Placement, Preference, Reading, Struck, Trial
from witnessmark.store import schema
from witnessmark.store.schema import MIGRATIONS, prepare
from witnessmark.store.store import Store

VERSIONS = range(1, len(MIGRATIONS))
CABINET = {"width_mm": 262, "depth_mm": 391}
BODY = {
    "setup": {
        "room": {
            "front_left": [0, 0],
            "front_right": [5360, 0],
            "back_right": [5371, 7240],
            "back_left": [0, 7232],
        },
        "cabinets": {"left": CABINET, "right": CABINET},
        "seat": {"from_front_mm": 4400, "from_left_mm": 2680},
        "meter": {"repeatability_mm": 0.4, "resolution_mm": 1, "zero_mm": 0.7},
        "targets": {
            "left": {"side_mm": 1450, "setback_mm": 1900.5, "toe_in_deg": 8},
            "right": None,
        },
    },
    "choices": {"meter": "typed:"},
}
AT = "2026-05-17T09:30:00.000250+00:00"
LATER = "2026-05-17T21:00:00.000000+00:00"

Rows = list[tuple[str, dict[str, Any]]]
WRITTEN: dict[int, Rows] = {
    1: [
        ("setup", {"saved_at": AT, "name": "Attic", "body": json.dumps(BODY)}),
        ("setup", {"saved_at": AT, "name": "Barn", "body": json.dumps(BODY)}),
        ("round", {"setup_id": 1, "started_at": AT}),
        ("round", {"setup_id": 2, "started_at": LATER}),
        (
            "journal",
            {
                "round_id": 2,
                "key": "a",
                "kind": "reading",
                "at": AT,
                "body": '{"distance_mm":1512.5,"meter":"sim:"}',
                "raw": b"\x00\xff",
            },
        ),
        (
            "journal",
            {"round_id": None, "key": "b", "kind": "command", "at": AT, "body": '{"act":"undo"}'},
        ),
    ],
    2: [],  # a whole store of that version is among the samples
    3: [],  # it added one table, in which what is kept lies as in those before
}


def build(path: Path, version: int) -> None:
    """A file that was written by the program of each version up to this one."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for step in range(1, version + 1):
            prepare(connection, path, MIGRATIONS[:step])
            for table, row in WRITTEN[step]:
                columns, marks = ", ".join(row), ", ".join("?" * len(row))
                insert = f"INSERT INTO {table} ({columns}) VALUES ({marks})"
                connection.execute(insert, tuple(row.values()))
        assert connection.execute("PRAGMA user_version").fetchone() == (version,)


@pytest.fixture(params=VERSIONS)
def old(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    path = tmp_path / "old.sqlite3"
    build(path, request.param)
    return path


@pytest.fixture
def opened(old: Path) -> Iterator[Store]:
    with Store.open(old) as store:
        yield store


def test_there_is_a_file_of_every_earlier_version() -> None:
    assert set(WRITTEN) == set(VERSIONS)


def test_setups_and_rounds_are_brought_forward_as_this_computers_own(opened: Store) -> None:
    current, begun = opened.latest_setup(), opened.latest_round()
    assert current is not None
    assert begun is not None
    assert (current.id, current.name, current.choices) == (2, "Barn", {"meter": "typed:"})
    assert current.setup.targets.left == Placement(1450, 1900.5, 8)
    assert (begun.id, begun.setup) == (2, current)
    assert begun.started_at == datetime.fromisoformat(LATER)


def test_the_journal_is_brought_forward_with_its_bytes_and_its_keys(opened: Store) -> None:
    at = datetime(2026, 5, 17, 9, 30, 0, 250, tzinfo=UTC)
    assert opened.entries(2) == [Reading(1512.5, at, "sim:", b"\x00\xff")]
    assert opened.entries(None) == [Decision(Act.UNDO, at)]
    assert opened.append(None, Decision(Act.UNDO, at), "b") == 2


def test_every_setup_and_round_has_a_key_of_its_own(opened: Store) -> None:
    for table in ("setup", "round"):
        keys = [key for (key,) in opened.rows(f"SELECT key FROM {table}")]
        assert len(set(keys)) == len(keys) >= 2
        assert all(len(key) == 32 for key in keys)


def test_what_is_brought_forward_is_still_only_ever_added_to(opened: Store) -> None:
    for table in ("setup", "round", "journal"):
        for change in (f"UPDATE {table} SET id = id + 9", f"DELETE FROM {table}"):
            with pytest.raises(sqlite3.IntegrityError, match="only ever added"):
                opened._connection.execute(change)


def test_the_file_goes_on_as_one_of_today(opened: Store, old: Path) -> None:
    assert opened.latest_setup() is not None
    assert [opened.kept(kind) for kind in (Trial, Preference, Struck, Mark)] == [[]] * 4
    assert [(room.name, room.rounds) for room in opened.rooms()] == [("Barn", 1), ("Attic", 1)]
    round_id = opened.start_round(1, datetime.fromisoformat(LATER))
    assert round_id == 3
    opened.close()
    with Store.open(old) as again:
        begun = again.latest_round()
        assert begun is not None
        assert begun.id == 3


@pytest.mark.parametrize("version", [*VERSIONS, len(MIGRATIONS)])
def test_an_older_program_refuses_a_newer_file(tmp_path: Path, version: int) -> None:
    path = tmp_path / "newer.sqlite3"
    Store.open(path).close()
    with closing(sqlite3.connect(path)) as connection:
        connection.execute(f"PRAGMA user_version = {version + 1}")
    with (
        closing(sqlite3.connect(path)) as connection,
        pytest.raises(StoreError, match=rf"version {version + 1}, this program reads up to"),
    ):
        prepare(connection, path, MIGRATIONS[:version])


def test_a_new_file_that_another_copy_is_writing_is_waited_for(tmp_path: Path) -> None:
    """SQLite itself waits for no lock while it turns to a write-ahead log."""
    file = tmp_path / "store.sqlite3"
    with (
        closing(sqlite3.connect(file, check_same_thread=False)) as other,
        closing(sqlite3.connect(file, timeout=20.0)) as connection,
    ):
        other.execute("CREATE TABLE first (number)")
        other.commit()
        other.execute("BEGIN IMMEDIATE")
        waited = threading.Event()
        hold = threading.Thread(target=lambda: (waited.wait(), other.rollback()))
        hold.start()

        def let_go(_: float) -> None:
            waited.set()
            hold.join()

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("witnessmark.store.schema.time.sleep", let_go)
            schema._write_ahead(connection)
        assert connection.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert waited.is_set()
