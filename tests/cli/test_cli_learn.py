"""``witnessmark learn`` as a person runs it, with a simulated meter on a pseudo-terminal."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import os
import queue
import re
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from witnessmark.cli import main
from witnessmark.words.cautions import LASER
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


@pytest.fixture(autouse=True)
def profiles(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of one's own profiles, empty at first."""
    monkeypatch.setenv("WITNESSMARK_PROFILES", str(tmp_path))
    return tmp_path


class Screen(io.StringIO):
    """A standard output that gives each line to ``seen`` as soon as it stands there."""

    def __init__(self, seen: Callable[[str], None]) -> None:
        super().__init__()
        self._seen = seen
        self._line = ""

    def write(self, text: str) -> int:
        *lines, self._line = (self._line + text).split("\n")
        for line in lines:
            self._seen(line)
        return len(text)


def learn(arguments: list[str], keys: int, seen: Callable[[str], None]) -> tuple[int, str]:
    """The exit code and the standard error of the command, run in this process.

    Args:
        arguments: what stands behind the command's name.
        keys: the pipe from which it reads what is typed; closed at the end.
        seen: called with each line as it is printed.
    """
    errors = io.StringIO()
    with (
        os.fdopen(keys) as typed,
        pytest.MonkeyPatch.context() as patch,
        contextlib.redirect_stdout(Screen(seen)),
        contextlib.redirect_stderr(errors),
    ):
        patch.setattr(sys, "stdin", typed)
        with pytest.raises(SystemExit) as ended:
            main(["learn", *arguments], prog_name="witnessmark")
    return int(ended.value.code or 0), errors.getvalue()


class Lesson:
    """A run of the command, and someone who presses the meter's button when told to."""

    def __init__(self, line: SerialLine, send: Callable[[float], bytes]) -> None:
        self.line, self.send = line, send
        self.address = line.address
        self.failed = [frame(PARTS, Moment(1500.0, status=3))]
        self.told: list[str] = []

    def run(self, *options: str, typed: str = "", off_mm: float = 0.0) -> tuple[int, str]:
        """The exit code, and what stood on the standard error."""
        keys, fingers = os.pipe()
        os.write(fingers, typed.encode())
        os.close(fingers)
        return learn([self.address, *options], keys, lambda text: self.see(text, off_mm))

    def run_as_a_program(self, *options: str) -> tuple[int, str]:
        """The same of the command as a process of its own."""
        with subprocess.Popen(
            [sys.executable, "-m", "witnessmark", "learn", self.address, *options],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONUNBUFFERED": "1"},
        ) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            for text in process.stdout:
                self.see(text.rstrip("\n"), 0.0)
            errors = process.stderr.read()
        return process.returncode, errors

    def see(self, text: str, off_mm: float) -> None:
        """Do what a line that was printed asks for."""
        self.told.append(text)
        if asked := re.search(r": measure ([0-9.]+) mm", text):
            self.line.send(self.send(float(asked[1]) + off_mm))
        elif "a failed shot:" in text and self.failed:
            self.line.send(self.failed.pop(0))

    def read(self, name: str, sent: list[bytes]) -> list[dict[str, object]]:
        """What ``witnessmark read`` prints with the profile, without addresses and times."""
        address = f"{self.line.address}?profile={name}"
        with subprocess.Popen(
            [sys.executable, "-m", "witnessmark", "read", address, "--json", "--count", "1"],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        ) as process:
            assert process.stdout is not None
            assert process.stderr is not None
            while "is open" not in process.stderr.readline():
                pass
            for raw in sent:
                self.line.send(raw)
            return [json.loads(text) for text in process.stdout]


def test_a_binary_meter_is_learnt_and_then_read(line: SerialLine) -> None:
    lesson = Lesson(line, binary)
    code, errors = lesson.run_as_a_program(
        "--known", "1.2m", "--known", "1900", "--save", "mine", "--failed"
    )
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


