"""What a person keeps of a room, and which rooms there are."""

import re
import sqlite3
from datetime import timedelta
from pathlib import Path

import msgspec
import pytest
from room_records import AT, PLACED, mark, trial

from witnessmark.errors import StoreError
from witnessmark.model import Impression, Mark, Pair, Placement, Preference, Setup, Trial, Varied
from witnessmark.store.records import Kept, RecordRefused
from witnessmark.store.store import Store

LATER = AT + timedelta(hours=1)


def test_trials_preferences_and_marks_read_back_in_the_order_they_were_kept(
    store: Store, setup: Setup, round_id: int
) -> None:
    late, early = trial(LATER, "airy", width=5), trial(AT, bass=2)
    first = store.keep("Attic", round_id, late)
    second = store.keep("Attic", None, early)
    better = store.keep("Attic", round_id, Preference(AT, first.key, second.key, first.key))
    marked = store.keep("Attic", round_id, mark(setup))
    assert store.kept(Trial) == [first, second]
    assert [kept.record for kept in store.kept(Trial)] == [late, early]
    assert [kept.round_id for kept in store.kept(Trial)] == [round_id, None]
    assert store.kept(Preference) == [better]
    assert store.kept(Mark) == [marked]
    assert marked.record == mark(setup)


def test_what_is_kept_is_there_after_reopening(path: Path, store: Store, setup: Setup) -> None:
    kept = store.keep("Attic", None, mark(setup))
    store.close()
    with Store.open(path) as again:
        assert again.kept(Mark) == [kept]


def test_rooms_are_kept_apart(store: Store) -> None:
    attic, barn = store.keep("Attic", None, trial()), store.keep("Barn", None, trial())
    assert store.kept(Trial, "Attic") == [attic]
    assert store.kept(Trial, "Barn") == [barn]
    assert store.kept(Trial, "Cellar") == []


def test_a_record_kept_again_under_its_key_is_stored_once(store: Store, round_id: int) -> None:
    first = store.keep("Attic", round_id, trial(), "key")
    assert store.keep("Attic", round_id, trial(), "key") == first
    assert store.kept(Trial) == [Kept(1, "key", "Attic", round_id, trial())]


def test_the_same_twice_without_a_key_is_two(store: Store) -> None:
    keys = {store.keep("Attic", None, trial()).key for _ in range(2)}
    assert len(keys) == len(store.kept(Trial)) == 2


def test_a_key_never_swallows_another_record(store: Store, round_id: int) -> None:
    store.keep("Attic", round_id, trial(), "key")
    for room, of, record in (
        ("Attic", round_id, trial(words="other")),
        ("Attic", round_id, trial(LATER)),
        ("Attic", None, trial()),
        ("Barn", round_id, trial()),
    ):
        with pytest.raises(RecordRefused, match="key key already belongs to another trial"):
            store.keep(room, of, record, "key")
    assert len(store.kept(Trial)) == 1


def test_a_record_of_a_round_that_is_not_there_is_refused(store: Store, round_id: int) -> None:
    with pytest.raises(RecordRefused, match=f"no round {round_id + 9}"):
        store.keep("Attic", round_id + 9, trial())
    with pytest.raises(StoreError, match="no setup 99"):
        store.start_round(99, AT)
    assert store.kept(Trial) == []


def test_a_record_that_would_not_read_back_is_refused(store: Store, setup: Setup) -> None:
    nowhere = Placement(float("nan"), 1900, 8)
    with pytest.raises(RecordRefused, match="finite"):
        store.keep("Attic", None, Trial(AT, Varied.PLACE, Pair(nowhere, nowhere), Impression()))
    with pytest.raises(RecordRefused, match="no time zone"):
        store.keep("Attic", None, mark(setup, at=AT.replace(tzinfo=None)))
    with pytest.raises(RecordRefused, match="not Unicode"):
        store.keep("Attic", None, trial(words="\udcff"))
    with pytest.raises(StoreError, match="not Unicode"):
        store.keep("\udcff", None, trial())
    assert store.kept(Trial) == store.kept(Mark) == []


@pytest.mark.parametrize("table", ["trial", "preference", "mark"])
@pytest.mark.parametrize("change", ["DELETE FROM {}", "UPDATE {} SET id = id + 1"])
def test_nothing_that_is_kept_is_changed_or_deleted(
    store: Store, setup: Setup, table: str, change: str
) -> None:
    for record in (trial(), Preference(AT, "a", "b", None), mark(setup)):
        store.keep("Attic", None, record)
    with pytest.raises(sqlite3.IntegrityError, match="only ever added"):
        store._connection.execute(change.format(table))


def test_a_kept_row_that_cannot_be_read_is_passed_over_and_told(store: Store) -> None:
    store.keep("Attic", None, trial())
    store._connection.execute(
        "INSERT INTO trial (key, room, at, body) "
        "VALUES ('k', 'Attic', '2026-05-17T09:30:00Z', '{}')"
    )
    (kept,) = store.kept(Trial)
    assert kept.record == trial()
    assert re.search(r"trial 2 cannot be read and is left out \(.*`varied`", store.passed_over)


def test_every_room_is_told_with_how_much_there_is_of_it(store: Store, setup: Setup) -> None:
    assert store.rooms() == []
    attic = store.save_setup("Attic", setup, AT)
    barn = store.save_setup("Barn", setup, LATER)
    store.save_setup("Attic", setup, AT + timedelta(minutes=5))
    for setup_id in (attic, attic, barn):
        store.start_round(setup_id, LATER)
    store.keep("Attic", None, trial())
    store.keep("Attic", None, trial())
    store.keep("Barn", None, mark(setup))
    store.keep("Cellar", None, Preference(AT, "a", "b", None))
    told = [
        (room.name, room.saved_at, *msgspec.structs.astuple(room)[2:]) for room in store.rooms()
    ]
    assert told == [
        ("Attic", AT + timedelta(minutes=5), 2, 2, 0),
        ("Barn", LATER, 1, 0, 1),
        ("Cellar", None, 0, 0, 0),
    ]


def test_the_last_setup_of_a_room_is_found(store: Store, setup: Setup) -> None:
    store.save_setup("Attic", setup, AT)
    warmer = msgspec.structs.replace(setup, temperature_c=25.0)
    last = store.save_setup("Attic", warmer, LATER)
    store.save_setup("Barn", setup, LATER)
    assert [room.name for room in store.rooms()] == ["Barn", "Attic"]
    found = store.setup_of("Attic")
    assert found is not None
    assert (found.id, found.setup) == (last, warmer)
    assert store.setup_of("Cellar") is None


def test_a_save_under_a_future_clock_hides_no_later_one(store: Store, setup: Setup) -> None:
    store.save_setup("Attic", setup, AT + timedelta(days=9000))
    store.save_setup("Barn", setup, AT)
    warmer = msgspec.structs.replace(setup, temperature_c=25.0)
    last = store.save_setup("Attic", warmer, LATER)
    found = store.setup_of("Attic")
    assert found is not None
    assert (found.id, found.setup) == (last, warmer)
    store.save_setup("Barn", setup, AT)
    assert [room.name for room in store.rooms()] == ["Barn", "Attic"]


def test_where_the_pair_stood_is_kept_to_the_last_digit(store: Store, setup: Setup) -> None:
    kept = store.keep("Attic", None, mark(setup))
    (read,) = store.kept(Mark)
    assert read.record.poses.placements == PLACED == kept.record.poses.placements
    assert read.record.poses.covariance[5][5] == 0.01
