"""``witnessmark sheet report``: what an evening of listening was, to keep."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from witnessmark.cli.records import open_room, room_option
from witnessmark.cli.sheets.output import file_argument, paper_option, svg_option, write
from witnessmark.cli.sheets.source import setup_in
from witnessmark.cli.types import SINCE, UNTIL
from witnessmark.model import Mark, Preference, Trial

if TYPE_CHECKING:
    from witnessmark.report.page import Paper


@click.command("report")
@file_argument
@room_option
@click.option("--since", type=SINCE, help="From this date or time on, UTC.")
@click.option("--until", type=UNTIL, help="Up to this time, or to the end of this date, UTC.")
@paper_option
@svg_option
def report_sheet(
    file: Path,
    room: str | None,
    since: datetime | None,
    until: datetime | None,
    paper: Paper,
    *,
    as_svg: bool,
) -> None:
    """Write to FILE what was tried and heard, the grades drawn, the marks and their symmetry.

    Without --since and --until it is of the latest evening: what was kept after the last six hours
    without anything. FILE must not be there yet; .pdf or .svg chooses how it is written, - prints
    it.
    """
    from witnessmark.report.evening import Evening, evening_report  # noqa: PLC0415

    with open_room(room) as (store, name):
        kept = Evening(
            name,
            setup_in(store, name),
            store.kept(Trial, name),
            store.kept(Preference, name),
            store.kept(Mark, name),
        )
    chosen = kept.within(since, until) if since or until else kept.latest()
    write(file, f"Report: {name}", lambda: evening_report(chosen, paper), as_svg=as_svg)
