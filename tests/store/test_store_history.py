"""All that is stored in order of time, and what of it is wanted."""

import json
import random
from collections.abc import Iterable
from datetime import datetime, timedelta

import pytest
from room_records import AT, mark, trial

from witnessmark.errors import BadInput
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    Act,
    AngleReading,
    Decision,
    PlumbReadings,
    Preference,
    Reading,
    Setup,
    SetupChanged,
    Side,
    Struck,
    TiltTaken,
)
from witnessmark.store.history import (
    Item,
    Wanted,
    history,
    history_page,
    to_json_line,
)
from witnessmark.store.records import KINDS
from witnessmark.store.store import Store
from witnessmark.words.history import item_words


def at(minutes: float) -> datetime:
    return AT + timedelta(minutes=minutes)


@pytest.fixture
def evening(store: Store, setup: Setup) -> Store:
    """Everything there can be in Attic, a few things in Barn, one outside any round."""
    attic = store.start_round(store.save_setup("Attic", setup, at(0)), at(1))
    barn = store.start_round(store.save_setup("Barn", setup, at(10)), at(11))
    entries = [
        Reading(1512.5, at(2), "sim:", b"1.5125\r\n"),
        Fault("too little light", at(3), "sim:", b"E1"),
        Noise("not a number", at(4), "sim:", b"\xff"),
        Decision(Act.UNDO, at(5)),
        TiltTaken(Side.LEFT, PlumbReadings(500, 504, 600), at(6)),
        TiltTaken(Side.RIGHT, AngleReading(1.25), at(6.5)),
        SetupChanged(setup, at(7)),
    ]
    random.Random(5).shuffle(entries)
    store.append(barn, Reading(7.0, at(12), "sim:"))
    for entry in entries:
        store.append(attic, entry)
    store.append(None, Reading(9.0, at(2.5), "ble:AA"))
    store.keep("Attic", attic, mark(setup, at=at(30)))
    two = store.keep("Attic", attic, trial(at(21), "airy", width=5, bass=4))
    one = store.keep("Attic", None, trial(at(20)))
    store.keep("Attic", attic, Preference(at(22), one.key, two.key, two.key))
    store.keep("Attic", None, Struck(at(23), two.key))
    return store


def told(items: Iterable[Item]) -> list[tuple[str, float]]:
    return [(item.kind, (item.at - AT) / timedelta(minutes=1)) for item in items]


ATTIC = [
    ("setup", 0),
    ("round", 1),
    ("reading", 2),
    ("fault", 3),
    ("noise", 4),
    ("command", 5),
    ("tilt", 6),
    ("tilt", 6.5),
    ("revised", 7),
    ("trial", 20),
    ("trial", 21),
    ("preference", 22),
    ("struck", 23),
    ("mark", 30),
]
BARN = [("setup", 10), ("round", 11), ("reading", 12)]
LOOSE = ("reading", 2.5)


def test_everything_comes_in_order_of_time(evening: Store) -> None:
    everything = sorted([*ATTIC, *BARN, LOOSE], key=lambda item: item[1])
    assert told(history(evening)) == everything
    assert {kind for kind, _ in everything} == {kind.name for kind in KINDS}


def test_what_happens_at_one_moment_comes_as_it_comes_about(store: Store, setup: Setup) -> None:
    store.keep("Attic", None, mark(setup))
    store.keep("Attic", None, trial())
    round_id = store.start_round(store.save_setup("Attic", setup, AT), AT)
    readings = [Reading(number, AT, "sim:") for number in (3.0, 1.0, 2.0)]
    for reading in readings:
        store.append(round_id, reading)
    items = list(history(store))
    assert [item.kind for item in items] == [
        *("setup", "round", "reading", "reading", "reading", "trial", "mark")
    ]
    assert [item.record for item in items[2:5]] == readings


@pytest.mark.parametrize(
    ("wanted", "expected"),
    [
        (Wanted(room="Attic"), ATTIC),
        (Wanted(room="Barn"), BARN),
        (Wanted(room="Cellar"), []),
        (Wanted(round_id=2), BARN[1:]),
        (Wanted(round_id=1, kinds=("trial",)), [("trial", 21)]),
        (Wanted(kinds=("reading",)), [("reading", 2), LOOSE, ("reading", 12)]),
        (Wanted(kinds=("mark", "fault")), [("fault", 3), ("mark", 30)]),
        (Wanted(since=at(11)), [*BARN[1:], *ATTIC[9:]]),
        (Wanted(before=at(2)), ATTIC[:2]),
        (Wanted(since=at(2), before=at(3)), [("reading", 2), LOOSE]),
        (Wanted("Attic", 1, ("trial", "mark"), at(21.5), at(40)), [("mark", 30)]),
    ],
)
def test_only_what_is_wanted_is_told(
    evening: Store, wanted: Wanted, expected: list[tuple[str, float]]
) -> None:
    assert told(history(evening, wanted)) == expected
    assert told(history_page(evening, wanted).items) == expected


