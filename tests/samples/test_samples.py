"""What the program wrote before it was rebuilt opens, and what it answers is the same to the byte.

``store.sql`` is a store as SQL: an evening in a simulated room, whose cabinets are measured, moved,
tilted and listened to, a mark that is put back a day later, and a second room, hardly begun.
``attic.room`` is its first room as a file. ``setups.jsonl`` is a setup in which everything is
entered, and one with nothing but what is needed, as the store holds them. ``rounds`` are round
files and ``profiles`` those of meters, as ``learn`` saves them. None of these is ever written anew;
``answers`` only where a sentence in them was changed on purpose, ``pages`` where a page was.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from shlex import split

import msgspec
import pytest
from click.testing import CliRunner
from exact_shots import mark_in
from stored import check, to_six_decimals

from witnessmark.cli import main
from witnessmark.meters.decoding import decoder_for
from witnessmark.meters.port import Fault, Noise
from witnessmark.meters.profile import read_profile, write_profile
from witnessmark.model import Mark, Preference, Trial
from witnessmark.placing.marks import moved_between
from witnessmark.placing.round import Round
from witnessmark.store.export.transfer import export_to, import_from
from witnessmark.store.records import SetupBody
from witnessmark.store.store import Store
from witnessmark.words.marks import comparison_words

AT = datetime(2026, 5, 17, 17, tzinfo=UTC)
SAMPLES = Path(__file__).parent
ROUNDS = sorted((SAMPLES / "rounds").iterdir())
LAYOUTS = {
    "plain": "--width 5.36m --length 7.24m",
    "cabinets": "--width 5.36m --length 7.24m --cabinet-width 262mm --cabinet-depth 391mm",
    "own": (
        "--width 5360 --length 7240 --cabinet-width 262mm --cabinet-depth 391mm --side 1.45m "
        "--setback 1.90m --toe-in 8 --seat-from-front 4.4m --seat-from-left 2.6m --mirror room"
    ),
    "lanes": "--width 5.36m --length 7.24m --station 4 --toe-in 6 --units 0.1mm",
    "inches": (
        """--width "17' 7\\"" --length "23' 9\\"" --units 1/16in """
        "--cabinet-width 10in --cabinet-depth 15in"
    ),
    "tight": "--width 2.6m --length 3m --cabinet-width 400mm --cabinet-depth 600mm --base 2m",
    "sound": (
        "--width 5.36m --length 7.24m --cabinet-width 262mm --cabinet-depth 391mm --sound "
        "--height 2.62m --ear-height 1.02m --acoustic-height 0.94m"
    ),
}


