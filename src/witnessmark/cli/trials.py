"""``witnessmark trials``: the positions of a room that were listened to, and what was preferred."""

from __future__ import annotations

import click

from witnessmark.cli.records import (
    INDENT,
    echo_json,
    echo_title,
    echo_told,
    json_option,
    open_room,
    room_option,
    units_of,
)
from witnessmark.lengths import Units
from witnessmark.model import Preference, Side, Trial
from witnessmark.store.history_words import (
    heard_words,
    moment_words,
    preference_words,
    stood_words,
    trial_number,
)
from witnessmark.store.records import Kept


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
        return
    echo_told(f"TRIALS IN {name}" if trials else f"No trial was kept in {name} yet.")
    numbers = {trial.key: trial.id for trial in trials}
    for trial in trials:
        _echo_trial(trial, numbers, units)
    for preference in preferences:
        words = preference_words(preference.record, numbers)
        echo_told(f"{words} ({moment_words(preference.record.at)})", INDENT)


def _echo_trial(kept: Kept[Trial], numbers: dict[str, int], units: Units) -> None:
    trial = kept.record
    again = "" if trial.repeats is None else f", {trial_number(trial.repeats, numbers)} once more"
    echo_title(kept, f"{trial.varied} varied{again}")
    for side in Side:
        words = stood_words(trial, side, units)
        echo_told(words, f"{INDENT}{side:<5}  ", INDENT)
    found = "" if trial.measured is None else "as they were measured"
    echo_told("; ".join(filter(None, (found, heard_words(trial)))), INDENT, INDENT)