def test_a_good_shot_shown_as_a_failed_one_is_left_out(line: SerialLine) -> None:
    lesson = Lesson(line, binary)
    lesson.failed = [binary(2300.0), *lesson.failed]
    options = ("--known", "1.2m", "--known", "1900", "--known", "2.7m", "--save", "mine")
    code, errors = lesson.run(*options, "--failed")
    assert (code, errors) == (0, f"{LASER}\n")
    assert sum("that shot looks just like a good one" in told for told in lesson.told) == 1
    assert sum("a failed shot:" in told for told in lesson.told) == 2


@pytest.mark.parametrize("is_right", [True, False])
def test_who_sits_at_a_terminal_is_asked_for_what_the_leaflet_says_and_tries_it_out(
    line: SerialLine, profiles: Path, is_right: bool
) -> None:
    lesson = Lesson(line, binary)
    terminal, keys = os.openpty()
    os.write(terminal, b"2 m\n0.05m\n\n99.999m\n")

    def see(text: str) -> None:
        lesson.see(text, 0.0)
        if "on trial" in text:
            line.send(binary(2514.0))
        elif "it reads 2514.0 mm" in text:
            os.write(terminal, b"\n" if is_right else b"no\n")

    known = ["--known", "1.2m", "--known", "1.9m", "--known", "2.7m", "--save", "mine"]
    code, errors = learn([line.address, *known], keys, see)
    os.close(terminal)
    assert "  1200.0 mm reads 1200.0 mm" in lesson.told
    if not is_right:
        assert code == 1
        assert "nothing was saved" in errors
        assert not list(profiles.iterdir())
        return
    assert code == 0
    assert "shortest 2000 mm: you showed 1200 mm, which is less" in errors
    said = "\n".join(lesson.told)
    assert "the longest distance that it measures, such as 40m:" in said
    assert "from 0.05 m on up to 64.51 m, and never 99999 mm" in said
    assert 'fault_values = [\n    "99999 mm",\n]' in (profiles / "mine.toml").read_text()


def test_enter_passes_the_failed_shot_over(line: SerialLine) -> None:
    lesson = Lesson(line, binary)
    lesson.failed = []  # it says nothing when it fails
    options = ("--known", "1.2m", "--known", "1900", "--known", "2.7m", "--save", "mine")
    code, errors = lesson.run(*options, "--failed", typed="\n")
    assert (code, errors) == (0, f"{LASER}\n")
    lesson.told.clear()
    assert lesson.run(*options)[0] == 0
    assert any("reads some failed shot as a distance" in told for told in lesson.told)


class Stream:
    """A meter that sends all the time, and someone who puts it where a line that is printed says.

    Enter is pressed when the meter has been there for a while.
    """

    def __init__(self, line: SerialLine, fingers: int) -> None:
        self.line, self.fingers = line, fingers
        self.places: queue.Queue[float | None] = queue.Queue()
        self.talking = threading.Thread(target=self.talk)

    def see(self, text: str) -> None:
        if asked := re.search(r": measure ([0-9.]+) mm, and press Enter", text):
            self.places.put(float(asked[1]))

    def talk(self) -> None:
        over, counts = threading.Event(), itertools.count()
        while (place := self.places.get()) is not None:
            sent = 0
            is_there = False
            while self.places.empty():
                self.line.send(frame(PARTS, Moment(place, count=next(counts))))
                sent += 1
                over.wait(0.004)
                # pressed once the driver has read past the last of the place before
                if not is_there and sent >= 50 and not self.line.unread:
                    os.write(self.fingers, b"\n")
                    is_there = True


def test_a_meter_that_sends_all_the_time_is_learnt(line: SerialLine, profiles: Path) -> None:
    keys, fingers = os.pipe()
    stream = Stream(line, fingers)
    options = ["--streaming", "--save", "mine"]
    options += ["--known", "1.2m", "--known", "1.9m", "--known", "2.7m"]
    stream.talking.start()
    try:
        code, errors = learn([line.address, *options], keys, stream.see)
    finally:
        stream.places.put(None)
        stream.talking.join()
        os.close(fingers)
    assert (code, errors) == (0, f"{LASER}\n")
    assert 'type = "uint16"' in (profiles / "mine.toml").read_text()


