"""``witnessmark sheet card``: how to put a mark back with a tape and no program."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from witnessmark.cli.records import mark_called, open_room, room_option
from witnessmark.cli.sheets.output import file_argument, paper_option, svg_option, write
from witnessmark.model import Mark

if TYPE_CHECKING:
    from witnessmark.report.page import Paper


@click.command("card")
@click.argument("name", metavar="NAME")
@file_argument
@room_option
@paper_option
@svg_option
def card_sheet(name: str, file: Path, room: str | None, paper: Paper, *, as_svg: bool) -> None:
    """Write to FILE how the mark called NAME is put back: every corner, from which wall, how far.

    Of several marks of one name the last is taken. FILE must not be there yet; .pdf or .svg
    chooses how it is written, - prints it.
    """
    from witnessmark.report.card import put_back_card  # noqa: PLC0415

    with open_room(room) as (store, room_name):
        mark = mark_called(name, store.kept(Mark, room_name), room_name).record
    write(file, f"Put back: {name}", lambda: put_back_card(mark, room_name, paper), as_svg=as_svg)
