"""Commands for records of a room: ``marks``, ``trials``, ``history``, ``export`` and ``import``."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Mapping
from datetime import datetime
from pathlib import Path

import click

from witnessmark.cli.echo import echo
from witnessmark.cli.output import echo_blocks, echo_json, json_option
from witnessmark.cli.sources import mark_called, open_room, open_store, room_option, units_of
from witnessmark.cli.types import COUNT, SINCE, UNTIL
from witnessmark.errors import BadInput
from witnessmark.layout.footprint import pair_tape_points
from witnessmark.lengths import Units
from witnessmark.listening.judging import struck_keys
from witnessmark.model import Mark, Preference, Struck, Trial
from witnessmark.report.history import csv_rows, history_blocks, trials_blocks
from witnessmark.report.mark import mark_list, whole_mark
from witnessmark.sentences import json_visible
from witnessmark.store.export.transfer import export_room, export_to, import_from, import_room
from witnessmark.store.history import (
    PAGE_ITEMS,
    Item,
    Wanted,
    history,
    history_page,
    to_json_line,
)
from witnessmark.store.records import KINDS
from witnessmark.store.store import Store

_KIND = click.Choice([kind.name for kind in KINDS])
_PLURAL = {"entry": "entries"}


@click.command("marks")
@click.argument("name", metavar="NAME", required=False)
@room_option
@json_option
def marks_command(name: str | None, room: str | None, *, as_json: bool) -> None:
    """List the marks of a room, or show the one called NAME whole.

    A mark that is shown whole comes with its shots, its targets, and how far each corner of the
    cabinets is from the walls. Of several of one name the last is shown.

    With --json one object: "room" and "marks", or the mark with its "corners" in mm.
    """
    with open_room(room) as (store, room_name):
        marks = store.kept(Mark, room_name)
    if name is None:
        if as_json:
            echo_json({"room": room_name, "marks": marks})
        else:
            echo_blocks(mark_list(marks, room_name))
        return
    mark = mark_called(name, marks, room_name)
    if as_json:
        corners = pair_tape_points(mark.record.setup, mark.record.poses.placements)
        echo_json({"mark": mark, "corners": corners})
    else:
        echo_blocks(whole_mark(mark))


@click.command("trials")
@room_option
@json_option
def trials_command(room: str | None, *, as_json: bool) -> None:
    """List the positions you graded, and which of them you preferred.

    With --json one object: "room", "trials", "preferences" and, where there are any, "struck",
    these two by the trials' keys.
    """
    with open_room(room) as (store, name):
        trials, preferences = store.kept(Trial, name), store.kept(Preference, name)
        struck = struck_keys(kept.record for kept in store.kept(Struck, name))
        units = units_of(store, name)
    if as_json:
        told = {"room": name, "trials": trials, "preferences": preferences}
        echo_json(told | ({"struck": sorted(struck)} if struck else {}))
    else:
        echo_blocks(trials_blocks(trials, preferences, name, units, struck))


@click.command("history")
@room_option
@click.option("--all", "everything", is_flag=True, help=("Every room, and items outside any room."))
@click.option("--round", "round_id", type=COUNT, help="Only this round.")
@click.option("--kind", "kinds", type=_KIND, multiple=True, help="Only this kind.")
@click.option("--since", type=SINCE, help="From this date or time on, UTC.")
@click.option("--until", type=UNTIL, help="Up to this time, or to the end of this date, UTC.")
@click.option("--page", type=COUNT, help=f"One page of {PAGE_ITEMS} items.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV for a spreadsheet.")
@click.option(
    "--json", "as_json", is_flag=True, help=("Print one line of JSON an item, mm and UTC.")
)
def history_command(
    room: str | None,
    everything: bool,
    round_id: int | None,
    kinds: tuple[str, ...],
    since: datetime | None,
    until: datetime | None,
    page: int | None,
    as_csv: bool,
    as_json: bool,
) -> None:
    """Print all that was measured, decided and kept in a room, the earliest first.

    Readings that were taken outside any round, as by check and read, or in the check of a meter,
    are of no room: --all shows them.
    """
    if everything and room is not None:
        raise BadInput("--all shows every room; leave --room out")
    if as_csv and as_json:
        raise BadInput("--csv and --json both choose the output; give one of them")
    with open_store() as store:
        # there may be readings outside any room before the first one is saved
        has_no_room = everything and not store.rooms() and store.entries(None)
        name = None if has_no_room else store.room_named(room)
        wanted = Wanted(None if everything else name, round_id, kinds, since, until)
        numbers = {trial.key: trial.id for trial in store.kept(Trial)}
        items: Iterable[Item] = history(store, wanted)
        if page is not None:
            shown = history_page(store, wanted, page)
            items = shown.items
            echo(f"page {page} of {shown.pages}, {shown.total} items in all", err=True)
        if as_csv:
            _echo_bytes(csv_rows(items, numbers))
        elif as_json:
            _echo_bytes(json_visible(f"{to_json_line(item)}\n") for item in items)
        else:
            units = Units.MM if name is None else units_of(store, name)
            echo_blocks(history_blocks(items, numbers, units))


def _echo_bytes(texts: Iterator[str]) -> None:
    """Print in UTF-8 and with these very line ends, whatever the terminal's own are."""
    out = sys.stdout.buffer
    for text in texts:
        out.write(text.encode())


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
