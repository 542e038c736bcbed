"""What the commands about a room's marks, trials and history have in common."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from textwrap import wrap

import click
import msgspec.json

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.lengths import Units
from witnessmark.model import Mark
from witnessmark.store.history_words import moment_words
from witnessmark.store.records import K, Kept
from witnessmark.store.store import Store

WIDTH = 80
INDENT = " " * 5
"""Before what is told of a record, which hangs from its number."""

room_option = click.option("--room", metavar="ROOM", help="The room [the latest].")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON, mm and UTC.")


@contextlib.contextmanager
def open_room(name: str | None) -> Iterator[tuple[Store, str]]:
    """The open store, and the room of that name, or the latest.

    Raises:
        BadInput: when there is no such room.
        StoreError: when the store cannot be opened or read.
    """
    with Store.open() as store:
        yield store, store.room_named(name)


def mark_called(name: str, marks: list[Kept[Mark]], room: str) -> Kept[Mark]:
    """The mark of that name; of several the last.

    Raises:
        BadInput: when there is none, naming those that there are.
    """
    found = [mark for mark in marks if mark.record.name == name]
    if not found:
        there = ", ".join(dict.fromkeys(f'"{mark.record.name}"' for mark in marks))
        none = f'mark: there is no "{name}" in {room}; there are {there or "none yet"}'
        raise BadInput(printable(none))
    return found[-1]


def echo_json(value: object) -> None:
    """Print an object as JSON."""
    click.echo(msgspec.json.format(msgspec.json.encode(value)))


def echo_told(text: str, first: str = "", then: str = "    ") -> None:
    """Print a text in lines of at most 80 columns, with nothing that upsets a terminal.

    Args:
        text: what is told, as long as it may be.
        first: what stands before it on the first line.
        then: what stands before it on every other line.
    """
    plain = printable(text, longest=len(text) + 1)
    for line in wrap(
        plain, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False
    ):
        click.echo(line)


def echo_title(kept: Kept[K], words: str) -> None:
    """Print the line above a record: its number, when it was kept, and in which round."""
    of = "" if kept.round_id is None else f", round {kept.round_id}"
    echo_told(f"{moment_words(kept.record.at)}{of}: {words}", f"{kept.id:>3}  ", INDENT)


def units_of(store: Store, room: str) -> Units:
    """The units that a room was entered with last; bare millimetres with their tenths."""
    saved = store.setup_of(room)
    return saved.setup.units.finer if saved else Units.TENTH_MM