@pytest.fixture
def path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The store of then, as the one that the commands use."""
    path = tmp_path / "store.sqlite3"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript((SAMPLES / "store.sql").read_text("utf-8"))
    monkeypatch.setenv("WITNESSMARK_STORE", str(path))
    return path


def run(*arguments: str) -> str:
    """What a command prints, with what it notes on the standard error before it."""
    done = CliRunner().invoke(main, arguments, catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.stderr + done.stdout_bytes.decode()


@pytest.mark.parametrize("file", ROUNDS, ids=lambda file: file.stem)
@pytest.mark.parametrize("sound", [[], ["--sound"]], ids=["", "sound"])
def test_a_round_file_is_solved_as_it_was(file: Path, sound: list[str]) -> None:
    name = "-".join(("solve", file.stem, *(["sound"] if sound else [])))
    told = run("solve", str(file), "--json", *sound)
    check(SAMPLES / "answers" / f"{name}.json", to_six_decimals(told))
    check(SAMPLES / "pages" / f"{name}.txt", run("solve", str(file), *sound))


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_layout_is_laid_out_as_it_was(name: str) -> None:
    command = f"layout {LAYOUTS[name]}"
    told = run(*split(command), "--json")
    check(SAMPLES / "answers" / f"layout-{name}.json", to_six_decimals(told))
    check(SAMPLES / "pages" / f"layout-{name}.txt", run(*split(command)))


@pytest.mark.usefixtures("path")
@pytest.mark.parametrize(
    ("name", "command"),
    [
        ("marks.json", "marks --room Attic --json"),
        ("mark.json", "marks 'farther in' --room Attic --json"),
        ("trials.json", "trials --room Attic --json"),
        ("history.jsonl", "history --all --json"),
        ("history-attic.jsonl", "history --room Attic --json"),
        ("history.csv", "history --all --csv"),
    ],
)
def test_a_store_is_told_in_figures_as_it_was(name: str, command: str) -> None:
    check(SAMPLES / "answers" / name, to_six_decimals(run(*split(command))))


@pytest.mark.usefixtures("path")
@pytest.mark.parametrize(
    ("name", "command"),
    [
        ("marks", "marks --room Attic"),
        ("marks-none", "marks"),
        ("mark", "marks 'farther in' --room Attic"),
        ("mark-inches", "marks 'before the cleaning' --room Attic"),
        ("trials", "trials --room Attic"),
        ("trials-none", "trials"),
        ("history", "history --room Attic"),
        ("history-all", "history --all --kind reading --kind mark --page 1"),
    ],
)
def test_a_store_is_told_in_words_as_it_was(name: str, command: str) -> None:
    check(SAMPLES / "pages" / f"{name}.txt", run(*split(command)))


@pytest.mark.usefixtures("path")
@pytest.mark.parametrize(
    ("name", "command", "pages"),
    [
        ("sheet-card", "card 'farther in' - --room Attic", 1),
        ("sheet-card-inches", "card 'before the cleaning' - --room Attic --paper letter", 1),
        ("sheet-layout", "layout FILE --room Attic", 2),
        ("sheet-round", f"layout FILE --from {SAMPLES / 'rounds' / 'left-alone.toml'}", 2),
        ("sheet-template", "template left FILE --room Attic", 7),
        ("sheet-report", "report FILE --room Attic --since 2026-05-17", 2),
    ],
)
def test_a_sheet_is_as_it_was(tmp_path: Path, name: str, command: str, pages: int) -> None:
    told = run("sheet", *split(command.replace("FILE", str(tmp_path / "sheet.svg"))), "--svg")
    made = sorted(tmp_path.glob("sheet*.svg"))
    assert len(made or [told]) == pages
    for number, content in enumerate([page.read_text("utf-8") for page in made] or [told], 1):
        check(SAMPLES / "pages" / f"{name}-{number}.svg", to_six_decimals(content))


def test_a_room_goes_to_a_file_as_it_did(path: Path, tmp_path: Path) -> None:
    then = SAMPLES / "attic.room"
    with Store.open(path) as store:
        assert not any(import_from(store, then).added.values())
        export_to(store, "Attic", tmp_path / "again.room")
    with Store.open(tmp_path / "other.sqlite3") as other:
        imported = import_from(other, then)
        assert not any(imported.there.values())
        check(SAMPLES / "answers" / "import.json", msgspec.json.encode(imported))
        export_to(other, "Attic", tmp_path / "other.room")
    for written in ("again.room", "other.room"):
        assert (tmp_path / written).read_bytes() == then.read_bytes()


def rows(path: Path, table: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(f"SELECT * FROM {table} ORDER BY id").fetchall()


def test_what_was_stored_is_stored_the_same_again(path: Path) -> None:
    before = {table: rows(path, table) for table in ("setup", "journal", "trial", "mark")}
    for *_, body, _key, _imported in before["setup"]:
        assert SetupBody.from_json(body).to_json() == body
    with Store.open(path) as store:
        for round_id in (None, 1, 2):
            keys = [row[2] for row in before["journal"] if row[1] == round_id]
            # a store refuses another entry or record under a key that it has
            for key, entry in zip(keys, store.entries(round_id), strict=True):
                store.append(round_id, entry, key)
        for kept in (*store.kept(Trial), *store.kept(Mark), *store.kept(Preference)):
            store.keep(kept.room, kept.round_id, kept.record, kept.key)
    assert {table: rows(path, table) for table in before} == before


def test_a_setup_with_all_that_can_be_entered_is_read_and_stored_as_it_was() -> None:
    whole, least = (SAMPLES / "setups.jsonl").read_text("utf-8").splitlines()
    for text in (whole, least):
        assert SetupBody.from_json(text).to_json() == text
    usual = msgspec.structs.asdict(SetupBody.from_json(least).setup)
    entered = msgspec.structs.asdict(SetupBody.from_json(whole).setup)
    same = [name for name, value in entered.items() if value == usual[name]]
    # these came later, and are stored only where they are not the usual ones
    assert same == ["room_known", "station_order", "other_seats"]


def test_the_journal_of_then_brings_back_the_marks_of_then(path: Path) -> None:
    bodies = {id_: body for id_, _, _, body, *_ in rows(path, "setup")}
    began = {id_: SetupBody.from_json(bodies[of]).setup for id_, of, *_ in rows(path, "round")}
    with Store.open(path) as store:
        marks = store.kept(Mark)
        assert [mark.round_id for mark in marks] == [1, 1, 2]
        for mark in marks:
            then = mark.record
            state = Round.begin(began[mark.round_id])
            for entry in store.entries(mark.round_id):
                if not isinstance(entry, Fault | Noise) and entry.at < then.at:
                    state = state.feed(entry)
            again = mark_in(state, then.at, then.name)
            assert again.shots == then.shots
            told = [msgspec.json.encode(poses).decode() for poses in (again.poses, then.poses)]
            assert to_six_decimals(told[0]) == to_six_decimals(told[1])


def test_a_pair_of_marks_is_compared_as_it_was(path: Path) -> None:
    with Store.open(path) as store:
        first, second, third = (mark.record for mark in store.kept(Mark))
    told = [
        "\n".join(comparison_words(later.setup, moved_between(earlier, later)))
        for earlier, later in ((first, second), (first, third))
    ]
    check(SAMPLES / "pages" / "compared.txt", "\n\n".join(told))
    figures = msgspec.json.format(msgspec.json.encode(moved_between(first, second))).decode()
    check(SAMPLES / "answers" / "compared.json", to_six_decimals(figures))


@pytest.mark.parametrize("name", ["lines", "frames", "registers"])
def test_a_profile_is_read_and_written_as_it_was(name: str) -> None:
    text = (SAMPLES / "profiles" / f"{name}.toml").read_text("utf-8")
    assert write_profile(read_profile(text)) == text


@pytest.mark.parametrize(
    ("name", "sent"),
    [
        ("lines", b"D=1,512 m;OK\r\n D=7.25ft ;OK\r\nD=9;E1\r\n----\r\nD=1.5;OX\r\n"),
        ("frames", bytes.fromhex("5959e80500a03f 5959e80501a040 5959e80500a03e")),
    ],
)
def test_bytes_are_decoded_as_they_were(name: str, sent: bytes) -> None:
    profile = read_profile((SAMPLES / "profiles" / f"{name}.toml").read_text("utf-8"))
    decoder = decoder_for(profile, "meter")
    found = [*decoder.feed(sent, AT), *decoder.pause(AT)]
    told = b"\n".join(msgspec.json.encode({type(one).__name__: one}) for one in found)
    check(SAMPLES / "answers" / f"decoded-{name}.jsonl", told.decode() + "\n")


def test_readings_from_a_file_are_told_as_they_were() -> None:
    readings = SAMPLES / "readings.jsonl"
    done = CliRunner().invoke(main, ["read", f"replay:{readings}", "--json"])
    assert done.stdout == readings.read_text("utf-8")
