"""The command line: one table of commands, each imported only when it is used."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from importlib import import_module
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar, NoReturn

import click
from click.exceptions import Exit

from witnessmark.cli.echo import echo
from witnessmark.ending import Terminated, ending_in_time, leave, signal_code
from witnessmark.errors import BadInput, TooFewShots, WitnessmarkError

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem


INTERRUPTED = 130
CLOSED_PIPE = 141
"""Exit code of a program whose output nobody reads any more: 128 and the number of SIGPIPE."""
_LONGEST_ERROR = 2000
"""Most signs of an error that are printed: it may hold what was typed, or what a file holds."""


class CommandTable(click.Group):
    """A group over a table that a subclass supplies, and the package of its modules.

    Listing, helping and completing read the table alone. Errors meant for a person end every
    command alike: one line on the standard error and an exit code.
    """

    table: ClassVar[Mapping[str, tuple[str, str]]]
    """Name: (``module:attribute``, what ``--help`` says)."""
    package: ClassVar[str]

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names in the order of the table."""
        return list(self.table)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return the command; None when there is none of that name."""
        if cmd_name not in self.table:
            return None
        module, _, attribute = self.table[cmd_name][0].partition(":")
        command = getattr(import_module(f"{self.package}.{module}"), attribute)
        assert isinstance(command, click.Command)  # noqa: S101 - the table is our own
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands for ``--help``."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in self.table.items()])

    def shell_complete(self, ctx: click.Context, incomplete: str) -> list[CompletionItem]:
        """Return command names that begin so, and the options of the group."""
        from click.shell_completion import CompletionItem  # for shells only

        names = [
            CompletionItem(name, help=words)
            for name, (_, words) in self.table.items()
            if name.startswith(incomplete)
        ]
        return names + click.Command.shell_complete(self, ctx, incomplete)

    def make_context(self, *args: Any, **kwargs: Any) -> click.Context:  # noqa: ANN401 - as click
        """Read what was typed; what was wrong of it is told with its signs written out."""
        with _usage_told_plainly():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context) -> object:
        """Run the command, and end it as a person expects when it fails."""
        with _told_in_one_line(), _usage_told_plainly():
            return super().invoke(ctx)


def _exit_code(error: WitnessmarkError) -> int:
    if isinstance(error, BadInput):
        return 2
    return 3 if isinstance(error, TooFewShots) else 1


def _in_one_line(error: str) -> str:
    from witnessmark.file_errors import printable  # msgspec, only where something went wrong

    return printable(error, _LONGEST_ERROR)


@contextmanager
def _usage_told_plainly() -> Iterator[None]:
    """Have click, which prints by its own way, say of what was typed only what can be printed."""
    try:
        yield
    except click.ClickException as error:
        # the one text that click shows of every error, with a usage line of its own around it
        error.message = _in_one_line(error.message)  # type: ignore[misc]
        raise


@contextmanager
def _told_in_one_line() -> Iterator[None]:
    try:
        yield
        sys.stdout.flush()
    except WitnessmarkError as error:
        echo(f"Error: {_in_one_line(str(error))}", err=True)
        raise Exit(_exit_code(error)) from error
    except (KeyboardInterrupt, click.Abort):
        raise Exit(INTERRUPTED) from None
    except Terminated as end:
        raise Exit(end.exit_code) from None
    except BrokenPipeError:
        _discard_output()
        raise Exit(CLOSED_PIPE) from None
    except click.ClickException as error:
        with suppress(OSError):  # the code is right although nothing can be told
            error.show()
        raise Exit(error.exit_code) from error


@contextmanager
def _whole_output() -> Iterator[None]:
    """Say so where not all that was printed could be written, as on a full disk."""
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:  # it was closed; and no file of ours must take its number
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: PTH123, SIM115
    try:
        try:
            yield
        finally:
            sys.stdout.flush()
    except BrokenPipeError:
        _discard_output()
        raise SystemExit(CLOSED_PIPE) from None
    except OSError as error:
        words = _words(error)
        if (code := _code_before(error)) is None:
            echo(f"Error: {words}", err=True)
        raise SystemExit(code or 1) from None


def _words(error: OSError) -> str:
    """Return what is wrong with the output, or with a file or whatever else it is about."""
    reason = (error.strerror or str(error)).lower()
    try:
        sys.stdout.flush()
    except OSError:
        _discard_output()
        return f"the output cannot be written: {reason}"
    if error.filename is None:
        return reason
    from witnessmark.file_errors import printable  # only where needed

    return f"{printable(str(error.filename))}: {reason}"


def _code_before(error: OSError) -> int | None:
    """Return the exit code of what came before, of which this is only the last consequence."""
    before = error.__context__
    if isinstance(before, SystemExit) and isinstance(before.code, int) and before.code:
        return before.code
    return signal_code()  # as the window was closed


def _discard_output() -> None:
    """Let what was not printed go nowhere, or the interpreter would complain at its end."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class Commands(CommandTable):
    """Every command there is."""

    package = "witnessmark.cli"
    table = MappingProxyType(
        {
            "demo": ("simulate:demo_command", "Open the app on a simulated room and meter."),
            "layout": ("layout:layout_command", "Where to begin: lanes, seat, stations, triangle."),
            "foresee": ("foresee:foresee_command", "What the room does to the bass of the walk."),
            "check": ("check:check_command", "Are left and right alike? A meter tells, no room."),
            "solve": ("solve:solve_command", "Solve a round file: positions, symmetry, nudges."),
            "read": ("read:read_command", "Print a meter's readings, one a line."),
            "learn": ("learn:learn_command", "Learn to read a meter from known distances."),
            "meters": ("read:meters_command", "List the meters that can be reached."),
            "marks": ("records:marks_command", "List the marks of a room, or show one whole."),
            "trials": ("records:trials_command", "List the positions you graded."),
            "history": (
                "records:history_command",
                "Print all measurements and saved records, by time.",
            ),
            "sheet": ("sheet:sheet_group", "Make a sheet to print: plan, card, template, report."),
            "export": ("records:export_command", "Write a room with its history to a file."),
            "import": ("records:import_command", "Add a file's records to the store."),
            "simulate": ("simulate:simulate_command", "Answer like a meter in a simulated room."),
            "manual": ("manual:manual_command", "Print a page of the manual, or its list."),
            "completion": ("manual:completion_command", "Print a completion script."),
        }
    )

    def main(self, *args: Any, **kwargs: Any) -> Any:  # noqa: ANN401 - as click has it
        """Run the program, and end it as a person expects when its output fails."""
        with _whole_output(), ending_in_time():
            return super().main(*args, **kwargs)


def open_app(*, phone: bool) -> None:
    """Open the terminal app."""
    from witnessmark.app import run_app  # textual is slow to import

    run_app(phone=phone)


@click.group(
    cls=Commands,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"]},
)
@click.version_option(package_name="witnessmark", message="witnessmark %(version)s")
@click.option("--phone", is_flag=True, help="Show the live screen on a phone as well.")
@click.pass_context
def main(context: click.Context, phone: bool) -> None:
    """Stand a pair of loudspeakers on their targets with a laser distance meter.

    Without a command the app opens.
    """
    if context.invoked_subcommand is None:
        open_app(phone=phone)
    elif phone:
        raise click.UsageError("--phone works only with the app itself, or after demo")


def program() -> NoReturn:
    """Run the program as a process of its own, which ends whatever a driver left behind."""
    try:
        main()
    except SystemExit as end:
        leave(end.code if isinstance(end.code, int) else int(end.code is not None))
    except BaseException as defect:  # noqa: BLE001 - Python prints it, and would wait after that
        sys.excepthook(type(defect), defect, defect.__traceback__)
        leave(1)
    leave(0)
