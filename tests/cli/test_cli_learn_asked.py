"""``witnessmark learn`` and then ``read`` with a meter that waits to be asked."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from needs import needs

from witnessmark.cli import main
from witnessmark.meters import listening
from witnessmark.meters.profile_folder import load_profile
from witnessmark.words.cautions import LASER
from witnessmark_simulators.asked import answering
from witnessmark_simulators.binary import (
    Moment,
    constant,
    counter,
    frame,
    status,
    sum8,
    whole_distance,
)
from witnessmark_simulators.bluetooth.line import BluetoothLine
from witnessmark_simulators.bluetooth.meters import (
    FIRE,
    REQUESTS,
    SETTINGS,
    Speech,
    binary_frame,
    simulated_meter,
)
from witnessmark_simulators.line import Line
from witnessmark_simulators.serial_line import SerialLine

pytestmark = pytest.mark.skipif(os.name != "posix", reason="pseudo-terminals are POSIX")
linux = pytest.mark.skipif(sys.platform != "linux", reason="simulated on Linux alone")

PARTS = [constant(b"\xa5"), counter(1, "big"), whole_distance(2, "big", 1.0), status(), sum8()]
KNOWN = ("--known", "1.2m", "--known", "1900", "--save", "mine")
FIRE_IT = f'bytes = "{FIRE.hex()}"'
FAILED = 0.0


def text(mm: float, _count: int) -> list[bytes]:
    """A meter that says first that it has understood."""
    return [b"?\r\n", b"E31\r\n" if mm == FAILED else b"D %.3f\r\n" % (mm / 1000)]


def binary(mm: float, count: int) -> list[bytes]:
    """A meter that repeats its last distance when it fails."""
    failed = mm == FAILED
    return [frame(PARTS, Moment(1900.0 if failed else mm, count=count, status=3 * failed))]


def scrambled(mm: float, _count: int) -> list[bytes]:
    return [b"\xa5" + (round(mm) * 40503 & 0xFFFF).to_bytes(2, "big")]


def on_bluetooth(mm: float, _count: int) -> list[bytes]:
    return [binary_frame(round(mm * 10))]


class Bench:
    """A meter on a line, held for one answer after another where ``places_mm`` says."""

    def __init__(self, line: Line, says: Callable[[float, int], list[bytes]]) -> None:
        self.line, self.says = line, says
        self.places_mm = [1000.0]
        self.count = 0

    def answer(self) -> list[bytes]:
        self.count += 1
        place = self.places_mm.pop(0) if len(self.places_mm) > 1 else self.places_mm[0]
        return self.says(place, self.count)

    def learn(self, *options: str, shown_mm: Sequence[float] = (1200.0, 1900.0)) -> Result:
        """Show these places, one for each Enter."""
        self.places_mm = list(shown_mm)
        typed = "\n" * len(shown_mm)
        return CliRunner().invoke(main, ["learn", self.line.address, *KNOWN, *options], input=typed)

    def read(self, *places_mm: float) -> list[float | str]:
        """The distances and faults that are read by what was learnt, until the last place."""
        self.places_mm = list(places_mm)
        address, count = f"{self.line.address}?profile=mine", sum(mm != FAILED for mm in places_mm)
        done = CliRunner().invoke(main, ["read", address, "--json", "--count", str(count)])
        lines = [json.loads(line) for line in done.stdout.splitlines()]
        return [line.get("distance_mm", line.get("fault")) for line in lines]


@pytest.fixture
def bench(
    request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Bench]:
    """A meter on the line, by the request and with the answers that the test's parameter says."""
    line, question, says = request.param
    for name in ("SETTLE_S", "QUIET_S", "ANSWERED_S", "BEAT_S"):
        monkeypatch.setattr(listening, name, 0.3)
    with line() as plugged_in:
        made = Bench(plugged_in, says)
        for name, value in {**made.line.environment, "WITNESSMARK_PROFILES": tmp_path}.items():
            monkeypatch.setenv(name, str(value))
        with answering(plugged_in, question, made.answer):
            yield made


def of_one_characteristic() -> BluetoothLine:
    return BluetoothLine(simulated_meter(Speech.BINARY))


def of_two_characteristics() -> BluetoothLine:
    return BluetoothLine(simulated_meter(Speech.BINARY, has_settings=True))


@pytest.mark.parametrize("bench", [(SerialLine, b"take\r\n", text)], indirect=True)
def test_a_text_meter_on_a_serial_line(bench: Bench) -> None:
    request = 'text = "take\\r\\n", every = 0.05'
    done = bench.learn("--request", request, "--failed", shown_mm=(1200, 1900, FAILED))
    assert (done.exit_code, done.stderr) == (0, f"{LASER}\n")
    assert 'measures when asked with "take\\r\\n", and every 0.05 s' in done.stdout
    assert bench.read(2514.0, FAILED, 2517.0) == [2514.0, "E31", 2517.0]


@pytest.mark.parametrize("bench", [(SerialLine, b"\x10\x01", binary)], indirect=True)
def test_a_binary_meter_on_a_serial_line(bench: Bench) -> None:
    request = 'bytes = "10 01", every = 0.05'
    done = bench.learn("--request", request, "--failed", shown_mm=(1200, 1900, FAILED))
    assert (done.exit_code, done.stderr) == (0, f"{LASER}\n")
    assert load_profile("mine").frame.status.ok == (b"\0",)
    assert bench.read(2514.0, FAILED, 2517.0) == [2514.0, "the meter could not measure", 2517.0]


