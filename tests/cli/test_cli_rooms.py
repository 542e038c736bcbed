"""Marks, trials, history, export and import on the command line."""

import csv
import gc
import io
import json
import os
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner, Result

from witnessmark.cli import main
from witnessmark.lengths import Units
from witnessmark.meters.port import Fault
from witnessmark.model import (
    AimedAt,
    Attribute,
    Cabinet,
    Held,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Preference,
    Reading,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tilt,
    Trial,
    Varied,
    Wall,
)
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 19, 30, tzinfo=UTC)
STRAIGHT = Pair(Placement(1450.4, 1899.7, 0.0), Placement(1449.8, 1901.0, 0.0))
VARIANCES = (0.16, 0.25, 0.01, 0.16, 0.25, 0.01)
SETUP = Setup(
    room=Room.rectangular(5360, 7240),
    cabinets=Pair(Cabinet(262, 391), Cabinet(262, 391)),
    seat=Seat(4400, 2680),
    targets=Pair(Placement(1450, 1900.5, 0.5), None),
    tilt_targets_deg=Pair(1.0, None),
)
POSES = msgspec.convert(
    {
        "placements": STRAIGHT,
        "covariance": [
            [variance if row == column else 0.0 for column in range(6)]
            for row, variance in enumerate(VARIANCES)
        ],
        "tilts": {"left": Tilt(1.1, 0.05), "right": None},
    },
    Poses,
)
SHOT = Shot(ShotKind(Side.LEFT, "rear-inner", AimedAt.FRONT, Held.CABINET), 1508.7)
MARK = Mark(AT, "before the cleaning", SETUP, POSES, (SHOT,), Pair({"rear": 2.5}, {}), "on coins")


def minutes(count: float) -> datetime:
    return AT + timedelta(minutes=count)


@pytest.fixture
def file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    file = tmp_path / "store.sqlite3"
    monkeypatch.setenv("WITNESSMARK_STORE", str(file))
    return file


@pytest.fixture
def evening(file: Path) -> Path:
    """A store whose latest room is Attic, with two trials, a preference and two marks."""
    with Store.open(file) as store:
        store.save_setup("Barn", SETUP, AT)
        round_id = store.start_round(store.save_setup("Attic", SETUP, AT), minutes(1))
        store.append(None, Reading(9.0, AT, "ble:AA"))
        store.append(round_id, Reading(1508.7, minutes(2), "sim:", b"1.5087"))
        store.append(round_id, Fault("too little light", minutes(3), "sim:"))
        heard = Impression({Attribute.TIMBRE: 3}, "a bit thick")
        one = store.keep("Attic", round_id, Trial(minutes(10), Varied.STATION, STRAIGHT, heard))
        heard = Impression({Attribute.TIMBRE: 5}, best=True, track="the cellos")
        again = Trial(minutes(20), Varied.NOTHING, STRAIGHT, heard, measured=POSES, repeats=one.key)
        two = store.keep("Attic", None, again)
        store.keep("Attic", None, Preference(minutes(21), one.key, two.key, two.key))
        first = store.keep("Attic", round_id, MARK)
        taking = msgspec.structs.replace(MARK, at=minutes(60), name="evening", supersedes=first.key)
        store.keep("Attic", None, taking)
        store.keep("Barn", None, msgspec.structs.replace(MARK, name="of the barn"))
    return file


def run(*arguments: str, takes: bytes | None = None) -> Result:
    done = CliRunner().invoke(main, arguments, input=takes)
    assert not isinstance(done.exception, AssertionError | TypeError | KeyError)
    return done


def printed(*arguments: str) -> str:
    done = run(*arguments)
    assert done.exit_code == 0, done.stderr
    assert all(len(line) <= 80 for line in done.stdout.splitlines())
    return done.stdout


def refused(*arguments: str, code: int = 2) -> str:
    done = run(*arguments)
    assert (done.exit_code, done.stdout) == (code, "")
    assert done.stderr.count("\n") == 1
    return done.stderr


