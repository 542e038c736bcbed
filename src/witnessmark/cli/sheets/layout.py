"""``witnessmark sheet layout``: the plan of a room to scale, for marking out with a tape."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from witnessmark.cli.records import room_option
from witnessmark.cli.sheets.output import file_argument, paper_option, svg_option, write
from witnessmark.cli.sheets.source import from_option, named_setup

if TYPE_CHECKING:
    from witnessmark.report.page import Paper


@click.command("layout")
@file_argument
@room_option
@from_option
@click.option("--scale", help="Such as 1:20, on several pages [the largest that fits on one].")
@paper_option
@svg_option
def layout_sheet(
    file: Path,
    room: str | None,
    source: str | None,
    scale: str | None,
    paper: Paper,
    *,
    as_svg: bool,
) -> None:
    """Write to FILE the plan with lanes, stations, seat, targets and every tape mark.

    It is of the latest room in the store, of --room, or of a round file. FILE must not be there
    yet; .pdf or .svg chooses how it is written, - prints it.
    """
    from witnessmark.report.marking_out import marking_out  # noqa: PLC0415
    from witnessmark.report.scaling import parse_scale  # noqa: PLC0415

    at = None if scale is None else parse_scale(scale)
    name, setup = named_setup(room, source)
    title = f"Marking out: {name}"
    write(file, title, lambda: marking_out(name, setup, paper, at), as_svg=as_svg)
