import os
import sqlite3
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from pathlib import Path
from typing import get_args

import msgspec
import numpy as np
import platformdirs
import pytest

from witnessmark.errors import StoreError
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import Act, Decision, Pair, Placement, Reading, Setup
from witnessmark.store.records import (
    ENTRIES,
    KEPT,
    KINDS,
    JournalEntry,
    PendingEntry,
    Record,
    RecordRefused,
)
from witnessmark.store.store import Store, store_path

AT = datetime(2026, 5, 17, 9, 30, 0, 250, tzinfo=UTC)
ONE_OF_EACH: list[JournalEntry] = [
    Reading(1512.0, AT, "serial:/dev/ttyUSB0", b"1.512m\r\n"),
    Fault("too little light came back", AT, "serial:/dev/ttyUSB0", b"\xff\x00E"),
    Noise("not a number", AT, "sim:"),
    Decision(Act.UNDO, AT),
]


def test_every_kind_of_entry_reads_back_in_order(store: Store, round_id: int) -> None:
    ids = [store.append(round_id, entry) for entry in ONE_OF_EACH]
    assert store.entries(round_id) == ONE_OF_EACH
    assert all(before < after for before, after in pairwise(ids))


def test_entries_are_there_after_reopening(path: Path, store: Store, round_id: int) -> None:
    for entry in ONE_OF_EACH:
        store.append(round_id, entry)
    store.close()
    with Store.open(path) as again:
        assert again.entries(round_id) == ONE_OF_EACH


def test_rounds_are_kept_apart(store: Store, setup: Setup, round_id: int) -> None:
    other = store.start_round(store.save_setup("Attic", setup, AT), AT)
    one, two, three, four = (Reading(1000.0 + number, AT, "sim:") for number in range(4))
    for round_, entry in ((round_id, one), (other, two), (None, three), (round_id, four)):
        store.append(round_, entry)
    found = [store.entries(id_) for id_ in (round_id, other, None)]
    assert found == [[one, four], [two], [three]]


def test_the_latest_setup_is_the_current_one_and_none_is_lost(store: Store, setup: Setup) -> None:
    assert store.latest_setup() is None
    first = store.save_setup("Attic", setup, AT, {"units": "mm", "sure": True, "digits": 3})
    later = msgspec.structs.replace(setup, temperature_c=17.5)
    round_id = store.start_round(first, AT)
    second = store.save_setup("Attic", later, AT + timedelta(hours=1))
    current, begun = store.latest_setup(), store.latest_round()
    assert current is not None
    assert begun is not None
    assert (current.id, current.setup, current.choices) == (second, later, {})
    assert current.saved_at == AT + timedelta(hours=1)
    assert (begun.id, begun.started_at, begun.setup.id) == (round_id, AT, first)
    assert begun.setup.setup == setup
    assert begun.setup.choices == {"units": "mm", "sure": True, "digits": 3}


def test_there_is_no_latest_round_before_the_first(store: Store) -> None:
    assert store.latest_round() is None


def test_numbers_from_numpy_are_numbers(store: Store, setup: Setup, round_id: int) -> None:
    store.append(round_id, Reading(np.float64(1512.25), AT, "sim:"))
    assert store.entries(round_id) == [Reading(1512.25, AT, "sim:")]
    placement = Placement(np.float64(1450.5), 1900, 8)
    store.save_setup("Attic", msgspec.structs.replace(setup, targets=Pair(placement, None)), AT)
    current = store.latest_setup()
    assert current is not None
    assert current.setup.targets.left == Placement(1450.5, 1900, 8)


def test_an_entry_appended_again_is_stored_once(store: Store, round_id: int) -> None:
    first = store.append(round_id, ONE_OF_EACH[0], "key")
    assert store.append(round_id, ONE_OF_EACH[0], "key") == first
    assert store.entries(round_id) == ONE_OF_EACH[:1]


def test_the_same_number_read_twice_is_two_entries(store: Store, round_id: int) -> None:
    store.append(round_id, ONE_OF_EACH[0])
    store.append(round_id, ONE_OF_EACH[0])
    assert store.entries(round_id) == [ONE_OF_EACH[0]] * 2


