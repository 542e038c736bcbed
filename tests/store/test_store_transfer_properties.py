"""Whatever there is of a room is the same after it went through a file into an empty store."""

import io
import tempfile
from datetime import datetime
from pathlib import Path

from effort import examples
from hypothesis import given
from hypothesis import strategies as st
from room_records import choices, entries, records, setups, texts, times

from witnessmark.model import Mark, Preference, Setup, Trial
from witnessmark.store.export.transfer import export_room, import_room
from witnessmark.store.records import ChoiceValue, JournalEntry, Record
from witnessmark.store.store import Store

SavedRound = tuple[Setup, datetime, dict[str, ChoiceValue], list[JournalEntry], list[Record]]
rounds = st.lists(
    st.tuples(setups, times, choices, st.lists(entries, max_size=3), st.lists(records, max_size=2)),
    min_size=1,
    max_size=3,
)


def exported(store: Store, room: str) -> bytes:
    to = io.BytesIO()
    export_room(store, room, to, "out")
    return to.getvalue()


def fill(store: Store, room: str, saved: list[SavedRound], loose: list[JournalEntry]) -> None:
    """Rounds that are measured by turns, and entries outside any."""
    ids = [
        store.start_round(store.save_setup(room, setup, at, chosen), at)
        for setup, at, chosen, _, _ in saved
    ]
    for place in range(3):
        for round_id, (_, _, _, brought, kept) in zip(ids, saved, strict=True):
            for entry in brought[place : place + 1]:
                store.append(round_id, entry)
            for record in kept[place : place + 1]:
                store.keep(room, round_id, record)
        for entry in loose[place : place + 1]:
            store.append(None, entry)


@examples(6, 60)
@given(
    room=texts, elsewhere=texts, saved=rounds, others=rounds, loose=st.lists(entries, max_size=3)
)
def test_a_room_that_goes_through_a_file_is_the_same(
    room: str,
    elsewhere: str,
    saved: list[SavedRound],
    others: list[SavedRound],
    loose: list[JournalEntry],
) -> None:
    with (
        tempfile.TemporaryDirectory() as folder,
        Store.open(Path(folder) / "one") as one,
        Store.open(Path(folder) / "two") as two,
    ):
        fill(one, elsewhere, others, [])
        fill(one, room, saved, loose)
        text = exported(one, room)
        import_room(two, io.BytesIO(text), "in")
        assert exported(two, room) == text
        again = import_room(one, io.BytesIO(text), "in")
        assert sum(again.added.values()) == 0
        assert exported(one, room) == text
        assert two.entries(None) == loose
        for kind in (Trial, Preference, Mark):
            here, there = one.kept(kind, room), two.kept(kind, room)
            assert [each.record for each in here] == [each.record for each in there]
