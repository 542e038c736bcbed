"""``witnessmark learn`` as a person runs it, with a simulated meter on a pseudo-terminal."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from witnessmark.cautions import LASER
from witnessmark.cli import main
from witnessmark_simulators.binary import (
    Moment,
    charge,
    constant,
    counter,
    frame,
    status,
    sum8,
    whole_distance,
)
from witnessmark_simulators.serial_line import SerialLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")

PARTS = [
    constant(b"\xa5"),
    counter(1, "big"),
    whole_distance(2, "big", 1.0),
    status(),
    charge(),
    sum8(),
]


def binary(mm: float) -> bytes:
    return frame(PARTS, Moment(mm, count=int(mm) // 7))


@pytest.fixture
def line() -> Iterator[SerialLine]:
    with SerialLine() as line:
        yield line


class Lesson:
    """A run of the command, and someone who presses the meter's button when told to."""

    def __init__(self, line: SerialLine, folder: Path, send: Callable[[float], bytes]) -> None:
        self.line, self.folder, self.send = line, folder, send
        self.address = line.address
        self.failed = [frame(PARTS, Moment(1500.0, status=3))]
        self.told: list[str] = []

    def run(self, *options: str, typed: str = "", off_mm: float = 0.0) -> tuple[int, str]:
        """The exit code, and what stood on the standard error."""
        command = [sys.executable, "-m", "witnessmark", "learn", self.address, *options]
        environment = os.environ | {"WITNESSMARK_PROFILES": str(self.folder)}
        with subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment | {"PYTHONUNBUFFERED": "1"},
        ) as process:
            assert process.stdin is not None
            assert process.stdout is not None
            assert process.stderr is not None
            process.stdin.write(typed)
            process.stdin.close()
            for text in process.stdout:
                self.told.append(text.rstrip())
                if asked := re.search(r": measure ([0-9.]+) mm", text):
                    self.line.send(self.send(float(asked[1]) + off_mm))
                elif "that fails" in text and self.failed:
                    self.line.send(self.failed.pop(0))
            errors = process.stderr.read()
        return process.returncode, errors

    def read(self, name: str, sent: list[bytes]) -> list[dict[str, object]]:
        """What ``witnessmark read`` prints with the profile, without addresses and times."""
        address = f"{self.line.address}?profile={name}"
        with subprocess.Popen(
            [sys.executable, "-m", "witnessmark", "read", address, "--json", "--count", "1"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"WITNESSMARK_PROFILES": str(self.folder)},
        ) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            while "is open" not in process.stderr.readline():
                pass
            for raw in sent:
                self.line.send(raw)
            return [json.loads(text) for text in process.stdout]


def test_a_binary_meter_is_learnt_and_then_read(line: SerialLine, tmp_path: Path) -> None:
    lesson = Lesson(line, tmp_path, binary)
    code, errors = lesson.run("--known", "1.2m", "--known", "1900", "--save", "mine", "--failed")
    assert (code, errors) == (0, f"{LASER}\n")
    said = "\n".join(lesson.told)
    assert "a whole number of 2 bytes in mm" in said
    assert "sum8" in said
    assert f'witnessmark read "{line.address}?profile=mine"' in said
    printed = lesson.read("mine", [frame(PARTS, Moment(2514.0, status=4)), binary(2514.0)])
    assert [one.get("fault", one.get("distance_mm")) for one in printed] == [
        "the meter's status is 04",
        2514.0,
    ]


def test_a_good_shot_shown_as_a_failed_one_is_left_out(line: SerialLine, tmp_path: Path) -> None:
    lesson = Lesson(line, tmp_path, binary)
    lesson.failed = [binary(2300.0), *lesson.failed]
    options = ("--known", "1.2m", "--known", "1900", "--known", "2.7m", "--save", "mine")
    code, errors = lesson.run(*options, "--failed")
    assert (code, errors) == (0, f"{LASER}\n")
    assert sum("nothing tells that shot from a good one" in told for told in lesson.told) == 1
    assert sum("that fails" in told for told in lesson.told) == 2


def test_enter_passes_the_failed_shot_over(line: SerialLine, tmp_path: Path) -> None:
    lesson = Lesson(line, tmp_path, binary)
    lesson.failed = []  # it says nothing when it fails
    options = ("--known", "1.2m", "--known", "1900", "--known", "2.7m", "--save", "mine")
    code, errors = lesson.run(*options, "--failed", typed="\n")
    assert (code, errors) == (0, f"{LASER}\n")
    lesson.told.clear()
    assert lesson.run(*options)[0] == 0
    assert any("takes some failed shot for a distance" in told for told in lesson.told)


def test_a_meter_that_sends_all_the_time_is_learnt(line: SerialLine, tmp_path: Path) -> None:
    over, distance = threading.Event(), [0.0]

    def stream() -> None:
        while not over.wait(0.004):
            line.send(binary(distance[0]))

    talking = threading.Thread(target=stream)
    talking.start()
    try:
        code = streamed(line, tmp_path, distance)
    finally:
        over.set()
        talking.join()
    assert code == 0
    assert 'type = "uint16"' in (tmp_path / "mine.toml").read_text()


