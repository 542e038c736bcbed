"""Every example in README and manual runs: the commands without a person or a meter, the files."""

from __future__ import annotations

import json
import math
import re
import shlex
import tomllib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import click
import msgspec
import pytest
from click.testing import CliRunner, Result
from shapely import LineString, Point, Polygon

from witnessmark.cli import Commands, main
from witnessmark.manual import manual_pages
from witnessmark.meters.decoding import decoder_for
from witnessmark.meters.port import Fault
from witnessmark.meters.profile import read_profile
from witnessmark.meters.profile_folder import known_profiles
from witnessmark.model import (
    Attribute,
    Cabinet,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
    Reading,
    Room,
    Seat,
    Setup,
    Side,
    Tilt,
    TouchPoint,
    Trial,
    Varied,
)
from witnessmark.store.store import Store

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
TEXTS = {"README": README, **{page.topic: page.text for page in manual_pages()}}
BLOCKS = [
    (language, text)
    for whole in TEXTS.values()
    for language, text in re.findall(r"^```(\w*)\n(.*?)^```$", whole, re.MULTILINE | re.DOTALL)
]
ROUNDS = [text for language, text in BLOCKS if language == "toml" and "witnessmark round" in text]
PROFILES = [text for language, text in BLOCKS if language == "toml" and text not in ROUNDS]
LINES = [
    line.partition("  #")[0].strip()
    for language, text in BLOCKS
    if language == "sh"
    for line in text.splitlines()
]


def _codes(text: str) -> list[str]:
    """What stands as code among the words of a text."""
    words = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    return [" ".join(code.split()) for code in re.findall(r"`([^`]+)`", words)]


CODES = [code for text in TEXTS.values() for code in _codes(text)]
INLINE = [code for code in CODES if code.split()[0] == "witnessmark"]
PROGRAM = ".venv/bin/witnessmark"

NOT_RUN = {
    "python3 -m venv .venv && .venv/bin/pip install .": "it installs what runs here",
    f"{PROGRAM} demo": "a person plays the demo; tests/app has simulated hands do it",
    "witnessmark demo": "likewise",
    "witnessmark": "a person works on its screens; tests/app does",
    "witnessmark --phone": "a person scans its code; tests/phone has a browser do it",
    "witnessmark demo --phone": "likewise",
    f"{PROGRAM} meters": "it asks the computer's own radio; tests/bluetooth has a stand-in for it",
    "witnessmark meters": "likewise",
    f"{PROGRAM} learn ble:AA:BB:CC:DD:EE:FF --known 1.2m --known 1.9m --save mine": "it needs a "
    "person at a meter; tests/cli/test_cli_learn.py plays both",
    "witnessmark learn serial:/dev/ttyUSB0 --known 1.2m --known 1.9m --save mine": "likewise",
    "witnessmark learn ADDRESS": "likewise",
    "witnessmark check ADDRESS --width 262mm --depth 391mm": "it needs a person at a meter; "
    "tests/cli/test_cli_check.py plays both",
    "witnessmark check typed: --width 262mm --depth 391mm": "likewise",
    "witnessmark check ADDRESS": "likewise",
    "witnessmark simulate serial": "it waits for Enter; tests/simulators press it",
}
"""What needs a person or a meter, and why."""
INSTEAD = {
    f"{PROGRAM} read 'serial:/dev/ttyUSB0?unit=m'": "witnessmark read sim: --count 1",
    "witnessmark read 'serial:/dev/ttyUSB0?profile=mine'": "witnessmark read sim: --count 1",
    "witnessmark read": "witnessmark read sim: --count 1",
    "witnessmark read ADDRESS": "witnessmark read sim: --count 1",
    "witnessmark read --json": "witnessmark read sim: --count 1 --json",
    "witnessmark solve": "witnessmark solve evening.toml --sound",
    "witnessmark layout": "witnessmark layout --width 5.36m --length 7.24m --sound",
    "witnessmark solve FILE": "witnessmark solve evening.toml",
    "witnessmark marks NAME": "witnessmark marks 'the mark'",
    "witnessmark export ROOM FILE": "witnessmark export Attic attic.room",
    "witnessmark import FILE": "witnessmark import other.room",
    "witnessmark sheet": "witnessmark sheet --help",
    "witnessmark sheet layout": "witnessmark sheet layout plan.pdf",
    "witnessmark sheet card": "witnessmark sheet card 'the mark' card.pdf",
    "witnessmark simulate": "witnessmark simulate --help",
}
"""What is run with a simulated meter or with names where the text has placeholders."""

