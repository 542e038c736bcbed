"""One flipped bit makes one row that cannot be read: it is skipped and told, the rest is there."""

from __future__ import annotations

import asyncio
import contextlib
import io
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import msgspec
import pytest
from click.testing import CliRunner
from effort import cases
from room_records import AT, mark, trial

from witnessmark.cli import main
from witnessmark.errors import BadInput
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    Act,
    AngleReading,
    Decision,
    Preference,
    Reading,
    SetupChanged,
    Side,
    Struck,
    TiltTaken,
)
from witnessmark.session.resume import resume_or_begin
from witnessmark.store.export.transfer import export_room, import_room
from witnessmark.store.history import Wanted, history, history_page
from witnessmark.store.journal import Journal
from witnessmark.store.records import ENTRIES, KEPT, KINDS
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

LATER = datetime(2026, 5, 18, 9, 30, tzinfo=UTC)
ENTRY_KINDS = [kind.name for kind in ENTRIES]


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A room with two of each kind, in a file that holds whatever a damaged one may."""
    path = tmp_path_factory.mktemp("whole") / "store.sqlite3"
    with Store.open(path) as store:
        for at in (AT, LATER):
            round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, at), at)
            for entry in (
                Reading(1500.0, at, "sim:", b"1.5"),
                Fault("E7", at, "sim:", b"E7"),
                Noise("hum", at, "sim:", b"?"),
                Decision(Act.SKIP, at),
                TiltTaken(Side.LEFT, AngleReading(1.0), at),
                SetupChanged(DEMO_SETUP, at),
            ):
                store.append(round_id, entry)
            kept = store.keep("Attic", round_id, trial(at))
            store.keep("Attic", round_id, Preference(at, kept.key, "another", kept.key))
            store.keep("Attic", round_id, Struck(at, kept.key))
            store.keep("Attic", round_id, mark(DEMO_SETUP, at=at))
    with contextlib.closing(sqlite3.connect(path)) as connection:
        triggers = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'")
        for (name,) in triggers.fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute("UPDATE sqlite_schema SET sql = replace(sql, 'NOT NULL', '')")
        connection.commit()
    return path


@pytest.fixture(scope="module")
def shared(template: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A copy of that store, in which each test makes good what it damaged."""
    with opened(template, tmp_path_factory.mktemp("shared")) as store:
        yield store


@pytest.fixture
def full(template: Path, tmp_path: Path) -> Iterator[Store]:
    """A copy of that store, to be damaged."""
    with opened(template, tmp_path) as store:
        yield store


def opened(template: Path, folder: Path) -> Store:
    store = Store.open(Path(shutil.copy(template, folder)))
    store._connection.execute("PRAGMA synchronous = OFF")
    store._connection.execute("PRAGMA foreign_keys = OFF")
    return store


class Row(NamedTuple):
    """The second row of a kind."""

    table: str
    id: int


def second(store: Store, kind: str) -> Row:
    if kind not in ENTRY_KINDS:
        return Row(kind, 2)
    _, (id_,) = store.rows("SELECT id FROM journal WHERE kind = ? ORDER BY id", kind)
    return Row("journal", id_)


def damage(store: Store, row: Row, column: str, value: str) -> None:
    """Change a column of a row, as no program does; the value is SQL."""
    store._connection.execute(
        f"UPDATE OR IGNORE {row.table} SET {column} = {value} WHERE id = {row.id}"
    )


Told = dict[str, set[tuple[str, int]]]
"""What each way of reading tells: kinds, and their numbers in the store."""


