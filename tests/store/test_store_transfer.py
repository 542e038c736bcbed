"""A room taken from one store to another as a file, and files that are not what they should be."""

import errno
import io
import json
import os
import re
import sqlite3
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import msgspec
import pytest
from room_records import AT, mark, trial

from witnessmark.errors import BadInput, StoreError
from witnessmark.meters.port import Fault
from witnessmark.model import (
    Act,
    AngleReading,
    Decision,
    Mark,
    Preference,
    Reading,
    Setup,
    SetupChanged,
    Side,
    Struck,
    TiltTaken,
    Trial,
)
from witnessmark.store.export.transfer import export_room, export_to, import_from, import_room
from witnessmark.store.store import Store

LATER = AT + timedelta(hours=1)
NONE = {"setup": 0, "round": 0, "entry": 0, "trial": 0, "preference": 0, "struck": 0, "mark": 0}


def exported(store: Store, room: str = "Attic") -> bytes:
    to = io.BytesIO()
    export_room(store, room, to, "out")
    return to.getvalue()


def taken(store: Store, text: bytes) -> tuple[dict[str, int], dict[str, int]]:
    done = import_room(store, io.BytesIO(text), "in.room")
    return done.added, done.there


def refusal(store: Store, text: bytes) -> str:
    """What is said of a file that is not taken; the store is left as it was."""
    before = everything(store)
    with pytest.raises(BadInput) as raised:
        import_room(store, io.BytesIO(text), "in.room")
    assert everything(store) == before
    sentence = str(raised.value)
    assert sentence.startswith("in.room: ")
    assert sentence.endswith("; nothing was taken from it")
    assert "\n" not in sentence
    return sentence


def everything(store: Store) -> list[list[object]]:
    tables = ("setup", "round", "journal", "trial", "preference", "struck", "mark")
    return [store.rows(f"SELECT * FROM {table} ORDER BY id") for table in tables]


@pytest.fixture
def full(store: Store, setup: Setup) -> Store:
    """A store with a room that has two rounds of everything, and another room."""
    first = store.start_round(store.save_setup("Attic", setup, AT, {"meter": "sim:"}), AT)
    barn = store.start_round(store.save_setup("Barn", setup, AT), AT)
    second = store.start_round(store.save_setup("Attic", setup, LATER), LATER)
    store.append(None, Reading(2000.0, AT, "ble:AA", b"\x00\xff\n"))
    for round_id in (second, first, second, barn):
        store.append(round_id, Reading(1500.0 + round_id, AT, "sim:", b"1.5\r\n"))
    store.append(first, Fault("too little light", AT, "sim:"))
    store.append(first, Decision(Act.UNDO, AT))
    store.append(first, TiltTaken(Side.LEFT, AngleReading(1.25), AT))
    store.append(second, SetupChanged(setup, LATER))
    heard = [
        store.keep("Attic", first, trial(words='"äß"\n=1')),
        store.keep("Attic", None, trial()),
    ]
    store.keep("Attic", first, Preference(LATER, heard[0].key, heard[1].key, None))
    store.keep("Attic", first, Struck(LATER, heard[1].key))
    store.keep("Attic", second, mark(setup))
    store.keep("Barn", barn, mark(setup, "of the barn"))
    return store


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    """The store of another computer, empty."""
    with Store.open(tmp_path / "other.sqlite3") as other:
        yield other


def test_a_room_is_the_same_on_another_computer(full: Store, other: Store, setup: Setup) -> None:
    taken(other, exported(full))
    first, second = (id_ for (id_,) in other.rows("SELECT id FROM round ORDER BY id"))
    assert other.entries(None) == full.entries(None) == [Reading(2000, AT, "ble:AA", b"\x00\xff\n")]
    assert other.entries(first) == full.entries(1)
    assert other.entries(second) == full.entries(3)
    for kind in (Trial, Preference, Struck, Mark):
        ours, theirs = other.kept(kind), full.kept(kind, "Attic")
        assert [(each.key, each.record) for each in ours] == [
            (each.key, each.record) for each in theirs
        ]
    assert [each.round_id for each in other.kept(Trial)] == [first, None]
    saved = other.setup_of("Attic")
    assert saved is not None
    assert (saved.saved_at, saved.setup) == (LATER, setup)


def test_the_export_of_an_import_is_the_same_text(full: Store, other: Store) -> None:
    text = exported(full)
    taken(other, text)
    assert exported(other) == text