AT = datetime(2026, 5, 17, 19, 30, tzinfo=UTC)
STOOD = Pair(Placement(1450.4, 1899.7, 8.1), Placement(1449.8, 1901.0, 7.9))
FOOTED = Cabinet(262, 391, 940, feet={"rear": TouchPoint(0, 360), "front": TouchPoint(0, 30)})
SETUP = Setup(
    room=Room.rectangular(5360, 7240, 2500),
    cabinets=Pair(FOOTED, FOOTED),
    seat=Seat(4827, 2680, 1020),
    targets=Pair(STOOD.left, STOOD.right),
)
POSES = msgspec.convert(
    {
        "placements": STOOD,
        "covariance": [[0.16 if row == column else 0.0 for column in range(6)] for row in range(6)],
        "tilts": {"left": Tilt(1.1, 0.05), "right": Tilt(1.0, 0.06)},
    },
    Poses,
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the commands run: a store with an evening in it, the README's file, another room's."""
    monkeypatch.setenv("WITNESSMARK_STORE", str(tmp_path / "store.sqlite3"))
    monkeypatch.chdir(tmp_path)
    with Store.open() as store:
        store.save_setup("Attic", SETUP, AT)
        for minute, name in enumerate(("before the cleaning", "the mark")):
            at = AT + timedelta(minutes=minute)
            store.keep("Attic", None, Mark(at, name, SETUP, POSES, ()))
        heard = Impression({Attribute.TIMBRE: 4}, "full")
        store.keep("Attic", None, Trial(AT, Varied.STATION, STOOD, heard))
    (tmp_path / "evening.toml").write_text(ROUNDS[0])
    assert run("export Attic other.room").exit_code == 0
    return tmp_path


def run(command: str) -> Result:
    return CliRunner().invoke(main, shlex.split(command))


def test_what_is_left_out_or_run_otherwise_stands_in_the_texts() -> None:
    assert LINES
    assert INLINE
    assert NOT_RUN.keys() | INSTEAD.keys() <= {*LINES, *INLINE}


@pytest.mark.parametrize(
    "command", sorted({INSTEAD.get(one, one) for one in {*LINES, *INLINE} - NOT_RUN.keys()})
)
def test_every_command_runs(folder: Path, command: str) -> None:
    name, _, arguments = command.partition(" ")
    assert name in (PROGRAM, "witnessmark")
    done = run(arguments)
    assert done.exit_code == 0, done.output
    assert done.stdout


def _options(command: click.Command) -> Iterator[str]:
    for parameter in command.params:
        yield from (option for option in parameter.opts if option.startswith("--"))
    if isinstance(command, click.Group):
        with click.Context(command) as context:
            for name in command.list_commands(context):
                found = command.get_command(context, name)
                assert found is not None
                yield from _options(found)


def test_every_option_that_is_named_is_there() -> None:
    named = {option for code in CODES for option in re.findall(r"(?<!\S)--[a-z-]+", code)}
    assert {"--scale", "--failed", "--request-characteristic"} <= named
    assert named <= {*_options(main), "--help"}


def test_every_command_is_named_in_the_readme_and_in_the_manual() -> None:
    words = {word for code in _codes(README) for word in code.split()}
    assert Commands.table.keys() <= words
    files = TEXTS["files"]
    assert {name for name in Commands.table if f"`witnessmark {name}" in files} == {*Commands.table}


def test_the_readme_is_short() -> None:
    assert len(README) < 7000


def test_each_profile_reads_what_is_said_of_it() -> None:
    text, frame, modbus = (read_profile(one) for one in PROFILES)
    lines = decoder_for(text, "serial:COM3")
    (reading,) = lines.feed(b"OK 1.234 m\r\n", AT)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == 1234
    (fault,) = lines.feed(b"E 0.000 m\r\n", AT)
    assert isinstance(fault, Fault)
    frames = decoder_for(frame, "ble:AA:BB:CC:DD:EE:FF")
    begun = bytes.fromhex("a5 00 00 30 34")  # 0x003034 tenths of a millimetre
    (reading,) = frames.packet(begun + bytes([0xA5 ^ 0x30 ^ 0x34]), AT)
    assert isinstance(reading, Reading)
    assert reading.distance_mm == pytest.approx(1234.0)
    assert frame.bluetooth is not None
    assert frame.bluetooth.request is not None
    assert frame.bluetooth.request.data == b"\x10\x01"
    assert modbus.modbus is not None
    assert modbus.modbus.in_registers((0, 12340)) == pytest.approx(1234.0)


def test_the_shipped_profiles_are_listed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(tmp_path))
    named = set(re.findall(r"`((?:text|modbus)-[a-z-]+)`", TEXTS["teaching"]))
    assert named == {*known_profiles()}


def test_one_file_is_shown_and_it_solves(folder: Path) -> None:
    assert len(ROUNDS) == 1
    done = run("solve evening.toml --json")
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    for side in Side:
        cabinet = told["cabinets"][side]
        assert set(cabinet["verdict"]) == {"side", "setback", "toe_in"}
        assert not any(shot["suspect"] for shot in cabinet["shots"])
        for quantity, true in zip(("side_mm", "setback_mm", "toe_in_deg"), TRUE[side], strict=True):
            assert abs(cabinet[quantity] - true) <= cabinet["expanded"][quantity]
    assert told["symmetry"]["verdict"]


TRUE = {Side.LEFT: (1454.0, 1897.0, 7.6), Side.RIGHT: (1449.0, 1908.0, 8.2)}
"""Where the two of the README's file stand: side, setback, toe-in."""


def test_its_readings_are_what_a_beam_in_that_room_would_measure() -> None:
    """Beams of shapely in the plan, which knows nothing of the observation equations."""
    file = tomllib.loads(ROUNDS[0])
    wide, long = (_mm(file["room"][size]) for size in ("width", "length"))
    walls = Polygon([(0, 0), (wide, 0), (wide, long), (0, long)]).exterior
    half, depth = _mm(file["cabinet"]["width"]) / 2, _mm(file["cabinet"]["depth"])
    assert len(file["shot"]) == 8
    for shot in file["shot"]:
        side, setback, toe_in = TRUE[Side(shot["cabinet"])]
        turn, way = math.radians(toe_in), 1 if shot["cabinet"] == "left" else -1
        forward = (way * math.sin(turn), math.cos(turn))
        inward = (way * math.cos(turn), -math.sin(turn))
        face, edge = shot["point"].split("-")
        i, b = half if edge == "inner" else -half, depth if face == "rear" else 0.0
        x0 = side if way == 1 else wide - side
        x, y = (x0 + inward[0] * i - forward[0] * b, setback + inward[1] * i - forward[1] * b)
        fires = forward if shot["to"] == "front" else inward
        assert shot["held"] == "cabinet"
        beam = LineString([(x, y), (x - 20_000 * fires[0], y - 20_000 * fires[1])])
        true = Point(x, y).distance(beam.intersection(walls))
        assert abs(_mm(shot["reading"]) - true) <= 0.5 + 1e-9, (shot, true)  # the display's step


def _mm(text: str) -> float:
    number, unit = text.split()
    return float(number) * {"mm": 1.0, "m": 1000.0}[unit]
