"""``witnessmark export``: a room with all its history as one file."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

import click

from witnessmark.cli.records import echo_json, json_option, open_room
from witnessmark.store.export.transfer import export_room, export_to


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
        click.echo(f"{name}: {counts_words(counts)} written", err=prints)


def counts_words(counts: Mapping[str, int]) -> str:
    """How many of each kind, in words."""
    return ", ".join(
        f"{count} {what if count == 1 else _PLURAL.get(what, f'{what}s')}"
        for what, count in counts.items()
        if count
    )


_PLURAL = {"entry": "entries"}