def test_the_other_room_stays_at_home(full: Store, other: Store) -> None:
    taken(other, exported(full))
    assert [room.name for room in other.rooms()] == ["Attic"]
    assert b"barn" not in exported(full).lower()


def test_counts_tell_what_was_added_and_what_was_there(full: Store, other: Store) -> None:
    counts = {
        "setup": 2,
        "round": 2,
        "entry": 8,
        "trial": 2,
        "preference": 1,
        "struck": 1,
        "mark": 1,
    }
    to = io.BytesIO()
    assert export_room(full, "Attic", to, "out") == counts
    assert taken(other, to.getvalue()) == (counts, NONE)
    assert taken(other, to.getvalue()) == (NONE, counts)


def test_a_file_adds_nothing_to_the_store_it_came_from(full: Store) -> None:
    before = everything(full)
    added, _ = taken(full, exported(full))
    assert added == NONE
    assert everything(full) == before


def test_only_what_is_not_there_yet_is_added(full: Store, other: Store) -> None:
    taken(other, exported(full))
    full.append(3, Reading(1.0, LATER, "sim:"))
    full.keep("Attic", 3, trial(LATER))
    added, there = taken(other, exported(full))
    assert added == NONE | {"entry": 1, "trial": 1}
    assert there["entry"] == 8
    assert other.entries(2)[-1] == Reading(1.0, LATER, "sim:")


def test_two_computers_that_exchange_both_ways_have_the_same(full: Store, other: Store) -> None:
    taken(other, exported(full))
    saved = other.setup_of("Attic")
    assert saved is not None
    own = other.start_round(other.save_setup("Attic", saved.setup, LATER), LATER)
    other.append(own, Reading(7.0, LATER, "sim:"))
    other.keep("Attic", own, mark(saved.setup, "with the new rug", LATER))
    added, _ = taken(full, exported(other))
    assert added == NONE | {"setup": 1, "round": 1, "entry": 1, "mark": 1}
    assert sorted(exported(full).splitlines()[1:-1]) == sorted(exported(other).splitlines()[1:-1])


def test_what_is_imported_never_becomes_the_latest(full: Store, other: Store, setup: Setup) -> None:
    taken(other, exported(full))
    assert other.latest_setup() is None
    assert other.latest_round() is None
    own = other.save_setup("Cellar", setup, AT - timedelta(days=300))
    round_id = other.start_round(own, AT)
    full.save_setup("Attic", setup, LATER + timedelta(days=1))
    taken(other, exported(full))
    latest, begun = other.latest_setup(), other.latest_round()
    assert latest is not None
    assert begun is not None
    assert (latest.id, begun.id) == (own, round_id)


def test_a_round_that_goes_by_an_earlier_name_of_its_room_goes_along(
    full: Store, other: Store, setup: Setup
) -> None:
    full.save_setup("Loft", setup, LATER)
    full.keep("Loft", 1, mark(setup, "as the loft"))
    taken(other, exported(full, "Loft"))
    assert other.entries(1) == full.entries(1)
    assert {room.name for room in other.rooms()} == {"Attic", "Loft"}
    assert exported(other, "Loft") == exported(full, "Loft")


def test_a_room_that_is_not_there_is_told_with_those_that_are(full: Store) -> None:
    with pytest.raises(BadInput, match=r'no "Cellar" in the store; there are "Attic", "Barn"'):
        exported(full, "Cellar")


def test_the_file_is_lines_of_json_that_name_the_format_and_the_room(full: Store) -> None:
    head, *lines, end = (json.loads(line) for line in exported(full).splitlines())
    assert head == {"format": "witnessmark room 1", "room": "Attic"}
    assert [line["what"] for line in lines] == (
        ["setup"] * 2
        + ["round"] * 2
        + ["entry"] * 8
        + ["trial"] * 2
        + ["preference", "struck", "mark"]
    )
    assert (end["what"], end["lines"]) == ("end", len(lines) + 1)


def test_a_file_is_never_overwritten(full: Store, tmp_path: Path) -> None:
    path = tmp_path / "attic.room"
    path.write_text("shopping")
    with pytest.raises(BadInput, match="is there already; name a new file"):
        export_to(full, "Attic", path)
    assert path.read_text() == "shopping"