@linux
@needs("message bus")
@pytest.mark.parametrize("bench", [(of_one_characteristic, FIRE, on_bluetooth)], indirect=True)
def test_a_meter_on_bluetooth_with_one_characteristic_to_write_to(bench: Bench) -> None:
    done = bench.learn("--request", FIRE_IT, "--known", "7.4m", shown_mm=(1200, 1900, 7400))
    assert (done.exit_code, done.stderr) == (0, f"{LASER}\n")
    table = load_profile("mine").bluetooth
    assert (table.request.data, table.request_characteristic) == (FIRE, REQUESTS)
    assert bench.read(2514.0) == [2514.0]


@linux
@needs("message bus")
@pytest.mark.parametrize("bench", [(of_two_characteristics, FIRE, on_bluetooth)], indirect=True)
def test_of_several_characteristics_to_write_to_one_has_to_be_named(
    bench: Bench, tmp_path: Path
) -> None:
    for named, words in (
        ([], "say which characteristic takes requests"),
        (["--request-characteristic", "2ac5"], "00002ac5-0000-1000-8000-00805f9b34fb cannot be"),
    ):
        done = bench.learn("--request", FIRE_IT, *named)
        assert (done.exit_code, done.stdout) == (2, "")
        (error,) = done.stderr.splitlines()
        assert words in error
        assert error.endswith(f"these can be written: {REQUESTS}, {SETTINGS}")
        assert list(tmp_path.iterdir()) == []
    known = ("--known", "7.4m", "--request-characteristic", REQUESTS)
    done = bench.learn("--request", FIRE_IT, *known, shown_mm=(1200, 1900, 7400))
    assert (done.exit_code, done.stderr) == (0, f"{LASER}\n")
    assert bench.read(2514.0) == [2514.0]


@pytest.mark.parametrize("bench", [(SerialLine, b"D", scrambled)], indirect=True)
def test_what_cannot_be_explained_is_refused_of_an_asked_meter_too(
    bench: Bench, tmp_path: Path
) -> None:
    done = bench.learn("--request", "D")
    assert done.stderr.startswith(f"{LASER}\nError: no decoding explains every reading")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("bench", [(SerialLine, b"D", text)], indirect=True)
def test_a_meter_that_does_not_answer_is_told_and_asked_again(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(listening, "ANSWER_S", 0.15)
    done = bench.learn("--request", "10 01")
    assert done.stdout.count("no answer within 0.15 s; check the request") == 2
    doubt, caution, error = done.stderr.splitlines()
    assert caution == LASER
    assert 'bytes are written bytes = "10 01"' in doubt
    assert error == (
        "Error: the keyboard is closed, so nobody can press Enter to make the meter measure"
    )
    assert done.exit_code == 1


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--request", "D\\q"], "write it as in a profile"),
        (["--request", 'bytes = "8"'], "is not bytes in hexadecimal"),
        (["--request", "D", "--request-characteristic", "ffe"], "is not a UUID"),
        (["--request-characteristic", "ffe1"], "say with --request what is written there"),
    ],
)
def test_a_request_that_cannot_be_is_refused_at_once(options: list[str], words: str) -> None:
    done = CliRunner().invoke(main, ["learn", "serial:/dev/none", *KNOWN, *options])
    assert (done.exit_code, done.stdout) == (2, "")
    (error,) = done.stderr.splitlines()
    assert words in error


def test_a_characteristic_on_a_serial_line_is_refused_before_any_shot() -> None:
    options = ("--request", "D", "--request-characteristic", "ffe1")
    with SerialLine() as line:
        done = CliRunner().invoke(main, ["learn", line.address, *KNOWN, *options])
    assert (done.exit_code, done.stdout) == (2, "")
    assert "a serial line has no characteristics; leave 0000ffe1" in done.stderr


def test_enter_is_pressed_for_each_shot_and_then_for_each_reading(tmp_path: Path) -> None:
    def running(*arguments: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [sys.executable, "-m", "witnessmark", *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ | {"WITNESSMARK_PROFILES": str(tmp_path), "PYTHONUNBUFFERED": "1"},
        )

    def ask(process: subprocess.Popen[str], place_mm: float) -> None:
        bench.places_mm = [place_mm]
        process.stdin.write("\n")
        process.stdin.flush()

    with SerialLine() as line:
        bench = Bench(line, text)
        with answering(line, b"D", bench.answer):
            with running("learn", line.address, *KNOWN, "--request", "D") as learning:
                for told in learning.stdout:
                    if asked := re.search(
                        r": measure ([0-9.]+) mm; press Enter to make the meter measure", told
                    ):
                        ask(learning, float(asked[1]))
            assert (learning.returncode, bench.count) == (0, 2)
            address = f"{line.address}?profile=mine"
            with running("read", address, "--json", "--count", "3") as reading:
                for place_mm in (1900.0, 2514.0, 3105.0):
                    assert json.loads(reading.stdout.readline())["distance_mm"] == place_mm
                    ask(reading, {1900.0: 2514.0}.get(place_mm, 3105.0))
