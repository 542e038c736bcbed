"""Every example in the README runs: its commands without a person or a meter, and its file."""

from __future__ import annotations

import json
import math
import re
import shlex
import tomllib
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner, Result
from shapely import LineString, Point, Polygon

from witnessmark.cli import main
from witnessmark.model import (
    Attribute,
    Cabinet,
    Impression,
    Mark,
    Pair,
    Placement,
    Poses,
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
BLOCKS = re.findall(r"^```(\w*)\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
ROUNDS = [text for language, text in BLOCKS if language == "toml"]
LINES = [
    line.partition("  #")[0].strip()
    for language, text in BLOCKS
    if language == "sh"
    for line in text.splitlines()
]
INLINE = re.findall(r"`(witnessmark [^`]+)`", README)
PROGRAM = ".venv/bin/witnessmark"

NOT_RUN = {
    f"python3 -m venv .venv && .venv/bin/pip install . && {PROGRAM} demo": "a person plays the "
    "demo; tests/app has simulated hands do it",
    'python3 -m venv .venv && .venv/bin/pip install ".[test]" && .venv/bin/python -m pytest': "it "
    "is this very run",
    PROGRAM: "a person works on its screens; tests/app does",
    f"{PROGRAM} meters": "it asks the computer's own radio; tests/bluetooth has a stand-in for it",
    f"{PROGRAM} learn ble:AA:BB:CC:DD:EE:FF --known 1.2m --known 1.9m --save mine": "it needs a "
    "person at a meter; tests/cli/test_cli_learn.py plays both",
    "witnessmark --phone": "a person scans its code; tests/phone has a browser do it",
    "witnessmark demo --phone": "likewise",
    "witnessmark learn ADDRESS": "it needs a person at a meter",
}
"""What needs a person or a meter, and why."""
INSTEAD = {
    f"{PROGRAM} read 'serial:/dev/ttyUSB0?unit=m'": "witnessmark read sim: --count 2",
    "witnessmark read --json": "witnessmark read sim: --count 2 --json",
    "witnessmark solve": "witnessmark solve evening.toml --sound",
    "witnessmark layout": "witnessmark layout --width 5.36m --length 7.24m --sound",
    "witnessmark solve FILE": "witnessmark solve evening.toml",
    "witnessmark marks NAME": "witnessmark marks 'the mark'",
    "witnessmark export ROOM FILE": "witnessmark export Attic attic.room",
    "witnessmark import FILE": "witnessmark import other.room",
}
"""What is run with a simulated meter or with names where the README has placeholders."""

AT = datetime(2026, 5, 17, 19, 30, tzinfo=UTC)
STOOD = Pair(Placement(1450.4, 1899.7, 8.1), Placement(1449.8, 1901.0, 7.9))
FOOTED = Cabinet(262, 391, 940, feet={"rear": TouchPoint(0, 360), "front": TouchPoint(0, 30)})
SETUP = Setup(
    room=Room.rectangular(5360, 7240),
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


def test_what_is_left_out_or_run_otherwise_stands_in_the_readme() -> None:
    assert LINES
    assert INLINE
    assert NOT_RUN.keys() | INSTEAD.keys() <= {*LINES, *INLINE}


@pytest.mark.parametrize("command", sorted({*LINES, *INLINE} - NOT_RUN.keys()))
def test_every_command_runs(folder: Path, command: str) -> None:
    name, _, arguments = INSTEAD.get(command, command).partition(" ")
    assert name in (PROGRAM, "witnessmark")
    done = run(arguments)
    assert done.exit_code == 0, done.output
    assert done.stdout


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