@pytest.mark.parametrize("command", ["marks", "trials", "history"])
def test_before_anything_is_saved_that_is_told(file: Path, command: str) -> None:
    assert "no room was saved yet" in refused(command)


@pytest.mark.parametrize("command", ["marks", "trials", "history"])
def test_a_room_that_is_not_there_is_told(evening: Path, command: str) -> None:
    assert 'no "Cellar" in the store; there are "Attic", "Barn"' in refused(
        command, "--room", "Cellar"
    )


def test_the_marks_of_the_latest_room_are_listed(evening: Path) -> None:
    assert printed("marks").splitlines() == [
        "MARKS IN Attic",
        "  1  2026-05-17 19:30Z, round 1: before the cleaning; replaced",
        "     left   side 1450.4 mm, setback 1900 mm, toe-in 0.00°",
        "     right  side 1449.8 mm, setback 1901 mm, toe-in 0.00°",
        "  2  2026-05-17 20:30Z: evening",
        "     left   side 1450.4 mm, setback 1900 mm, toe-in 0.00°",
        "     right  side 1449.8 mm, setback 1901 mm, toe-in 0.00°",
    ]
    assert "of the barn" in printed("marks", "--room", "Barn")


def test_a_mark_is_shown_whole(evening: Path) -> None:
    text = printed("marks", "before the cleaning")
    lines = text.splitlines()
    assert "     on coins" in lines
    left, right = text.split("LEFT CABINET")[1].split("RIGHT CABINET")
    assert "side           1450.4 mm  ±0.8 mm        target 1450.0 mm" in left
    assert "toe-in             0.00°  ±0.20°         target 0.50°" in left
    assert "tilt               1.10°  ±0.10°         target 1.00°" in left
    assert "target" not in right
    assert "  rear spike: 2.5 turns out" in lines
    assert "  left rear-inner to front wall: 1508.7 mm, flush on the cabinet" in lines


def test_a_mark_tells_how_far_each_corner_is_from_the_walls(evening: Path) -> None:
    lines = printed("marks", "evening").splitlines()
    # straight ahead: half a width beside the middle of the baffle, a depth before it
    for line in (
        "  front-inner: 1581.4 mm from the left wall, 1899.7 mm from the front wall",
        "  front-outer: 1319.4 mm from the left wall, 1899.7 mm from the front wall",
        "  rear-inner: 1581.4 mm from the left wall, 1508.7 mm from the front wall",
        "  rear-outer: 1318.8 mm from the right wall, 1510.0 mm from the front wall",
    ):
        assert line in lines
    corners = json.loads(run("marks", "evening", "--json").stdout)["corners"]
    assert corners["left"]["rear-inner"] == {"side_mm": 1581.4, "setback_mm": 1508.7}


def test_a_side_without_a_wall_is_called_what_it_is(file: Path) -> None:
    room = msgspec.structs.replace(SETUP.room, datum=(Wall.RIGHT,))
    inches = msgspec.structs.replace(SETUP, room=room, units=Units.INCH_16)
    with Store.open(file) as store:
        store.save_setup("Attic", inches, AT)
        store.keep("Attic", None, msgspec.structs.replace(MARK, setup=inches, shots=()))
    text = printed("marks", "before the cleaning")
    assert "  front-inner: 5' 2 1/4\" from the right datum line" in text
    assert "side          4' 9 3/32\"  ±0.032 in" in text
    assert "No shots were saved with it." in text


def test_of_several_marks_of_one_name_the_last_is_shown(evening: Path) -> None:
    with Store.open(evening) as store:
        store.keep("Attic", None, msgspec.structs.replace(MARK, at=minutes(90), notes="new rug"))
    assert "new rug" in printed("marks", "before the cleaning")


def test_a_mark_that_is_not_there_is_told_with_those_that_are(evening: Path) -> None:
    error = refused("marks", "morning")
    assert 'no "morning" in Attic; there are "before the cleaning", "evening"' in error


