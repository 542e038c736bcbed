"""``witnessmark history``: all that was measured, decided and kept, in order of time."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import groupby

import click

from witnessmark.cli.records import echo_told, open_room, room_option, units_of
from witnessmark.cli.types import SINCE, UNTIL
from witnessmark.errors import BadInput
from witnessmark.lengths import Units
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import Reading, Trial
from witnessmark.store.history import (
    PAGE_ITEMS,
    Item,
    Wanted,
    history,
    history_page,
    to_json_line,
)
from witnessmark.store.history_words import item_words
from witnessmark.store.records import KINDS
from witnessmark.store.spreadsheet import csv_rows

_KIND = click.Choice([kind.name for kind in KINDS])


@click.command("history")
@room_option
@click.option("--all", "everything", is_flag=True, help="Every room, and what was of none.")
@click.option("--round", "round_id", type=click.IntRange(min=1), help="Of this round only.")
@click.option("--kind", "kinds", type=_KIND, multiple=True, help="Of this kind only.")
@click.option("--since", type=SINCE, help="From this date or time on, UTC.")
@click.option("--until", type=UNTIL, help="Up to this time, or to the end of this date, UTC.")
@click.option("--page", type=click.IntRange(min=1), help=f"One page of {PAGE_ITEMS} items.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV for a spreadsheet.")
@click.option("--json", "as_json", is_flag=True, help="Print a line of JSON an item, mm and UTC.")
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

    Readings that were taken outside any round, as in the check of a meter, are of no room: --all
    shows them.
    """
    if everything and room is not None:
        raise BadInput("--all shows every room; leave --room out")
    if as_csv and as_json:
        raise BadInput("--csv and --json each choose how it is printed; give one of them")
    with open_room(room) as (store, name):
        wanted = Wanted(None if everything else name, round_id, kinds, since, until)
        numbers = {trial.key: trial.id for trial in store.kept(Trial)}
        items: Iterable[Item] = history(store, wanted)
        if page is not None:
            shown = history_page(store, wanted, page)
            items = shown.items
            click.echo(f"page {page} of {shown.pages}, {shown.total} items in all", err=True)
        if as_csv:
            _echo_bytes(csv_rows(items, numbers))
        elif as_json:
            _echo_bytes(f"{to_json_line(item)}\n" for item in items)
        else:
            _echo_page(items, numbers, units_of(store, name))


def _echo_bytes(texts: Iterator[str]) -> None:
    """Print in UTF-8 and with these very line ends, whatever the terminal's own are."""
    out = sys.stdout.buffer
    for text in texts:
        out.write(text.encode())


def _echo_page(items: Iterable[Item], numbers: dict[str, int], units: Units) -> None:
    for (room, round_id), together in groupby(items, lambda item: (item.room, item.round_id)):
        of = "outside any round" if room is None else room
        echo_told(of if round_id is None else f"{of}, round {round_id}")
        for item in together:
            meter = ""
            if isinstance(item.record, Reading | Fault | Noise):
                meter = f" ({item.record.meter})"
            moment = f"  {item.at:%Y-%m-%d %H:%M:%S}Z  {item.kind:10}  "
            echo_told(f"{item_words(item, numbers, units)}{meter}", moment, " " * len(moment))