def test_pages_follow_one_another_without_gap_or_repeat(evening: Store) -> None:
    whole = list(history(evening))
    pages = [history_page(evening, number=number, size=4) for number in range(1, 6)]
    assert [item for page in pages for item in page.items] == whole
    assert {(page.pages, page.total) for page in pages} == {(5, 18)}
    assert [len(page.items) for page in pages] == [4, 4, 4, 4, 2]


@pytest.mark.parametrize("number", [0, 6, -1])
def test_a_page_that_is_not_there_is_told(evening: Store, number: int) -> None:
    with pytest.raises(BadInput, match=f"no page {number}; the last is 5"):
        history_page(evening, number=number, size=4)


def test_an_empty_history_has_one_empty_page(store: Store) -> None:
    page = history_page(store)
    assert (page.items, page.number, page.pages, page.total) == ((), 1, 1, 0)


def test_an_item_that_cannot_be_read_is_passed_over_and_told(evening: Store) -> None:
    before = [item.kind for item in history(evening)]
    evening._connection.execute(
        "INSERT INTO journal (key, kind, at, body) VALUES ('k', 'dream', '2026-05-17', '{}')"
    )
    assert [item.kind for item in history(evening)] == before
    assert "dream 10 cannot be read and is left out" in evening.passed_over


def test_each_item_is_told_in_words(evening: Store) -> None:
    trials = {item.key: item.id for item in history(evening, Wanted(kinds=("trial",)))}
    words = {item.kind: item_words(item, trials) for item in history(evening, Wanted("Attic"))}
    meant = "target, not measured: left side 1450 mm, setback 1900 mm, toe-in 8.0°; right side "
    meant += "1450 mm, setback 1901 mm, toe-in 7.9°"
    stood = "left side 1450.4 mm, setback 1899.7 mm, toe-in 8.04°; right side 1449.8 mm, setback "
    stood += "1901.0 mm, toe-in 7.90°"
    assert words == {
        "setup": "saved",
        "round": "begun",
        "reading": "1512.5 mm",
        "fault": "the meter says: too little light",
        "noise": "not recognised: not a number",
        "command": "the last reading or decision was undone",
        "tilt": "right cabinet: 1.25° on the inclinometer",
        "revised": "the setup was changed",
        "trial": f"{meant}; width 5, bass 4; airy",
        "preference": "trial 1 was preferred to trial 2",
        "struck": "trial 1 was struck out",
        "mark": f'"before the cleaning": {stood}',
    }
    (low,) = (
        item_words(item, {}) for item in history(evening, Wanted(since=at(6), before=at(6.2)))
    )
    assert low == "left cabinet: 500.0 mm below and 504.0 mm above, 600.0 mm apart"


def test_every_decision_has_words(store: Store) -> None:
    for act in Act:
        store.append(None, Decision(act, AT))
    words = [item_words(item, {}) for item in history(store)]
    assert len(set(words)) == len(Act)


def test_as_json_an_item_is_a_line_with_its_bytes_in_hexadecimal(evening: Store) -> None:
    lines = [to_json_line(item) for item in history(evening)]
    assert all("\n" not in line for line in lines)
    (reading,) = (json.loads(line) for line in lines if '"1512' in line or "1512.5" in line)
    assert (reading["kind"], reading["room"], reading["round_id"]) == ("reading", "Attic", 1)
    assert reading["at"] == "2026-05-17T09:32:00Z"
    assert reading["record"]["raw"] == b"1.5125\r\n".hex()
    assert [json.loads(line)["kind"] for line in lines] == [item.kind for item in history(evening)]


def test_pages_are_the_whole_from_either_end(evening: Store) -> None:
    whole = list(history(evening))
    for size in (1, 3, 4, 7, 100):
        last = history_page(evening, number=None, size=size)
        assert last == history_page(evening, number=last.pages, size=size)
        pages = [history_page(evening, number=n, size=size) for n in range(1, last.pages + 1)]
        assert [item for page in pages for item in page.items] == whole


def test_nothing_of_a_long_journal_is_sorted_for_a_page(evening: Store) -> None:
    ran: list[str] = []
    evening._connection.set_trace_callback(ran.append)
    history_page(evening, Wanted("Attic"), number=None)
    evening._connection.set_trace_callback(None)
    about_journal = [query for query in ran if "INDEXED BY journal_by_time" in query]
    assert about_journal
    for query in about_journal:
        plan = " ".join(row[-1] for row in evening.rows(f"EXPLAIN QUERY PLAN {query}"))
        assert "USE TEMP B-TREE FOR ORDER BY" not in plan
