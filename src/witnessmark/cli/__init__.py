"""The command line: one table of commands, each imported only when it is used."""

from __future__ import annotations

from types import MappingProxyType

import click

from witnessmark.cli.table import CommandTable


class Commands(CommandTable):
    """Every command there is."""

    package = "witnessmark.cli"
    table = MappingProxyType(
        {
            "demo": ("demo:demo_command", "Open the app on a simulated room and meter."),
            "layout": ("layout:layout_command", "Where to begin: lanes, seat, stations, triangle."),
            "solve": ("solve:solve_command", "Solve a round file: positions, symmetry, nudges."),
            "read": ("read:read_command", "Print what a meter reads, a line a reading."),
            "learn": ("learn:learn_command", "Learn to read a meter from known distances."),
            "meters": ("meters:meters_command", "List the meters that can be reached."),
            "marks": ("marks:marks_command", "List the marks of a room, or show one whole."),
            "trials": ("trials:trials_command", "List the positions that were listened to."),
            "history": ("history:history_command", "All that was measured and kept, by time."),
            "sheet": ("sheet:sheet_group", "Make a sheet to print: plan, card, template, report."),
            "export": ("transfer:export_command", "Write a room with its history to a file."),
            "import": ("transfer:import_command", "Add what a file holds to the store."),
            "simulate": ("simulate:simulate_command", "Answer like a meter in a simulated room."),
            "completion": ("completion:completion_command", "Print a completion script."),
        }
    )


def open_app(*, phone: bool) -> None:
    """Open the terminal app."""
    from witnessmark.app import run_app  # noqa: PLC0415 - textual is slow to import

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
        raise click.UsageError("--phone goes with the app itself, or after demo")
