"""Outputs and inputs that are full, closed or no terminal: one sentence, and the right code."""

import os
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from witnessmark.cli import main
from witnessmark.model import Cabinet, Pair, Reading, Room, Seat, Setup
from witnessmark.store.store import Store

AT = datetime(2026, 5, 17, 19, 30, tzinfo=UTC)
SETUP = Setup(
    room=Room.rectangular(5360, 7240),
    cabinets=Pair(Cabinet(262, 391), Cabinet(262, 391)),
    seat=Seat(4400, 2680),
)
needs_full = pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full (Linux)")


@pytest.fixture
def store_file(tmp_path: Path) -> Path:
    path = tmp_path / "store.sqlite3"
    with Store.open(path) as store:
        round_id = store.start_round(store.save_setup("Attic", SETUP, AT), AT)
        for number in range(400):
            store.append(round_id, Reading(1000.0 + number, AT, "sim:"))
    return path


def shell(store_file: Path, command: str) -> tuple[int, list[str]]:
    """The exit code of a line for the shell, and what it wrote on the standard error."""
    line = command.replace("witnessmark", f"exec {sys.executable} -m witnessmark")
    done = subprocess.run(
        ["sh", "-c", line],
        env=os.environ | {"WITNESSMARK_STORE": str(store_file)},
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stderr.splitlines()


@needs_full
@pytest.mark.parametrize("command", ["history --json", "export Attic -", "--help"])
def test_a_full_output_is_told_in_one_sentence(store_file: Path, command: str) -> None:
    code, said = shell(store_file, f"witnessmark {command} > /dev/full")
    assert code == 1
    (sentence,) = said
    assert "no space left on device" in sentence


def test_a_closed_input_is_told_in_one_sentence(store_file: Path) -> None:
    code, said = shell(store_file, "witnessmark import - <&-")
    assert code == 2
    assert len(said) == 1


def test_a_closed_output_is_no_error(store_file: Path) -> None:
    assert shell(store_file, "witnessmark history --json >&-") == (0, [])


@pytest.mark.parametrize("command", ["witnessmark demo", "witnessmark <&-"])
def test_without_a_terminal_the_app_says_so(store_file: Path, command: str) -> None:
    code, said = shell(store_file, command)
    assert code == 2
    (sentence,) = said
    assert "the app needs a terminal" in sentence


@needs_full
def test_where_nothing_can_be_told_the_code_is_right(store_file: Path) -> None:
    assert shell(store_file, "witnessmark nothing 2> /dev/full")[0] == 2
    assert shell(store_file, "witnessmark solve /nowhere 2> /dev/full")[0] == 2


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (OSError(28, "No space left on device", "/dev/x\x1b"), "/dev/x\\x1b: no space left on"),
        (OSError(24, "Too many open files"), "too many open files"),
    ],
)
def test_a_file_that_fails_anywhere_is_one_sentence(
    monkeypatch: pytest.MonkeyPatch, error: OSError, words: str
) -> None:
    def fail(*_: object) -> None:
        raise error

    monkeypatch.setattr("witnessmark.cli.manual.manual_pages", fail)
    result = CliRunner().invoke(main, ["manual"])
    assert result.exit_code == 1
    assert result.output.startswith(f"Error: {words}")
    assert len(result.output.splitlines()) == 1
