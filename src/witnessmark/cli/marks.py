"""``witnessmark marks``: the positions of a room that were kept, or one of them whole."""

from __future__ import annotations

import click

from witnessmark.cli.output import echo_blocks, echo_json, json_option
from witnessmark.cli.sources import mark_called, open_room, room_option
from witnessmark.layout.footprint import pair_tape_points
from witnessmark.model import Mark
from witnessmark.report.mark import mark_list, whole_mark


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
