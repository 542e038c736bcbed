"""``witnessmark import``: what an exported file holds, added to the store."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from witnessmark.cli.export_room import counts_words
from witnessmark.cli.records import echo_json, json_option
from witnessmark.store.export.transfer import import_from, import_room
from witnessmark.store.store import Store


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
    click.echo(f"{done.room}: {counts_words(done.added) or 'nothing'} added")
    if there := counts_words(done.there):
        click.echo(f"passed over, as the store has them already: {there}")