def told(store: Store, names: dict[str, tuple[str, int]]) -> Told:
    """Read the store in every way there is; ``names`` has what is what by its key."""
    store.unfinished()
    store.latest_setup()
    store.setup_of("Attic")
    store.latest_round("Attic")
    store.room_named("Attic")
    out = io.BytesIO()
    export_room(store, "Attic", out, "out")
    lines = [msgspec.json.decode(line) for line in out.getvalue().splitlines()[1:-1]]
    numbers = [id_ for round_id in (1, 2, None) for id_, _ in store.numbered_entries(round_id)]
    kinds = {id_: kind for kind, id_ in names.values() if kind in ENTRY_KINDS}
    return {
        "history": {(item.kind, item.id) for item in history(store)},
        "of the room": {(item.kind, item.id) for item in history(store, Wanted("Attic"))},
        "page": {(item.kind, item.id) for item in history_page(store, size=99).items},
        "last page": {(item.kind, item.id) for item in history_page(store, number=None).items},
        "kept": {(kind.name, one.id) for kind in KEPT for one in store.kept(kind.record)},
        "kept there": {
            (kind.name, one.id) for kind in KEPT for one in store.kept(kind.record, "Attic")
        },
        "entries": {(kinds[id_], id_) for id_ in numbers},
        "export": {names[line["key"]] for line in lines if line["key"] in names},
    }


BY_ROOM = {"of the room", "kept there", "export", "entries"}
"""Ways that leave out, without a word, what is of no room or round, or of another one."""


def names_in(store: Store) -> dict[str, tuple[str, int]]:
    return {item.key: (item.kind, item.id) for item in history(store)}


def about(store: Store, row: Row) -> set[tuple[str, int]]:
    """What goes with a row where that cannot be read: what is of its round."""
    if row.table not in {"setup", "round"}:
        return {name for name in names_in(store).values() if name[1] == row.id}
    return {("setup", 2), ("round", 2)} | {
        (item.kind, item.id) for item in history(store, Wanted(round_id=2))
    }


DAMAGES = {
    "cut off": "'{'",
    "of another type": "'[1]'",
    "a number": "7",
    "nothing": "NULL",
    "bytes": "CAST(column AS BLOB)",
    "no text": "CAST(x'ff41' AS TEXT)",
    "no date": "'2026-93-17'",
    "without a zone": "'2026-05-17T09:30:00'",
    "endless digits": "replace(hex(zeroblob(50000)), '0', '9')",
    "endless brackets": "replace(hex(zeroblob(50000)), '0', '[')",
}
"""What may stand in a column in place of what was written, as SQL."""


def test_nothing_is_lost_of_a_whole_store(shared: Store) -> None:
    names = names_in(shared)
    assert len(names) == 2 * len(KINDS)
    assert set(names.values()) >= {(kind.name, second(shared, kind.name).id) for kind in KINDS}
    found = told(shared, names)
    for way in ("history", "of the room", "page", "last page", "export"):
        assert found[way] == set(names.values())
    assert len(found["kept"]) == 2 * len(KEPT)
    assert len(found["entries"]) == 2 * len(ENTRIES)
    assert shared.passed_over == ""


COLUMNS = {
    ("setup",): ("saved_at", "name", "body", "key", "imported"),
    ("round",): ("setup_id", "started_at", "key", "imported"),
    # of which nothing else is, so that one of each can be damaged at a time
    tuple(kind.name for kind in (*ENTRIES, *KEPT)): (
        *("round_id", "key", "kind", "room", "at", "body", "raw"),
    ),
}
"""Every column of every kind."""


@pytest.mark.parametrize(
    ("kinds", "column"),
    [(kinds, column) for kinds, columns in COLUMNS.items() for column in columns],
    ids=lambda value: value if isinstance(value, str) else value[0],
)
def test_a_damaged_row_is_one_row_in_every_way_of_reading(
    shared: Store, kinds: tuple[str, ...], column: str
) -> None:
    names = names_in(shared)
    whole = told(shared, names)
    rows = [second(shared, kind) for kind in kinds]
    rows = [row for row in rows if column in columns_of(shared, row.table)]
    with_them = set().union(*(about(shared, row) for row in rows))
    before = [shared.first(f"SELECT {column} FROM {row.table} WHERE id = {row.id}") for row in rows]
    # every day a third of them for each column, another third for the next
    for how, value in list(DAMAGES.items())[len(column) % cases(3, 1) :: cases(3, 1)]:
        for row in rows:
            damage(shared, row, column, value.replace("column", column))
        shared._passed_over.clear()
        found = told(shared, names)
        lost = {way: whole[way] - found[way] for way in whole}
        assert set().union(*lost.values()) <= with_them, how
        untold = set().union(*(lost[way] for way in whole if way not in BY_ROOM))
        assert len(shared._passed_over) >= len(untold), how
    for row, (value,) in zip(rows, before, strict=True):
        query = f"UPDATE {row.table} SET {column} = ? WHERE id = ?"
        shared._connection.execute(query, (value, row.id))
    shared._passed_over.clear()
    assert told(shared, names) == whole