def test_marks_as_json_are_whole(evening: Path) -> None:
    told = json.loads(run("marks", "--json").stdout)
    assert told["room"] == "Attic"
    assert [mark["record"]["name"] for mark in told["marks"]] == ["before the cleaning", "evening"]
    assert msgspec.convert(told["marks"][0]["record"], Mark) == MARK


def test_trials_are_listed_with_what_was_heard_and_preferred(evening: Path) -> None:
    assert printed("trials").splitlines() == [
        "TRIALS IN Attic",
        "  1  2026-05-17 19:40Z, round 1: station varied",
        "     left   target, not measured: side 1450 mm, setback 1900 mm, toe-in 0.0°",
        "     right  target, not measured: side 1450 mm, setback 1901 mm, toe-in 0.0°",
        "     timbre 3; a bit thick",
        "  2  2026-05-17 19:50Z: nothing varied, trial 1 again",
        "     left   side 1450.4 mm, setback 1900 mm, toe-in 0.00°",
        "     right  side 1449.8 mm, setback 1901 mm, toe-in 0.00°",
        "     as they were measured; timbre 5; track the cellos; the best so far",
        "     trial 2 was preferred to trial 1 (2026-05-17 19:51Z)",
    ]
    assert printed("trials", "--room", "Barn") == "No trial was saved in Barn yet.\n"


def test_trials_as_json_come_with_the_preferences(evening: Path) -> None:
    told = json.loads(run("trials", "--json").stdout)
    one, two = (trial["key"] for trial in told["trials"])
    (preference,) = told["preferences"]
    assert preference["record"]["better"] == two
    assert told["trials"][1]["record"]["repeats"] == one


def test_the_history_is_told_by_round(evening: Path) -> None:
    lines = printed("history", "--until", "2026-05-17T19:35").splitlines()
    assert lines == [
        "Attic",
        "  2026-05-17 19:30:00Z  setup       saved",
        "Attic, round 1",
        '  2026-05-17 19:30:00Z  mark        "before the cleaning": left side 1450.4 mm,',
        "                                    setback 1900 mm, toe-in 0.00°; right side",
        "                                    1449.8 mm, setback 1901 mm, toe-in 0.00°",
        "  2026-05-17 19:31:00Z  round       begun",
        "  2026-05-17 19:32:00Z  reading     1508.7 mm (sim:)",
        "  2026-05-17 19:33:00Z  fault       the meter says: too little light (sim:)",
    ]


def kinds(*filters: str) -> list[tuple[str, str | None]]:
    lines = run("history", "--json", *filters).stdout.splitlines()
    return [(item["kind"], item["room"]) for item in map(json.loads, lines)]


def test_the_history_is_filtered(evening: Path) -> None:
    assert kinds("--kind", "reading") == [("reading", "Attic")]
    assert kinds("--all", "--kind", "reading") == [("reading", None), ("reading", "Attic")]
    assert kinds("--room", "Barn") == [("setup", "Barn"), ("mark", "Barn")]
    assert kinds("--round", "1", "--kind", "trial", "--kind", "fault") == [
        ("fault", "Attic"),
        ("trial", "Attic"),
    ]
    assert kinds("--since", "2026-05-17T19:51", "--until", "2026-05-17T20:00") == [
        ("preference", "Attic")
    ]
    assert kinds("--since", "2026-05-17T21:51+02:00", "--kind", "mark") == [("mark", "Attic")]
    assert kinds("--until", "2026-05-16") == []
    assert len(kinds("--since", "2026-05-17", "--until", "2026-05-17")) == 9


def test_a_history_is_told_page_by_page(evening: Path) -> None:
    with Store.open(evening) as store:
        for number in range(150):
            store.append(1, Reading(float(number), minutes(100), "sim:"))
    first, second = run("history", "--json", "--page", "1"), run("history", "--json", "--page", "2")
    assert first.stderr == "page 1 of 2, 159 items in all\n"
    assert (len(first.stdout.splitlines()), len(second.stdout.splitlines())) == (100, 59)
    assert run("history", "--json").stdout == first.stdout + second.stdout
    assert "no page 3; the last is 2" in refused("history", "--page", "3")


