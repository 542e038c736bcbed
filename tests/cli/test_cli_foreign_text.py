"""Text of strangers on its way out: what would steer the terminal is written out instead."""

from __future__ import annotations

import ast
import csv
import io
import json
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner
from rich.segment import Segment
from textual.color import Color

import witnessmark.cli
from witnessmark.app.app import SteeringShown, WitnessmarkApp
from witnessmark.cli import main
from witnessmark.meters.json_lines import to_json_line
from witnessmark.meters.port import Fault
from witnessmark.model import TouchPoint
from witnessmark.sentences import json_as_written, json_visible, visible
from witnessmark.store.store import Store
from witnessmark_simulators.scenario import DEMO_SETUP

AT = datetime(2026, 1, 2, 10, 0, tzinfo=UTC)
EVIL = "a\x1b[2J\x9b2J\x07\x7f\u202eb"
_LEFT = DEMO_SETUP.cabinets.left
NAMED_EVIL = msgspec.structs.replace(
    DEMO_SETUP,
    cabinets=msgspec.structs.replace(
        DEMO_SETUP.cabinets,
        left=msgspec.structs.replace(_LEFT, points={EVIL: TouchPoint(10.0, 20.0)}),
    ),
)
"""With a text of that kind within the JSON that is stored."""
STEERS = {"\x1b", "\x9b", "\x07", "\x7f", "\u202e"}


@pytest.fixture
def store_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A store with a room and a fault of such names."""
    file = tmp_path / "store.sqlite3"
    monkeypatch.setenv("WITNESSMARK_STORE", str(file))
    with Store.open(file) as store:
        round_id = store.start_round(store.save_setup(EVIL, NAMED_EVIL, AT), AT)
        store.append(round_id, Fault(EVIL, AT, EVIL, b""))
    return file


@pytest.fixture
def replayed(tmp_path: Path) -> Path:
    file = tmp_path / "readings.txt"
    file.write_text(to_json_line(Fault(EVIL, AT, "typed:", b"")) + "\n")
    return file


WAYS = [
    ["read", "replay:{file}"],
    ["read", f"{EVIL}:"],
    ["read", f"replay:{EVIL}"],
    ["read", f"typed:?unit={EVIL}"],
    ["marks"],
    ["marks", EVIL],
    ["marks", "--room", "no" + EVIL],
    ["trials"],
    ["history"],
    ["history", "--all"],
    ["history", "--csv"],
    ["solve", EVIL],
    ["import", EVIL],
    ["export", EVIL, "{file}"],
    ["sheet", "card", EVIL, "out.pdf"],
    ["sheet", "report", EVIL],
    ["layout", "--from", EVIL],
]


@pytest.mark.parametrize("way", WAYS, ids=lambda way: visible(" ".join(way)))
@pytest.mark.usefixtures("store_file")
def test_nothing_that_steers_the_terminal_is_printed(way: list[str], replayed: Path) -> None:
    done = CliRunner().invoke(main, [part.replace("{file}", str(replayed)) for part in way])
    assert STEERS.isdisjoint(done.output)


WRITTEN_AS_JSON = [
    ["history", "--json"],
    ["read", "replay:{file}", "--json"],
    ["export", EVIL, "-"],
]


@pytest.mark.parametrize("way", WRITTEN_AS_JSON)
@pytest.mark.usefixtures("store_file")
def test_json_says_the_same_in_its_own_escapes(way: list[str], replayed: Path) -> None:
    done = CliRunner().invoke(main, [part.replace("{file}", str(replayed)) for part in way])
    assert STEERS.isdisjoint(done.stdout)
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert any(EVIL in line.values() for line in lines)


@pytest.mark.usefixtures("store_file")
def test_a_spreadsheet_shows_them() -> None:
    done = CliRunner().invoke(main, ["history", "--csv"])
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert {row["room"] for row in rows} == {visible(EVIL)}


def test_they_are_written_out_and_spaces_and_letters_stay() -> None:
    assert visible(EVIL) == r"a\x1b[2J\x9b2J\x07\x7f\u202eb"
    assert visible("Größe 3 m²\xa0½ 部屋 🎵") == "Größe 3 m²\xa0½ 部屋 🎵"


def test_json_reads_back_the_same_and_only_what_steers_is_escaped() -> None:
    # controls, bidirectional and invisible signs, line and paragraph separators, none of any
    # meaning: the categories Cc, Cf, Zl, Zp, Co and Cn of the Unicode Character Database
    steering = (
        "\x1b\x85\x9b\x7f\u061c\u200f\u202e\u2028\u2029\u2066\ufeff\ue000\U000e0041\U0010ffff"
    )
    text = f"Größe ½ 部屋 🎵 \\ {steering}"
    written = json_visible(json.dumps({text: [text]}, ensure_ascii=False) + "\n")
    assert json.loads(written) == {text: [text]}
    assert set(steering).isdisjoint(written)
    assert "Größe ½ 部屋 🎵" in written
    assert written.endswith("]}\n")


@pytest.mark.parametrize(
    "text",
    [EVIL, "\\u202e", "\\\\\x7f", "\U000e0041", "Größe 🎵", '"\x85', "\\\u2028", "\ue000\ue001"],
)
def test_what_was_escaped_is_known_again_sign_for_sign(text: str) -> None:
    written = msgspec.json.encode([text, {text: 1}]).decode()
    assert json_as_written(json_visible(written)) == written


def test_other_escapes_stay_as_they_are() -> None:
    for text in (r'"\u00e9 \u0041 \n \u001b"', r'"\ud800"', r'"\\u007f"', r'"\u12zz"', "[\t1]\r\n"):
        assert json_as_written(text) == text
        assert json_visible(text) == text


@pytest.mark.usefixtures("store_file")
def test_an_exported_room_with_such_text_is_imported_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    printed = CliRunner().invoke(main, ["export", EVIL, "-"]).stdout_bytes
    file = tmp_path / "room.jsonl"
    assert CliRunner().invoke(main, ["export", EVIL, str(file)]).exit_code == 0
    assert file.read_bytes() == printed
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path / "other.sqlite3"))
    for words in ("added", "already in the store"):
        done = CliRunner().invoke(main, ["import", str(file)])
        assert done.exit_code == 0
        assert words in done.output
    with Store.open(tmp_path / "other.sqlite3") as store:
        assert [room.name for room in store.rooms()] == [EVIL]


def test_no_command_prints_by_another_way() -> None:
    folder = Path(witnessmark.cli.__file__).parent
    others = [
        file.name
        for file in folder.glob("*.py")
        for node in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(node, ast.Call) and ast.unparse(node.func) in {"click.echo", "print"}
    ]
    assert set(others) == {"echo.py"}


async def test_the_app_paints_every_line_through_the_same(store_file: Path) -> None:
    assert "get_line_filters" in vars(WitnessmarkApp)
    line = [Segment("Room "), Segment(EVIL), Segment(" " * 40)]
    painted = SteeringShown().apply(line, Color(0, 0, 0))
    text = "".join(one.text for one in painted)
    assert visible(EVIL) in text
    assert Segment.get_line_length(painted) == Segment.get_line_length(line)
