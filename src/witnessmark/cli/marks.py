"""``witnessmark marks``: the positions of a room that were kept, or one of them whole."""

from __future__ import annotations

import click

from witnessmark.cli.records import (
    INDENT,
    echo_json,
    echo_title,
    echo_told,
    json_option,
    mark_called,
    open_room,
    room_option,
)
from witnessmark.model import Mark, Side
from witnessmark.store.history_words import measured_words
from witnessmark.store.records import Kept


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
    if name is not None:
        _echo_one(mark_called(name, marks, room_name), as_json=as_json)
    elif as_json:
        echo_json({"room": room_name, "marks": marks})
    else:
        _echo_list(marks, room_name)


def _echo_one(mark: Kept[Mark], *, as_json: bool) -> None:
    if as_json:
        from witnessmark.layout.footprint import pair_tape_points  # noqa: PLC0415

        corners = pair_tape_points(mark.record.setup, mark.record.poses.placements)
        echo_json({"mark": mark, "corners": corners})
    else:
        from witnessmark.cli.mark_page import echo_mark  # noqa: PLC0415 - numpy, for one

        echo_mark(mark)


def _echo_list(marks: list[Kept[Mark]], room: str) -> None:
    echo_told(f"MARKS IN {room}" if marks else f"No mark was kept in {room} yet.")
    replaced = {mark.record.supersedes for mark in marks}
    for mark in marks:
        gone = "; another took its place" if mark.key in replaced else ""
        echo_title(mark, f"{mark.record.name}{gone}")
        for side in Side:
            words = measured_words(mark.record.poses, side, mark.record.setup.units.finer)
            echo_told(words, f"{INDENT}{side:<5}  ", INDENT)
