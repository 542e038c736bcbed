from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from effort import examples
from hypothesis import assume, given
from hypothesis import strategies as st
from room_records import choices, entries, records, setups, texts, times

from witnessmark.meters.port import Fault, Noise
from witnessmark.model import Act, Decision, Setup
from witnessmark.store.records import JournalEntry, Record
from witnessmark.store.store import Store


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    path: Path = tmp_path_factory.mktemp("store") / "store.sqlite3"
    with Store.open(path) as store:
        yield store


@examples(30, 200)
@given(setup=setups, name=texts, at=times, chosen=choices, brought=st.lists(entries, max_size=6))
def test_every_record_reads_back_as_it_was(
    shared: Store,
    setup: Setup,
    name: str,
    at: datetime,
    chosen: dict[str, bool | int | str | None],
    brought: list[JournalEntry],
) -> None:
    told = next((entry for entry in brought if not isinstance(entry, Fault | Noise)), None)
    assume(not (isinstance(told, Decision) and told.act is Act.UNDO))  # no round, then
    round_id = shared.start_round(shared.save_setup(name, setup, at, chosen), at)
    for entry in brought:
        shared.append(round_id, entry)
    begun = shared.latest_round()
    assert begun is not None
    assert (begun.id, begun.started_at) == (round_id, at)
    assert (begun.setup.name, begun.setup.saved_at) == (name, at)
    assert (begun.setup.setup, begun.setup.choices) == (setup, chosen)
    assert shared.entries(round_id) == brought


@examples(30, 200)
@given(room=texts, kept=st.lists(records, max_size=4))
def test_every_record_that_is_kept_reads_back_as_it_was(
    shared: Store, room: str, kept: list[Record]
) -> None:
    for kind in {type(record) for record in kept}:
        of_kind = [record for record in kept if type(record) is kind]
        before = shared.kept(kind, room)
        returned = [shared.keep(room, None, record) for record in of_kind]
        assert shared.kept(kind, room) == [*before, *returned]
        assert [each.record for each in returned] == of_kind
