"""Which setup a sheet is of: that of a room in the store, or that of a round file."""

from __future__ import annotations

from pathlib import Path

import click

from witnessmark.cli.records import open_room
from witnessmark.cli.roundtext import round_text
from witnessmark.errors import BadInput
from witnessmark.model import Setup
from witnessmark.store.store import Store

from_option = click.option(
    "--from", "source", metavar="FILE", help="A round file instead of a room (- reads it)."
)


def named_setup(room: str | None, source: str | None) -> tuple[str, Setup]:
    """The name of a room and its setup.

    Raises:
        BadInput: when both are named, or there is no such room or file, or no setup of the room.
    """
    if source is None:
        with open_room(room) as (store, name):
            return name, setup_in(store, name)
    if room is not None:
        raise BadInput("--room and --from each choose what the sheet is of; give one of them")
    from witnessmark.store.round_file.read import read_round  # noqa: PLC0415

    read = read_round(round_text(source))
    for note in read.notes:
        click.echo(f"note: {note}", err=True)
    return "this room" if source == "-" else Path(source).stem, read.setup


def setup_in(store: Store, room: str) -> Setup:
    """The setup of a room that was saved last.

    Raises:
        BadInput: when none was.
    """
    saved = store.setup_of(room)
    if saved is None:
        raise BadInput(f'room: "{room}" has no setup in the store; enter the room in the program')
    return saved.setup
