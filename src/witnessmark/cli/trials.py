"""``witnessmark trials``: the positions of a room that were listened to, and what was preferred."""

from __future__ import annotations

import click

from witnessmark.cli.output import echo_blocks, echo_json, json_option
from witnessmark.cli.sources import open_room, room_option, units_of
from witnessmark.model import Preference, Trial
from witnessmark.report.history import trials_blocks


@click.command("trials")
@room_option
@json_option
def trials_command(room: str | None, *, as_json: bool) -> None:
    """List the positions that were listened to, and which of them were preferred.

    With --json one object: "room", "trials" and "preferences", these by the trials' keys.
    """
    with open_room(room) as (store, name):
        trials, preferences = store.kept(Trial, name), store.kept(Preference, name)
        units = units_of(store, name)
    if as_json:
        echo_json({"room": name, "trials": trials, "preferences": preferences})
    else:
        echo_blocks(trials_blocks(trials, preferences, name, units))
