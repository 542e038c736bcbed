"""One flipped bit makes one row that cannot be read: it is skipped and told, the rest is there."""

from __future__ import annotations

import io
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from room_records import AT, mark, trial

from witnessmark.cli import main
from witnessmark.errors import BadInput
from witnessmark.model import Mark, Reading, Struck, Trial
from witnessmark.store.export.transfer import export_room, import_room
from witnessmark.store.history import history, history_page
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

LATER = datetime(2026, 5, 18, 9, 30, tzinfo=UTC)
TABLES = ("setup", "round", "journal", "trial", "struck", "mark")


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A room with two of everything; of each kind the second is going to be damaged."""
    path = tmp_path_factory.mktemp("whole") / "store.sqlite3"
    with Store.open(path) as store:
        for at in (AT, LATER):
            round_id = store.start_round(store.save_setup("Attic", DEMO_SETUP, at), at)
            for place in range(2):
                store.append(round_id, Reading(1500.0 + place, at, "sim:", b"1.5"))
            kept = store.keep("Attic", round_id, trial(at))
            store.keep("Attic", round_id, Struck(at, kept.key))
            store.keep("Attic", round_id, mark(DEMO_SETUP, at=at))
    return path


@pytest.fixture
def full(template: Path, tmp_path: Path) -> Iterator[Store]:
    """A copy of that store."""
    with Store.open(Path(shutil.copy(template, tmp_path))) as store:
        store._connection.execute("PRAGMA synchronous = OFF")
        yield store


def damage(store: Store, table: str, column: str, value: str) -> None:
    """Change a column of the second row of a table, as no program does."""
    connection: sqlite3.Connection = store._connection
    connection.execute(f"DROP TRIGGER {table}_no_update")
    connection.execute(f"UPDATE {table} SET {column} = {value} WHERE id = 2")


def counts(store: Store) -> dict[str, int]:
    """How much there is of each kind by every way of reading."""
    store.room_named("Attic")
    written = export_room(store, "Attic", io.BytesIO(), "out")
    latest, attic = store.latest_round("Attic"), store.setup_of("Attic")
    assert latest is not None
    assert attic is not None
    return {
        "history": len(list(history(store))),
        "page": len(history_page(store, size=99).items),
        "trials": len(store.kept(Trial, "Attic")),
        "marks": len(store.kept(Mark, "Attic")),
        "entries": len(store.entries(1)),
        "written": sum(written.values()),
    }


WHOLE = {"history": 14, "page": 14, "trials": 2, "marks": 2, "entries": 2, "written": 14}
TIMES = {
    "setup": "saved_at",
    "round": "started_at",
    "journal": "at",
    "trial": "at",
    "struck": "at",
    "mark": "at",
}
LOST = {"trial": ("trials",), "mark": ("marks",), "journal": ("entries",)}


def test_nothing_is_lost_of_a_whole_store(full: Store) -> None:
    assert counts(full) == WHOLE
    assert full.passed_over == ""


@pytest.mark.parametrize("table", TABLES)
@pytest.mark.parametrize("value", ["'2026-93-17'", "CAST({} AS BLOB)", "'2026-05-17T09:30:00'"])
def test_a_damaged_time_is_one_row(full: Store, table: str, value: str) -> None:
    damage(full, table, TIMES[table], value.format(TIMES[table]))
    found = counts(full)
    # with a setup goes its round in the file, with that its two readings, trial, strike and mark
    of_it = {"setup": 7, "round": 6}.get(table, 1)
    lost = dict.fromkeys(LOST.get(table, ()), 1) | {"history": 1, "page": 1, "written": of_it}
    assert found == {name: count - lost.get(name, 0) for name, count in WHOLE.items()}
    assert "cannot be read" in full.passed_over
    (room,) = full.rooms()
    assert room.saved_at == (AT if table == "setup" else LATER)


@pytest.mark.parametrize(
    ("table", "column"),
    [
        *((table, "body") for table in TABLES if table != "round"),
        *((table, "key") for table in TABLES),
        ("setup", "name"),
        ("trial", "room"),
        ("journal", "kind"),
    ],
)
def test_a_blob_for_a_text_is_one_row(full: Store, table: str, column: str) -> None:
    damage(full, table, column, f"CAST({column} AS BLOB)")
    lost = {name: WHOLE[name] - count for name, count in counts(full).items()}
    assert set(lost.values()) <= {0, 1, 2, 6, 7}
    assert lost["written"] >= 1
    assert "cannot be read" in full.passed_over


def test_what_is_left_comes_in_on_another_computer(full: Store, tmp_path: Path) -> None:
    for table in TABLES:
        damage(full, table, "key", "CAST(key AS BLOB)")
    to = io.BytesIO()
    written = export_room(full, "Attic", to, "out")
    with Store.open(tmp_path / "other.sqlite3") as other:
        assert import_room(other, io.BytesIO(to.getvalue()), "in").added == written


def test_a_text_for_a_message_is_one_row(full: Store) -> None:
    damage(full, "journal", "raw", "'MS41'")
    assert counts(full)["entries"] == 1


def without_a_covariance(body: str) -> str:
    assert '"covariance":[[0.0,' in body
    return body.replace('"covariance":[[0.0,', '"covariance":[[-1.0,')


def test_a_mark_with_a_negative_variance_is_passed_over(full: Store) -> None:
    (body,) = full.first("SELECT body FROM mark WHERE id = 2")
    damage(full, "mark", "body", f"'{without_a_covariance(body)}'")
    assert counts(full) == WHOLE | {"history": 13, "page": 13, "marks": 1, "written": 13}
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


@pytest.mark.parametrize("command", ["history", "marks", "trials", "history --csv"])
def test_each_command_goes_on_and_says_so(full: Store, command: str) -> None:
    for table in ("setup", "journal", "trial", "mark"):
        damage(full, table, TIMES[table], f"CAST({TIMES[table]} AS BLOB)")
    env = {"WITNESSMARK_STORE": str(full.path)}
    done = CliRunner().invoke(main, command.split(), env=env)
    assert done.exit_code == 0, done.output
    assert "cannot be read" in done.stderr