def test_a_key_never_swallows_another_entry(store: Store, round_id: int) -> None:
    store.append(round_id, ONE_OF_EACH[0], "key")
    with pytest.raises(RecordRefused, match="key already belongs to another entry"):
        store.append(round_id, ONE_OF_EACH[1], "key")
    with pytest.raises(RecordRefused, match="key already belongs to another entry"):
        store.append(None, ONE_OF_EACH[0], "key")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_a_number_that_is_not_finite_is_refused(store: Store, setup: Setup, value: float) -> None:
    with pytest.raises(RecordRefused, match=r"finite.*distance_mm"):
        store.append(None, Reading(value, AT, "sim:"))
    with pytest.raises(RecordRefused, match=r"finite.*setup\.temperature_c"):
        store.save_setup("Attic", msgspec.structs.replace(setup, temperature_c=value), AT)
    room = msgspec.structs.replace(setup.room, height_mm=value)
    with pytest.raises(RecordRefused, match="finite"):
        store.save_setup("Attic", msgspec.structs.replace(setup, room=room), AT)
    assert store.entries(None) == []
    assert store.latest_setup() is None


def test_times_are_stored_in_utc_and_must_have_a_zone(store: Store, setup: Setup) -> None:
    local = datetime(2026, 5, 17, 11, 30, tzinfo=timezone(timedelta(hours=2)))
    store.append(None, Decision(Act.SKIP, local))
    (entry,) = store.entries(None)
    assert (entry.at, entry.at.utcoffset()) == (local, timedelta(0))
    with pytest.raises(RecordRefused, match="no time zone"):
        store.append(None, Decision(Act.SKIP, local.replace(tzinfo=None)))
    with pytest.raises(RecordRefused, match="no time zone"):
        store.save_setup("Attic", setup, local.replace(tzinfo=None))


def test_text_that_is_not_unicode_is_refused(store: Store, setup: Setup) -> None:
    with pytest.raises(RecordRefused, match="not Unicode"):
        store.append(None, Reading(1.0, AT, "replay:\udcff"))
    with pytest.raises(StoreError, match="not Unicode"):
        store.save_setup("\udcff", setup, AT)


def test_a_refused_entry_keeps_no_other_out(store: Store, round_id: int) -> None:
    drafts = [
        PendingEntry(round_id, Decision(Act.UNDO, AT), "a"),
        PendingEntry(round_id + 99, Decision(Act.UNDO, AT), "b"),
        PendingEntry(round_id, Reading(float("nan"), AT, "sim:"), "c"),
        PendingEntry(round_id, Decision(Act.SKIP, AT), "d"),
    ]
    first, unknown, endless, last = store.append_all(drafts)
    assert (first, last) == (1, 2)
    assert f"no round {round_id + 99}" in str(unknown)
    assert isinstance(endless, RecordRefused)
    assert store.entries(round_id) == [Decision(Act.UNDO, AT), Decision(Act.SKIP, AT)]


@pytest.mark.parametrize("table", ["setup", "round", "journal"])
@pytest.mark.parametrize("change", ["DELETE FROM {}", "UPDATE {} SET id = id + 1"])
def test_nothing_is_changed_or_deleted(
    store: Store, round_id: int, table: str, change: str
) -> None:
    store.append(round_id, ONE_OF_EACH[0])
    with pytest.raises(sqlite3.IntegrityError, match="only ever added"):
        store._connection.execute(change.format(table))


def test_a_commit_is_on_the_disk_itself(store: Store) -> None:
    full = 2
    found = {
        name: store._connection.execute(f"PRAGMA {name}").fetchone()[0]
        for name in ("journal_mode", "synchronous", "fullfsync", "foreign_keys")
    }
    assert found == {"journal_mode": "wal", "synchronous": full, "fullfsync": 1, "foreign_keys": 1}


def test_where_the_store_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.delenv("WITNESSMARK_STORE", raising=False)
    assert store_path().is_relative_to(platformdirs.user_data_path("witnessmark", appauthor=False))
    monkeypatch.setenv("WITNESSMARK_STORE", os.fspath(tmp_path / "env"))
    assert store_path() == tmp_path / "env"
    assert store_path(tmp_path / "given") == tmp_path / "given"


def test_a_round_is_taken_up_without_reading_through_the_journal(
    store: Store, round_id: int
) -> None:
    asked: list[str] = []
    store._connection.set_trace_callback(asked.append)
    store.latest_round()
    store.entries(round_id)
    store._connection.set_trace_callback(None)
    plans = [row[-1] for query in asked for row in store.rows(f"EXPLAIN QUERY PLAN {query}")]
    assert any("SEARCH journal USING INDEX journal_of_round" in plan for plan in plans)
    # rounds are gone through from the newest, and the first that is this computer's own ends it
    assert [plan for plan in plans if "SCAN" in plan] == ["SCAN round"]
    assert not any("TEMP B-TREE" in plan for plan in plans)


def test_the_list_of_kinds_is_that_of_the_records() -> None:
    assert {kind.record for kind in ENTRIES} == set(get_args(JournalEntry))
    assert {kind.record for kind in KEPT} == set(get_args(Record))
    assert len({kind.name for kind in KINDS}) == len(KINDS)
