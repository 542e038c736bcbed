"""``witnessmark check``: are left and right alike as they stand?"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import click

from witnessmark.cli.echo import echo, echo_json_text
from witnessmark.cli.shooting import LinkPrinter, shooting, tell_fault
from witnessmark.cli.types import LENGTH, UNITS
from witnessmark.errors import TooFewShots
from witnessmark.lengths import Units
from witnessmark.meters.address import Address
from witnessmark.meters.finding import open_driver
from witnessmark.meters.port import Fault, Link, Noise
from witnessmark.meters.running import run
from witnessmark.model import Held, Reading, Side
from witnessmark.sentences import sentence
from witnessmark.session.draft import Draft
from witnessmark.session.meter_options import with_profile_step
from witnessmark.session.room_answers import PairSize
from witnessmark.words.holding import how_to_hold

if TYPE_CHECKING:
    from typing import Any

    from witnessmark.meters.port import Driver, Report
    from witnessmark.model import Setup
    from witnessmark.placing.guidance import Guidance
    from witnessmark.placing.round import Round


@click.command("check")
@click.argument("address")
@click.option("--width", type=LENGTH, required=True, metavar="LENGTH", help="Of a cabinet.")
@click.option("--depth", type=LENGTH, required=True, metavar="LENGTH", help="Of a cabinet.")
@click.option("--room-width", type=LENGTH, metavar="LENGTH", help="Along the front wall.")
@click.option(
    "--held",
    type=click.Choice([Held.CABINET.value, Held.WALL.value]),
    default=Held.CABINET.value,
    help="The meter flush on the cabinet, or square to the wall [cabinet].",
)
@click.option("--settle", is_flag=True, help="Go on with the shots that would settle it.")
@click.option("--units", type=UNITS, default="mm", help=f"One of {', '.join(Units)} [mm].")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object, mm and degrees.")
def check_command(
    address: str,
    *,
    width: float,
    depth: float,
    room_width: float | None,
    held: str,
    settle: bool,
    units: Units,
    as_json: bool,
) -> None:
    """Tell whether left and right stand alike, from shots with the meter at ADDRESS.

    ADDRESS is that of read: serial:PORT, ble:ADDRESS, typed: and so on. Each shot is asked for on
    the standard error; the answer is printed. A meter that waits to be asked measures at each
    Enter. Nothing needs to be known of the room; every reading is kept in the journal. Exits with
    0 when the answer is known, 3 when the shots do not settle it.
    """
    from witnessmark.placing.round import Round  # numpy, only where used

    meter = with_profile_step(Draft().meter, Address.parse(address))
    draft = Draft(units=units, held=Held(held), meter=meter)
    setup = PairSize(width, depth, room_width).compared_as_they_stand(draft).setup
    assert setup is not None  # noqa: S101 - it has cabinets, and a room that stands in
    driver = open_driver(address)
    checking = _Checking(Round.begin(setup), settle=settle)
    run(checking.run(driver), tell_fault)
    _tell(setup, checking.guidance(), as_json=as_json)


class _Checking:
    """Feeds readings to a round and asks for the next shot, until the answer is known."""

    def __init__(self, state: Round, *, settle: bool) -> None:
        self._state = state
        self._settle = settle
        self._link = LinkPrinter()

    def guidance(self) -> Guidance:
        """Return what is known now."""
        from witnessmark.placing.guidance import guide

        return guide(self._state)

    @property
    def _is_over(self) -> bool:
        return self._state.finished and not (self._settle and self._state.settling)

    async def run(self, driver: Driver) -> None:
        """Take shots until the answer is known, or nothing more comes."""
        async with shooting(driver) as reports:
            async for report in reports:
                self._take(report)
                if self._is_over:
                    return

    def _take(self, report: Report) -> None:
        match report:
            case Reading():
                self._state = self._state.feed(report)
                self._ask()
            case Fault():
                echo(f"fault: {report.fault}. Shoot again.", err=True)
            case Noise():
                echo(f"not a distance: {report.why}", err=True)
            case Link():
                if self._link.show(report):
                    self._ask()

    def _ask(self) -> None:
        """Say what the last reading led to, and which shot comes next."""
        from witnessmark.words.live import say

        now = self.guidance()
        if self._is_over:
            return
        said, kind = say(now), now.prompt.kind
        if now.question is not None:
            echo(f"{said.headline.words} {said.details[0]}", err=True)
            return
        shot = f"{kind.cabinet} cabinet, {kind.words}"
        number = f"shot {now.prompt.number} of {now.prompt.count}: " if not now.finished else ""
        held = how_to_hold(kind, now.setup.meter.edge)
        echo(sentence(f"{number}{shot}; {held}"), err=True)


def _tell(setup: Setup, now: Guidance, *, as_json: bool) -> None:
    """Print the answer.

    Raises:
        TooFewShots: when the shots do not tell it.
    """
    from witnessmark.words.alike import (
        about_the_line,
        alike_figure,
        alike_in_one,
        settling_words,
        stands_words,
    )

    pair, kind = now.symmetry, now.prompt.kind
    if pair is None or not now.finished:
        raise TooFewShots(f"the {kind.cabinet} cabinet's {kind.words} is still missing")
    if as_json:
        echo_json_text(json.dumps(_fields(setup, now), indent=2))
        return
    echo(alike_figure(pair))
    echo(sentence(alike_in_one(setup, pair)))
    if now.settling is not None:
        echo(sentence(settling_words(setup, now.settling)))
    for words in about_the_line(setup, now.measured):
        echo(sentence(words))
    for side, status in zip(Side, now.cabinets, strict=True):
        if status.appraisal is not None:
            echo(stands_words(side, status.appraisal.measured, setup.units))


def _fields(setup: Setup, now: Guidance) -> dict[str, Any]:
    from witnessmark.placing.judge import PairAppraisal
    from witnessmark.report.solve import answer
    from witnessmark.words.alike import alike_words

    assert now.symmetry is not None  # noqa: S101 - guarded by the only caller
    found = {
        side: status.appraisal
        for side, status in zip(Side, now.cabinets, strict=True)
        if status.appraisal is not None
    }
    settling = now.settling
    return {
        "alike": now.symmetry.worst.value,
        "words": list(alike_words(setup, now.symmetry)),
        "settled_by": settling
        and {
            "cabinet": settling.kind.cabinet.value,
            "point": settling.kind.point,
            "to": settling.kind.to.value,
            "held": settling.kind.held.value,
            "settles": settling.settles,
        },
        **answer(setup, PairAppraisal(found, now.symmetry)),
    }
