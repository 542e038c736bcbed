"""What a command is about: a room in the store, a mark of it, or a round file."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from witnessmark.cli.echo import echo
from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.files import open_plain
from witnessmark.lengths import Units
from witnessmark.model import Mark, Setup

if TYPE_CHECKING:
    from witnessmark.store.records import Kept
    from witnessmark.store.store import Store

_LARGEST_BYTES = 1_000_000

room_option = click.option("--room", metavar="ROOM", help="The room [the latest].")
from_option = click.option(
    "--from", "source", metavar="FILE", help="A round file instead of a room (- reads it)."
)


@contextlib.contextmanager
def open_store() -> Iterator[Store]:
    """Open the store, and note in the end what could not be read in it.

    Raises:
        StoreError: when the store cannot be opened or read.
    """
    from witnessmark.store.store import Store  # not for a round file

    with Store.open() as store:
        try:
            yield store
        finally:
            if words := store.passed_over:
                echo(f"note: {words}", err=True)


@contextlib.contextmanager
def open_room(name: str | None) -> Iterator[tuple[Store, str]]:
    """Open the store, and find the room of that name, or the latest.

    Raises:
        BadInput: when there is no such room.
        StoreError: when the store cannot be opened or read.
    """
    with open_store() as store:
        yield store, store.room_named(name)


def mark_called(name: str, marks: list[Kept[Mark]], room: str) -> Kept[Mark]:
    """Find the mark of that name; of several the last.

    Raises:
        BadInput: when there is none, naming those that there are.
    """
    found = [mark for mark in marks if mark.record.name == name]
    if not found:
        there = ", ".join(dict.fromkeys(f'"{mark.record.name}"' for mark in marks))
        none = f'mark: there is no "{name}" in {room}; there are {there or "none yet"}'
        raise BadInput(printable(none))
    return found[-1]


def units_of(store: Store, room: str) -> Units:
    """Return the units that a room was entered with last, in their finer step."""
    saved = store.setup_of(room)
    return saved.setup.units.finer if saved else Units.TENTH_MM


def named_setup(room: str | None, source: str | None) -> tuple[str, Setup]:
    """Find the name of a room and its setup.

    Raises:
        BadInput: when both are named, or there is no such room or file, or no setup of the room.
    """
    if source is None:
        with open_room(room) as (store, name):
            return name, setup_in(store, name)
    if room is not None:
        raise BadInput("--room and --from both choose what is shown; give one of them")
    from witnessmark.store.round_file.read import read_round

    read = read_round(round_text(source))
    for note in read.notes:
        echo(f"note: {note}", err=True)
    return "this room" if source == "-" else Path(source).stem, read.setup


def setup_in(store: Store, room: str) -> Setup:
    """Find the setup of a room that was saved last.

    Raises:
        BadInput: when none was.
    """
    saved = store.setup_of(room)
    if saved is None:
        raise BadInput(f'room: "{room}" has no setup in the store; enter the room in the program')
    return saved.setup


def round_text(file: str) -> str:
    """Read the text of a round file; ``-`` is the standard input.

    Raises:
        BadInput: when it cannot be read, is too large, or is no text.
    """
    try:
        with (
            contextlib.nullcontext(sys.stdin.buffer) if file == "-" else open_plain(Path(file)) as f
        ):
            raw: bytes = f.read(_LARGEST_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise BadInput(f"{file}: {reason}; give the path of a round file") from None
    if len(raw) > _LARGEST_BYTES:
        raise BadInput(f"{file}: over {_LARGEST_BYTES} bytes; a round file is a few pages of text")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadInput(f"{file}: not a text file in UTF-8; a round file is TOML or JSON") from None