def test_a_text_meter_is_learnt(line: SerialLine, profiles: Path) -> None:
    lesson = Lesson(line, lambda mm: f"#{mm / 304.8:.3f};ok\r".encode())
    code, _ = lesson.run("--known", "4ft", "--known", "6ft", "--known", "9ft", "--save", "feet")
    assert code == 0
    assert 'unit = "ft"' in (profiles / "feet.toml").read_text()


def test_one_more_distance_is_asked_for_and_taken(line: SerialLine, profiles: Path) -> None:
    # 0x0505 and 0x0A0A read the same from either end
    lesson = Lesson(line, binary)
    knowns = ("--known", "1285", "--known", "2570", "--save", "mine")
    assert lesson.run(*knowns, typed="\n")[0] == 3
    assert not list(profiles.iterdir())
    code, _ = lesson.run(*knowns, typed="1300 mm too\n1.29m\n2m\n")
    assert code == 0
    assert any("one more: measure 2000.0 mm" in told for told in lesson.told)


def test_a_meter_that_nobody_can_read_is_not_learnt(line: SerialLine, profiles: Path) -> None:
    lesson = Lesson(line, lambda mm: binary(mm * 1.4))
    code, errors = lesson.run("--known", "1.2m", "--known", "1.9m", "--save", "mine")
    assert code == 1
    assert errors.startswith(f"{LASER}\nError: no decoding explains every reading")
    assert not list(profiles.iterdir())


def test_the_wrong_edge_is_guessed(line: SerialLine) -> None:
    lesson = Lesson(line, binary)
    knowns = ("--known", "1.2m", "--known", "1.9m", "--known", "2.7m")
    code, errors = lesson.run(*knowns, "--save", "mine", off_mm=118.0)
    assert code == 1
    assert "if each distance were 118 mm more; hold the edge" in errors


def test_a_meters_own_error_is_measured_again(line: SerialLine) -> None:
    failures = [b"E31\r\n"]
    lesson = Lesson(
        line, lambda mm: failures.pop() if failures else f"{mm / 1000:.3f}\r\n".encode()
    )
    code, _ = lesson.run("--known", "1.2m", "--known", "1.9m", "--save", "mine")
    assert code == 0
    assert sum("the meter says E31" in told for told in lesson.told) == 1


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--known", "1m", "--save", "x"], "at least 2"),
        (["--known", "1m", "--known", "1.05m", "--save", "x"], "too close"),
        (["--known", "1m", "--known", "2m", "--known", "2m", "--save", "x"], "too close"),
        (["--known", "1m", "--known", "2m", "--save", "../x"], "profile name"),
        (["--known", "1 ell", "--known", "2m", "--save", "x"], "is not a length"),
        (["--known", "1m", "--known", "300m", "--save", "x"], "over 100 m"),
    ],
)
def test_what_cannot_teach_anything_is_refused_at_once(
    line: SerialLine, options: list[str], words: str
) -> None:
    lesson = Lesson(line, binary)
    code, errors = lesson.run(*options)
    assert (code, lesson.told) == (2, [])
    assert words in errors


def test_the_command_that_reads_it_later_leaves_the_unit_to_the_profile(line: SerialLine) -> None:
    lesson = Lesson(line, lambda mm: f"{mm / 1000:.3f}\r\n".encode())
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


def test_a_keyboard_teaches_nothing() -> None:
    known = ["--known", "1m", "--known", "2m"]
    done = CliRunner().invoke(main, ["learn", "typed:", "--save", "x", *known])
    assert done.exit_code == 2
    assert "it cannot be taught" in done.stderr