def test_what_cannot_be_read_is_left_out_of_the_file_and_told(
    full: Store, other: Store, tmp_path: Path
) -> None:
    path, before = tmp_path / "attic.room", tmp_path / "before.room"
    whole = export_to(full, "Attic", before)
    full._connection.execute(
        "INSERT INTO mark (key, room, at, body) VALUES ('k', 'Attic', '2026-05-17', '{}')"
    )
    setup_id = full._connection.execute(
        "INSERT INTO setup (key, saved_at, name, body) "
        "VALUES ('s', '2026-05-17T09:30:00.000000+00:00', 'Attic', '{}')"
    ).lastrowid
    assert setup_id is not None
    full.append(full.start_round(setup_id, AT), Reading(1.0, AT, "sim:"))
    assert export_to(full, "Attic", path) == whole
    assert "4 records cannot be read and are left out" in full.passed_over
    import_from(other, path)


def test_no_part_of_a_file_is_left_when_the_export_fails(
    full: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "attic.room"

    def full_disk(_: object) -> None:
        assert not path.exists()  # nor is it there while it is written
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(os, "fsync", full_disk)
        with pytest.raises(StoreError, match="is not written: no space left"):
            export_to(full, "Attic", path)
    assert not [file for file in tmp_path.iterdir() if "attic.room" in file.name]
    with pytest.raises(BadInput, match="no such file or directory; name a file in a folder"):
        export_to(full, "Attic", tmp_path / "nowhere" / "attic.room")


def test_a_disk_that_is_full_at_the_end_of_an_export_is_told(
    full: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_space(_file: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", no_space)
    path = tmp_path / "attic.room"
    with pytest.raises(StoreError, match=r"attic\.room: is not written: no space left on device"):
        export_to(full, "Attic", path)
    assert not path.exists()


def test_a_disk_that_is_full_while_exporting_is_told(full: Store) -> None:
    class Full(io.BytesIO):
        def write(self, _text: object) -> int:
            raise OSError(28, "No space left on device")

    with pytest.raises(StoreError, match=r"usb\.room: is not written: no space left on device"):
        export_room(full, "Attic", Full(), "usb.room")
    full.append(None, Reading(1.0, AT, "sim:"))


def test_a_store_that_is_full_while_importing_is_left_as_it_was(full: Store, other: Store) -> None:
    (pages,) = other._connection.execute("PRAGMA page_count").fetchone()
    other._connection.execute(f"PRAGMA max_page_count = {pages}")
    for number in range(60):
        full.append(1, Reading(1.0 + number, AT, "sim:", b"x" * 500))
    with pytest.raises(StoreError, match="the disk is full"):
        taken(other, exported(full))
    assert everything(other) == [[]] * 7


def test_what_is_added_while_exporting_waits_for_the_next_time(
    full: Store, path: Path, tmp_path: Path
) -> None:
    class Watched(io.BytesIO):
        def write(self, text: object) -> int:
            with Store.open(path) as copy:
                copy.append(1, Reading(9.0, LATER, "sim:"))
            return super().write(text)  # type: ignore[arg-type]

    before, watched = exported(full), Watched()
    export_room(full, "Attic", watched, "out")
    assert watched.getvalue() == before
    assert len(exported(full)) > len(before)


Damage = Callable[[list[bytes]], list[bytes]]
NOT_OURS = "is not a room that witnessmark export wrote"
DAMAGED = "is damaged: its lines are not those that were written"
DAMAGES: dict[str, tuple[Damage, str]] = {
    "nothing in it": (lambda _: [], NOT_OURS),
    "a picture": (lambda _: [b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 40], NOT_OURS),
    "a list": (lambda _: [b"[1, 2]\n"], NOT_OURS),
    "a round file": (lambda _: [b'format = "witnessmark round 1"\n'], NOT_OURS),
    "a round file in json": (lambda _: [b'{"format": "witnessmark round 1"}\n'], NOT_OURS),
    "of a newer program": (
        lambda lines: [lines[0].replace(b"room 1", b"room 12"), *lines[1:]],
        r"was written by a newer witnessmark \(witnessmark room 12\); update the program",
    ),
    "no end": (lambda lines: lines[:-1], "is cut off after line 18"),
    "cut after its head": (lambda lines: lines[:1], "is cut off after line 1"),
    "cut in the middle": (lambda lines: [*lines[:8], lines[8][:50]], "is cut off after line 8"),
    "a line left out": (lambda lines: lines[:7] + lines[8:], DAMAGED),
    "a line twice": (lambda lines: lines[:7] + lines[6:], DAMAGED),
    "two lines exchanged": (
        lambda lines: [*lines[:7], lines[8], lines[7], *lines[9:]],
        DAMAGED,
    ),
    "a digit changed": (
        lambda lines: [line.replace(b"1501.0", b"1510.0") for line in lines],
        DAMAGED,
    ),
    "the room changed": (
        lambda lines: [lines[0].replace(b"Attic", b"Attica"), *lines[1:]],
        DAMAGED,
    ),
    "a brace lost": (
        lambda lines: [*lines[:3], lines[3].replace(b"{", b"", 1), *lines[4:]],
        "line 4 is damaged or of a newer witnessmark",
    ),
    "a byte that is no text": (
        lambda lines: [*lines[:5], lines[5].replace(b"reading", b"r\xffading"), *lines[6:]],
        "line 6 is damaged or of a newer witnessmark",
    ),
    "a kind that is not known": (
        lambda lines: [line.replace(b'"kind":"fault"', b'"kind":"dream"') for line in lines],
        "line 8 is damaged or of a newer witnessmark: 'dream' is not known here",
    ),
    "a record that is not known": (
        lambda lines: [line.replace(b'"what":"mark"', b'"what":"song"') for line in lines],
        "line 18 is damaged or of a newer witnessmark",
    ),
    "its setups lost": (
        lambda lines: [line for line in lines if b'"what":"setup"' not in line],
        "line 2 is damaged or of a newer witnessmark",
    ),
    "nested without end": (
        lambda lines: [*lines[:6], b'{"what":"entry","body":' + b"[" * 100_000],
        "line 7 is damaged|is cut off after line 6",
    ),
    "something after its end": (lambda lines: lines + lines, "is damaged: it continues after"),
}


@pytest.mark.parametrize(("damage", "words"), DAMAGES.values(), ids=DAMAGES)
def test_a_file_that_is_not_as_it_was_written_changes_nothing(
    full: Store, other: Store, damage: Damage, words: str
) -> None:
    other.append(None, Reading(5.0, AT, "sim:"))
    text = b"".join(damage(exported(full).splitlines(keepends=True)))
    assert text != exported(full)
    assert re.search(words, refusal(other, text))


def test_line_ends_that_a_mail_program_changed_are_no_damage(full: Store, other: Store) -> None:
    text = exported(full)
    added, _ = taken(other, text.replace(b"\n", b"\r\n").rstrip())
    assert added["entry"] == 8
    assert exported(other) == text


def test_a_key_that_is_something_else_here_is_told(full: Store, other: Store) -> None:
    key = full.kept(Mark)[0].key
    other.keep("Attic", None, Mark(**msgspec.structs.asdict(full.kept(Mark)[0].record)), key)
    assert f"line 18: not stored: key {key} already belongs to another mark" in refusal(
        other, exported(full)
    )


def test_a_file_that_cannot_be_opened_or_read_is_told(full: Store, tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="no such file or directory; give the path of an exported"):
        import_from(full, tmp_path / "nowhere.room")
    with pytest.raises(BadInput, match="is a directory"):
        import_from(full, tmp_path)

    class Gone(io.BytesIO):
        def readline(self, _limit: object = -1) -> bytes:
            raise OSError(5, "Input/output error")

    with pytest.raises(BadInput, match="cannot be read: input/output error"):
        import_room(full, Gone(), "usb.room")


def test_a_path_is_taken_and_given(full: Store, other: Store, tmp_path: Path) -> None:
    path = tmp_path / "attic.room"
    counts = export_to(full, "Attic", path)
    assert path.read_bytes() == exported(full)
    assert import_from(other, path).added == counts


def test_readings_of_another_copy_are_taken_while_a_file_is_checked(
    full: Store, other: Store, tmp_path: Path
) -> None:
    """Writing is refused at once, not after a while, so that a held store would fail here."""

    class Watched(io.BytesIO):
        def readline(self, limit: int | None = -1) -> bytes:
            with sqlite3.connect(tmp_path / "other.sqlite3", timeout=0) as copy:
                copy.execute("BEGIN IMMEDIATE")
            return super().readline(limit)

    done = import_room(other, Watched(exported(full)), "in.room")
    assert done.added["entry"] == 8


def test_another_copy_may_read_while_a_room_is_imported(
    full: Store, other: Store, tmp_path: Path
) -> None:
    seen: list[int] = []

    class Watched(io.BytesIO):
        def readline(self, limit: int | None = -1) -> bytes:
            with sqlite3.connect(tmp_path / "other.sqlite3") as copy:
                seen.extend(copy.execute("SELECT count(*) FROM journal").fetchone())
            return super().readline(limit)

    import_room(other, Watched(exported(full)), "in.room")
    assert set(seen) == {0}
    assert len(other.entries(None)) == 1
