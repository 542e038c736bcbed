"""The table of commands, how errors end a command, and what starting costs."""

import json
import subprocess
import sys
from collections.abc import Callable

import click
import pytest
from click.testing import CliRunner

import witnessmark.cli
from witnessmark.cli import main
from witnessmark.errors import BadInput, LengthError, TooFewShots
from witnessmark.meters.port import MeterUnreachable

HEAVY = {"numpy", "textual", "serial", "bleak", "asyncio", "sqlite3"}


def _modules_after(*arguments: str) -> set[str]:
    code = (
        "import sys, json; from witnessmark.cli import main\n"
        "try: main(sys.argv[1:])\n"
        "except SystemExit: print('\\n' + json.dumps(list(sys.modules)))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True
    )
    return set(json.loads(run.stdout.splitlines()[-1]))


def _raising(error: BaseException) -> Callable[[], None]:
    def fail(**_: object) -> None:
        raise error

    return fail


@pytest.mark.parametrize("name", witnessmark.cli.Commands.table)
def test_every_command_of_the_table_is_there_and_helps(name: str) -> None:
    command = main.get_command(click.Context(main), name)
    assert command is not None
    assert command.name == name
    run = CliRunner().invoke(main, [name, "-h"])
    assert run.exit_code == 0
    assert run.output.startswith("Usage:")


def test_help_lists_every_command_without_importing_any() -> None:
    run = CliRunner().invoke(main, ["--help"])
    assert run.exit_code == 0
    listed = {line.split()[0] for line in run.output.splitlines() if line.startswith("  ")}
    assert set(witnessmark.cli.Commands.table) <= listed
    loaded = _modules_after("--help")
    assert not loaded & HEAVY
    assert not {name for name in loaded if name.startswith("witnessmark.layout")}


def test_layout_loads_neither_numpy_nor_textual() -> None:
    loaded = _modules_after("layout", "--width", "5m", "--length", "6m", "--json")
    assert "witnessmark.layout" in loaded
    assert not loaded & HEAVY


def test_version() -> None:
    run = CliRunner().invoke(main, ["--version"])
    assert run.output.startswith("witnessmark 0.")


def test_an_unknown_command_is_refused() -> None:
    run = CliRunner().invoke(main, ["dance"])
    assert run.exit_code == 2
    assert "No such command 'dance'" in run.stderr


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (BadInput("room.width: it is missing"), 2),
        (LengthError("no"), 2),
        (TooFewShots("left: one more"), 3),
        (MeterUnreachable("COM3: no such port"), 1),
    ],
)
def test_errors_for_a_person_are_one_line_and_a_code(
    monkeypatch: pytest.MonkeyPatch, error: Exception, code: int
) -> None:
    monkeypatch.setattr(witnessmark.cli, "open_app", _raising(error))
    run = CliRunner().invoke(main, [])
    assert (run.exit_code, run.stdout, run.stderr) == (code, "", f"Error: {error}\n")


@pytest.mark.parametrize("error", [KeyboardInterrupt(), click.Abort()])
def test_an_interrupt_is_quiet(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    monkeypatch.setattr(witnessmark.cli, "open_app", _raising(error))
    run = CliRunner().invoke(main, [])
    assert (run.exit_code, run.output) == (130, "")


def test_our_own_mistakes_are_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(witnessmark.cli, "open_app", _raising(ZeroDivisionError()))
    run = CliRunner().invoke(main, [])
    assert isinstance(run.exception, ZeroDivisionError)


@pytest.mark.skipif(sys.platform == "win32", reason="pipes break otherwise there")
def test_a_broken_pipe_is_quiet() -> None:
    command = [sys.executable, "-m", "witnessmark", "layout", "--width", "5m", "--length", "6m"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        assert run.stdout is not None
        assert run.stderr is not None
        run.stdout.close()
        assert run.stderr.read() == b""


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_prints_a_script(shell: str) -> None:
    run = CliRunner().invoke(main, ["completion", shell])
    assert run.exit_code == 0
    assert "_WITNESSMARK_COMPLETE" in run.stdout


def _completed(words: str) -> list[str]:
    run = CliRunner().invoke(
        main,
        prog_name="witnessmark",
        env={
            "COMP_WORDS": words,
            "COMP_CWORD": str(len(words.split(" ")) - 1),
            "_WITNESSMARK_COMPLETE": "bash_complete",
        },
    )
    return run.stdout.split()


def test_a_shell_is_told_commands_and_options() -> None:
    assert _completed("witnessmark sol") == ["plain,solve"]
    assert _completed("witnessmark --v") == ["plain,--version"]
    assert _completed("witnessmark layout --cab") == [
        "plain,--cabinet-width",
        "plain,--cabinet-depth",
    ]