def test_a_history_goes_to_a_spreadsheet_in_utf_8(evening: Path) -> None:
    with Store.open(evening) as store:
        store.append(1, Fault("=1+1 zu wenig Licht, schräg", minutes(4), "@sim"))
    done = run("history", "--csv", "--kind", "fault", "--kind", "reading")
    rows = list(csv.DictReader(io.StringIO(done.stdout_bytes.decode("utf-8"), newline="")))
    assert [row["distance_mm"] for row in rows] == ["1508.7", "", ""]
    assert rows[2]["meter"] == "'@sim"
    assert "schräg" in rows[2]["words"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--since", "yesterday"], '--since: "yesterday" is not a date; write 2026-05-17'),
        (["--until", "9999-12-31"], "--until:"),
        (["--csv", "--json"], "give one of them"),
        (["--all", "--room", "Attic"], "leave --room out"),
    ],
)
def test_a_history_that_cannot_be_is_refused(
    evening: Path, arguments: list[str], words: str
) -> None:
    assert words in refused("history", *arguments)


def test_a_room_goes_to_another_computer_and_back(
    evening: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    room = tmp_path / "attic.room"
    words = "1 setup, 1 round, 3 entries, 2 trials, 1 preference, 2 marks"
    assert printed("export", "Attic", str(room)) == f"Attic: {words} written\n"
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path / "other.sqlite3"))
    assert printed("import", str(room)) == f"Attic: {words} added\n"
    assert run("export", "Attic", "-").stdout_bytes == room.read_bytes()
    assert printed("trials").startswith("TRIALS IN Attic")
    again = run("import", str(room))
    assert again.stdout.startswith("Attic: nothing added\nskipped, already in the store")
    told = json.loads(run("import", str(room), "--json").stdout)
    assert told["added"] == dict.fromkeys(told["there"], 0)
    assert told["there"]["entry"] == 3
    done = run("import", "-", takes=room.read_bytes())
    assert (done.exit_code, done.stdout) == (0, again.stdout)


def test_export_as_json_tells_the_counts(evening: Path, tmp_path: Path) -> None:
    room = tmp_path / "barn.room"
    told = json.loads(run("export", "Barn", str(room), "--json").stdout)
    assert told["room"] == "Barn"
    assert told["written"]["mark"] == 1


def test_a_file_that_is_there_already_is_not_overwritten(evening: Path) -> None:
    assert "is there already; name a new file" in refused("export", "Attic", str(evening))
    assert 'no "Cellar"' in refused("export", "Cellar", str(evening) + ".room")


def test_a_file_that_is_not_a_room_is_told_and_adds_nothing(evening: Path) -> None:
    before = printed("history", "--all")
    assert "is not a room that witnessmark export wrote" in refused("import", str(evening))
    assert printed("history", "--all") == before
    assert "no such file or directory" in refused("import", "nowhere.room")


def test_a_store_that_cannot_be_opened_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path))
    assert "a folder, a device or a pipe, not a file" in refused("marks", code=1)


@pytest.mark.filterwarnings("error::pytest.PytestUnraisableExceptionWarning")
@pytest.mark.parametrize(
    "command",
    ["history", "history --csv", "history --json", "marks", "trials --json", "export Attic -"],
)
def test_output_that_nobody_reads_any_more_ends_a_command_quietly(
    evening: Path, command: str, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    reads, writes = os.pipe()
    os.close(reads)
    with os.fdopen(writes, "w") as out, monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", out)
        with pytest.raises(SystemExit) as ended:
            main(command.split(), prog_name="witnessmark")
    gc.collect()  # what was read in part is let go
    # as a shell has it of a program that SIGPIPE ended (POSIX: 128 and more; from memory 128 + 13)
    assert ended.value.code == 141
    assert capfd.readouterr().err == ""
