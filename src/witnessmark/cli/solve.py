"""``witnessmark solve``: a round file to positions, verdicts, nudges and symmetry."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click
import msgspec

from witnessmark.acoustics.scene import Scene
from witnessmark.cli.echo import echo, echo_json_text
from witnessmark.cli.output import echo_blocks
from witnessmark.cli.sources import round_text
from witnessmark.errors import TooFewShots

if TYPE_CHECKING:
    from witnessmark.model import Setup
    from witnessmark.placing.judge import PairAppraisal


@click.command("solve")
@click.argument("file", metavar="FILE")
@click.option("--sound", is_flag=True, help="Also show what the room does to the sound.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def solve_command(file: str, *, sound: bool, as_json: bool) -> None:
    """Solve a round FILE (TOML or JSON; - reads standard input).

    Exits with 0 when solved, 2 for bad input, 3 when the shots cannot fix a pose.
    """
    from witnessmark.placing.judge import appraise  # numpy, only where used
    from witnessmark.store.round_file.read import read_round

    round_file = read_round(round_text(file))
    try:
        appraisal = appraise(round_file.setup, round_file.shots)
    except TooFewShots as why:
        # one line, with the first slip of a reading that may be behind it
        slips = [note for note in round_file.notes if note.startswith("shot ")]
        raise TooFewShots("; ".join((str(why), *slips[:1]))) from None
    # only now, so that a failure stays one line
    for note in round_file.notes:
        echo(f"note: {note}", err=True)
    show = _print_object if as_json else _print_page
    show(round_file.setup, appraisal, sound=sound)


def _print_object(setup: Setup, appraisal: PairAppraisal, *, sound: bool) -> None:
    from witnessmark.report.solve import answer

    found = answer(setup, appraisal)
    if sound:
        from witnessmark.acoustics.figures import room_sound

        scene = Scene.of(setup, appraisal.measured)
        found["sound"] = msgspec.to_builtins(room_sound(scene, appraisal.symmetry))
    echo_json_text(json.dumps(found, indent=2))


def _print_page(setup: Setup, appraisal: PairAppraisal, *, sound: bool) -> None:
    from witnessmark.report.solve import solve_blocks

    echo_blocks(solve_blocks(setup, appraisal))
    if sound:
        from witnessmark.report.sound import WIDTH, sound_blocks

        scene = Scene.of(setup, appraisal.measured)
        echo()
        echo_blocks(sound_blocks(scene, setup.units, appraisal.symmetry), WIDTH)
