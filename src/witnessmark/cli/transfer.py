"""``witnessmark export`` and ``import``: a room with all its history as one file."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

import click

from witnessmark.cli.echo import echo
from witnessmark.cli.output import echo_json, json_option
from witnessmark.cli.sources import open_room
from witnessmark.store.export.transfer import export_room, export_to, import_from, import_room
from witnessmark.store.store import Store

_PLURAL = {"entry": "entries"}


@click.command("export")
@click.argument("room")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path, allow_dash=True))
@json_option
def export_command(room: str, file: Path, *, as_json: bool) -> None:
    """Write ROOM with all its history to FILE, which must not be there yet (- prints it).

    "witnessmark import FILE" adds it to the store of another computer. Readings that were taken
    outside any round go with every room, for nothing tells whose they are.
    """
    prints = str(file) == "-"
    with open_room(room) as (store, name):
        if prints:
            stdout = sys.stdout.buffer
            counts = export_room(store, name, stdout, "standard output")
        else:
            counts = export_to(store, name, file)
    if as_json and not prints:
        echo_json({"room": name, "file": str(file), "written": counts})
    else:
        echo(f"{name}: {_counts_words(counts)} written", err=prints)


@click.command("import")
@click.argument("file", metavar="FILE", type=click.Path(path_type=Path, allow_dash=True))
@json_option
def import_command(file: Path, *, as_json: bool) -> None:
    """Add to the store what FILE holds and the store does not (- reads standard input).

    FILE is what "witnessmark export" wrote. Nothing that is there already is changed. A file that
    is damaged or cut off adds nothing.
    """
    with Store.open() as store:
        if str(file) == "-":
            done = import_room(store, sys.stdin.buffer, "standard input")
        else:
            done = import_from(store, file)
    if as_json:
        echo_json(done)
        return
    echo(f"{done.room}: {_counts_words(done.added) or 'nothing'} added")
    if there := _counts_words(done.there):
        echo(f"skipped, already in the store: {there}")


def _counts_words(counts: Mapping[str, int]) -> str:
    """Say how many there are of each kind."""
    return ", ".join(
        f"{count} {what if count == 1 else _PLURAL.get(what, f'{what}s')}"
        for what, count in counts.items()
        if count
    )
