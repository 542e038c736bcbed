"""``witnessmark sheet template``: what a cabinet covers of the floor, at full size."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from witnessmark.cli.records import room_option
from witnessmark.cli.sheets.output import file_argument, paper_option, svg_option, write
from witnessmark.cli.sheets.source import from_option, named_setup
from witnessmark.model import Side

if TYPE_CHECKING:
    from witnessmark.report.page import Paper


@click.command("template")
@click.argument("side", type=click.Choice([side.value for side in Side]))
@file_argument
@room_option
@from_option
@paper_option
@svg_option
def template_sheet(
    side: str, file: Path, room: str | None, source: str | None, paper: Paper, *, as_svg: bool
) -> None:
    """Write to FILE the outline of the left or the right cabinet and its feet, at full size.

    It is of the latest room in the store, of --room, or of a round file. FILE must not be there
    yet; .pdf or .svg chooses how it is written, - prints it.
    """
    from witnessmark.report.template import foot_template  # noqa: PLC0415

    name, setup = named_setup(room, source)
    title = f"Template: {side} cabinet, {name}"
    write(file, title, lambda: foot_template(name, setup, Side(side), paper), as_svg=as_svg)