def streamed(line: SerialLine, folder: Path, distance: list[float]) -> int:
    options = ["--streaming", "--save", "mine"]
    options += ["--known", "1.2m", "--known", "1.9m", "--known", "2.7m"]
    with subprocess.Popen(
        [sys.executable, "-m", "witnessmark", "learn", line.address, *options],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=os.environ | {"WITNESSMARK_PROFILES": str(folder), "PYTHONUNBUFFERED": "1"},
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        for text in process.stdout:
            if asked := re.search(r": measure ([0-9.]+) mm, and press Enter", text):
                distance[0] = float(asked[1])
                time.sleep(0.4)  # the person puts the meter there first
                process.stdin.write("\n")
                process.stdin.flush()
    return process.returncode


def test_a_text_meter_is_learnt(line: SerialLine, tmp_path: Path) -> None:
    lesson = Lesson(line, tmp_path, lambda mm: f"#{mm / 304.8:.3f};ok\r".encode())
    code, _ = lesson.run("--known", "4ft", "--known", "6ft", "--known", "9ft", "--save", "feet")
    assert code == 0
    assert 'unit = "ft"' in (tmp_path / "feet.toml").read_text()


def test_one_more_distance_is_asked_for_and_taken(line: SerialLine, tmp_path: Path) -> None:
    # 0x0505 and 0x0A0A read the same from either end
    lesson = Lesson(line, tmp_path, binary)
    knowns = ("--known", "1285", "--known", "2570", "--save", "mine")
    assert lesson.run(*knowns, typed="\n")[0] == 3
    assert not list(tmp_path.iterdir())
    code, _ = lesson.run(*knowns, typed="1300 mm too\n1.29m\n2m\n")
    assert code == 0
    assert any("one more: measure 2000.0 mm" in told for told in lesson.told)


def test_a_meter_that_nobody_can_read_is_not_learnt(line: SerialLine, tmp_path: Path) -> None:
    lesson = Lesson(line, tmp_path, lambda mm: binary(mm * 1.4))
    code, errors = lesson.run("--known", "1.2m", "--known", "1.9m", "--save", "mine")
    assert code == 1
    assert errors.startswith(f"{LASER}\nError: no decoding explains every reading")
    assert not list(tmp_path.iterdir())


def test_the_wrong_edge_is_guessed(line: SerialLine, tmp_path: Path) -> None:
    lesson = Lesson(line, tmp_path, binary)
    knowns = ("--known", "1.2m", "--known", "1.9m", "--known", "2.7m")
    code, errors = lesson.run(*knowns, "--save", "mine", off_mm=118.0)
    assert code == 1
    assert "if each distance were 118 mm more; measure from the edge" in errors


def test_a_meters_own_error_is_measured_again(line: SerialLine, tmp_path: Path) -> None:
    failures = [b"E31\r\n"]
    lesson = Lesson(
        line, tmp_path, lambda mm: failures.pop() if failures else f"{mm / 1000:.3f}\r\n".encode()
    )
    code, _ = lesson.run("--known", "1.2m", "--known", "1.9m", "--save", "mine")
    assert code == 0
    assert sum("the meter says E31" in told for told in lesson.told) == 1


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--known", "1m", "--save", "x"], "at least 2"),
        (["--known", "1m", "--known", "1.05m", "--save", "x"], "too much alike"),
        (["--known", "1m", "--known", "2m", "--known", "2m", "--save", "x"], "too much alike"),
        (["--known", "1m", "--known", "2m", "--save", "../x"], "profile name"),
        (["--known", "1 ell", "--known", "2m", "--save", "x"], "is not a length"),
        (["--known", "1m", "--known", "300m", "--save", "x"], "over 100 m"),
    ],
)
def test_what_cannot_teach_anything_is_refused_at_once(
    line: SerialLine, tmp_path: Path, options: list[str], words: str
) -> None:
    lesson = Lesson(line, tmp_path, binary)
    code, errors = lesson.run(*options)
    assert (code, lesson.told) == (2, [])
    assert words in errors


def test_the_command_that_reads_it_later_leaves_the_unit_to_the_profile(
    line: SerialLine, tmp_path: Path
) -> None:
    lesson = Lesson(line, tmp_path, lambda mm: f"{mm / 1000:.3f}\r\n".encode())
    lesson.address += "?unit=ft&baud=19200"
    code, _ = lesson.run("--known", "1.2m", "--known", "1.9m", "--save", "mine")
    assert code == 0
    assert lesson.told[-1].endswith(f'read "{line.address}?baud=19200&profile=mine"')


def test_an_address_with_a_profile_is_refused_whether_there_is_one_or_not() -> None:
    for name in ("text-metres", "never-seen"):
        arguments = ["learn", f"serial:/dev/none?profile={name}", "--save", "x"]
        done = CliRunner().invoke(main, [*arguments, "--known", "1m", "--known", "2m"])
        assert done.exit_code == 2
        assert "leave profile out to learn one" in done.stderr


def test_a_keyboard_teaches_nothing(tmp_path: Path) -> None:
    known = ["--known", "1m", "--known", "2m"]
    done = subprocess.run(
        [sys.executable, "-m", "witnessmark", "learn", "typed:", "--save", "x", *known],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"WITNESSMARK_PROFILES": str(tmp_path)},
    )
    assert done.returncode == 2
    assert "there is nothing to learn here" in done.stderr
