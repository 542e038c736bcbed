from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    Act,
    Command,
    Meter,
    Pair,
    Placement,
    Reading,
    Room,
    Seat,
    Setup,
    TouchPoint,
)
from witnessmark.model.cabinet import Cabinet
from witnessmark.store.entries import Entry
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)

texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
times = st.datetimes(timezones=st.just(UTC))
numbers = st.floats(allow_nan=False, allow_infinity=False)
entries: st.SearchStrategy[Entry] = st.one_of(
    st.builds(Reading, numbers, times, texts, st.binary()),
    st.builds(Fault, texts, times, texts, st.binary()),
    st.builds(Noise, texts, times, texts, st.binary()),
    st.builds(Command, st.sampled_from(Act), times),
)

points = st.dictionaries(texts, st.builds(TouchPoint, numbers, numbers), max_size=2)
sizes = st.floats(20, 3000)
cabinets = st.builds(Cabinet, sizes, sizes, st.none() | numbers, points, points)
targets = st.none() | st.builds(Placement, numbers, numbers, numbers)
setups = st.builds(
    Setup,
    room=st.builds(Room.rectangular, st.floats(500, 1e5), st.floats(500, 1e5), st.none() | numbers),
    cabinets=st.builds(Pair[Cabinet], cabinets, cabinets),
    seat=st.builds(Seat, numbers, numbers, st.none() | numbers),
    meter=st.builds(Meter, st.floats(0.1, 10), st.floats(0, 10), st.floats(0, 10)),
    targets=st.builds(Pair[Placement | None], targets, targets),
    temperature_c=numbers,
)
choices = st.dictionaries(texts, st.none() | st.booleans() | st.integers(-9, 9) | texts, max_size=3)


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    path: Path = tmp_path_factory.mktemp("store") / "store.sqlite3"
    with Store.open(path) as store:
        yield store


@settings(deadline=None, max_examples=60)
@given(setup=setups, name=texts, at=times, chosen=choices, brought=st.lists(entries, max_size=6))
def test_every_record_reads_back_as_it_was(
    shared: Store,
    setup: Setup,
    name: str,
    at: datetime,
    chosen: dict[str, bool | int | str | None],
    brought: list[Entry],
) -> None:
    round_id = shared.start_round(shared.save_setup(name, setup, at, chosen), at)
    for entry in brought:
        shared.append(round_id, entry)
    begun = shared.latest_round()
    assert begun is not None
    assert (begun.id, begun.started_at) == (round_id, at)
    assert (begun.setup.name, begun.setup.saved_at) == (name, at)
    assert (begun.setup.setup, begun.setup.choices) == (setup, chosen)
    assert shared.entries(round_id) == brought