def test_every_column_of_every_kind_is_damaged(shared: Store) -> None:
    assert {kind for kinds in COLUMNS for kind in kinds} == {kind.name for kind in KINDS}
    for kinds, columns in COLUMNS.items():
        for kind in kinds:
            assert columns_of(shared, second(shared, kind).table) <= {"id", *columns}


def columns_of(store: Store, table: str) -> set[str]:
    return {name for _, name, *_ in store.rows(f"PRAGMA table_info({table})")}


COMMANDS = (
    "history --all",
    "history --csv",
    "history --json",
    "marks",
    "trials",
    "export Attic -",
    "sheet report - --svg",
)


def test_each_command_goes_on_and_says_so(full: Store) -> None:
    for kind in KINDS:
        row = second(full, kind.name)
        damage(full, row, "key", "CAST(key AS BLOB)")
    env = {"WITNESSMARK_STORE": str(full.path)}
    for command in COMMANDS:
        done = CliRunner().invoke(main, command.split(), env=env)
        assert done.exit_code == 0, done.output
        assert "cannot be read" in done.stderr
        assert done.stdout


@pytest.mark.parametrize("kind", [kind.name for kind in KINDS if kind.name != "round"])
def test_an_evening_is_taken_up_all_the_same(full: Store, kind: str) -> None:
    row = second(full, kind)
    damage(full, row, "body", "'{'")

    async def resumed() -> tuple[int, str]:
        async with Journal(full) as journal:
            found = await resume_or_begin(journal, "Attic", 2, DEMO_SETUP, LATER)
        return found.state.readings, found.passed_over

    readings, passed_over = asyncio.run(resumed())
    # with its setup the second round is none, and the first is too long ago
    assert readings == (0 if kind in {"reading", "setup"} else 1)
    is_told = kind in {"setup", *ENTRY_KINDS}
    assert ("cannot be read" in passed_over) == is_told


def test_what_is_left_comes_in_on_another_computer(full: Store, tmp_path: Path) -> None:
    for kind in KINDS:
        damage(full, second(full, kind.name), "key", "CAST(key AS BLOB)")
    to = io.BytesIO()
    written = export_room(full, "Attic", to, "out")
    with Store.open(tmp_path / "other.sqlite3") as other:
        assert import_room(other, io.BytesIO(to.getvalue()), "in").added == written


def without_a_covariance(body: str) -> str:
    assert '"covariance":[[0.0,' in body
    return body.replace('"covariance":[[0.0,', '"covariance":[[-1.0,')


def test_a_mark_with_a_negative_variance_is_passed_over(full: Store) -> None:
    names = names_in(full)
    (body,) = full.first("SELECT body FROM mark WHERE id = 2")
    damage(full, Row("mark", 2), "body", f"'{without_a_covariance(body)}'")
    found = told(full, names)
    assert set(names.values()) - found["history"] == {("mark", 2)}
    assert set(names.values()) - found["export"] == {("mark", 2)}
    assert "covariance" in full.passed_over


def test_one_that_comes_in_a_file_is_refused(full: Store, tmp_path: Path) -> None:
    to = io.BytesIO()
    export_room(full, "Attic", to, "out")
    *lines, _ = to.getvalue().decode().splitlines()
    marks = [line for line in lines if '"what":"mark"' in line]
    altered = (
        "\n".join(without_a_covariance(line) if line in marks else line for line in lines) + "\n"
    )
    with Store.open(tmp_path / "other.sqlite3") as other:
        with pytest.raises(BadInput, match="covariance"):
            import_room(other, io.BytesIO(altered.encode()), "in")
        assert other.rooms() == []
