"""``witnessmark solve``: a round file to positions, verdicts, nudges and symmetry."""

from __future__ import annotations

import json

import click

from witnessmark.cli.roundtext import round_text


@click.command("solve")
@click.argument("file", metavar="FILE")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def solve_command(file: str, *, as_json: bool) -> None:
    """Solve a round FILE (TOML or JSON; - reads standard input).

    Exits with 0 when solved, 2 for bad input, 3 when the shots cannot fix a pose.
    """
    from witnessmark.placing.answer import answer  # noqa: PLC0415 - numpy, only where used
    from witnessmark.placing.appraise import appraise  # noqa: PLC0415
    from witnessmark.store.roundfile import read_round  # noqa: PLC0415

    round_file = read_round(round_text(file))
    appraisal = appraise(round_file.setup, round_file.shots)
    # only now, so that a failure stays one line
    for note in round_file.notes:
        click.echo(f"note: {note}", err=True)
    if as_json:
        click.echo(json.dumps(answer(appraisal), indent=2))
    else:
        from witnessmark.cli.solve_page import solve_page  # noqa: PLC0415

        click.echo(solve_page(round_file.setup, appraisal))
