"""``witnessmark sheet``: what is printed on paper, as PDF or as SVG."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from witnessmark.cli.foresee import absorption_options, foresee, place_of, present_position
from witnessmark.cli.output import file_argument, paper_option, svg_option, write
from witnessmark.cli.sources import (
    from_option,
    mark_called,
    named_setup,
    open_room,
    room_option,
    setup_in,
)
from witnessmark.cli.types import COUNT, SINCE, UNTIL
from witnessmark.model import Mark, Preference, Side, Struck, Trial

if TYPE_CHECKING:
    from witnessmark.report.page import Paper


_MIDDLE = 1
"""The place of the middle spread among those that are foreseen."""


@click.group()
def sheet_group() -> None:
    """Make a sheet to print, as PDF or as SVG.

    Print at full size (100 %), never fitted to the page, and check the bars with a ruler.
    """


@sheet_group.command("layout", short_help="The plan to scale with its tape marks.")
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
    from witnessmark.report.floor_sheets import marking_out
    from witnessmark.report.scaling import parse_scale

    at = None if scale is None else parse_scale(scale)
    name, setup = named_setup(room, source)
    title = f"Marking out: {name}"
    write(file, title, lambda: marking_out(name, setup, paper, at), as_svg=as_svg)


@sheet_group.command("card", short_help="How to put a mark back with a tape, on one page.")
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
    from witnessmark.report.floor_sheets import put_back_card

    with open_room(room) as (store, room_name):
        mark = mark_called(name, store.kept(Mark, room_name), room_name).record
    write(file, f"Put back: {name}", lambda: put_back_card(mark, room_name, paper), as_svg=as_svg)


@sheet_group.command("template", short_help="What a cabinet covers, at full size.")
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
    from witnessmark.report.floor_sheets import foot_template

    name, setup = named_setup(room, source)
    title = f"Template: {side} cabinet, {name}"
    write(file, title, lambda: foot_template(name, setup, Side(side), paper), as_svg=as_svg)


@sheet_group.command("foresight", short_help="What the room does to the bass of the walk.")
@file_argument
@room_option
@from_option
@absorption_options
@click.option("--station", type=COUNT, help="Tell this one with its curve.")
@paper_option
@svg_option
def foresight_sheet(
    file: Path,
    room: str | None,
    source: str | None,
    absorption: str,
    surfaces: tuple[tuple[str, float], ...],
    station: int | None,
    paper: Paper,
    *,
    as_svg: bool,
) -> None:
    """Write to FILE the picture of the walk foreseen, its dips and what makes each.

    It is of the latest room in the store, of --room, or of a round file. FILE must not be there
    yet; .pdf or .svg chooses how it is written, - prints it.
    """
    name, setup = named_setup(room, source)
    walk = foresee(setup, absorption, surfaces)
    place = place_of(station, walk, _MIDDLE)
    from witnessmark.report.foresight import foresight_sheet as pages  # numpy

    title, present = f"The walk, foreseen: {name}", present_position(walk)
    write(
        file,
        title,
        lambda: pages(title, walk, _MIDDLE, paper, place=place, present=present),
        as_svg=as_svg,
    )


@sheet_group.command("report", short_help="An evening: trials, grades, marks, symmetry.")
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
    from witnessmark.report.evening import KeptEvening, evening_report

    with open_room(room) as (store, name):
        kept = KeptEvening(
            name,
            setup_in(store, name),
            store.kept(Trial, name),
            store.kept(Preference, name),
            store.kept(Mark, name),
            store.kept(Struck, name),
        )
    chosen = kept.within(since, until) if since or until else kept.latest()
    write(file, f"Report: {name}", lambda: evening_report(chosen, paper), as_svg=as_svg)
