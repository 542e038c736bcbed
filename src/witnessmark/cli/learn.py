"""``witnessmark learn``: work out how a meter's bytes are distances, and keep that as a profile."""

from __future__ import annotations

from typing import Final

import click

from witnessmark.cli.echo import echo
from witnessmark.cli.shooting import tell_fault
from witnessmark.cli.teaching import Teaching
from witnessmark.cli.types import LENGTH
from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.capture import Question
from witnessmark.meters.driver_calls import teachable, time_of, transport
from witnessmark.meters.finding import open_driver
from witnessmark.meters.learning.samples import check_known
from witnessmark.meters.lesson import WHY_FAIL, MeterLimits, finished
from witnessmark.meters.profile import Profile
from witnessmark.meters.profile_folder import check_profile_name, replaced_words, save_profile
from witnessmark.meters.profile_values import Uuid
from witnessmark.meters.profile_words import in_words
from witnessmark.meters.request_line import doubt_about, read_request
from witnessmark.meters.running import run

_NO_FAILURE: Final = f"no failed shot was shown (--failed): {WHY_FAIL}"


@click.command("learn")
@click.argument("address")
@click.option(
    "--known",
    "known_mm",
    type=LENGTH,
    multiple=True,
    required=True,
    metavar="LENGTH",
    help="A known distance, such as 1.2m; give two or more.",
)
@click.option("--save", "name", required=True, metavar="NAME", help="The profile's name.")
@click.option("--failed", "shows_failure", is_flag=True, help="Also show one failed shot.")
@click.option(
    "--shortest",
    "shortest_mm",
    type=LENGTH,
    metavar="LENGTH",
    help="The meter's shortest distance.",
)
@click.option(
    "--longest", "longest_mm", type=LENGTH, metavar="LENGTH", help="The meter's longest distance."
)
@click.option(
    "--error-number",
    "fault_values_mm",
    type=LENGTH,
    multiple=True,
    metavar="LENGTH",
    help="What it shows in place of a distance when it cannot measure, such as 99.999m.",
)
@click.option("--streaming", is_flag=True, help="The meter sends all the time.")
@click.option(
    "--request",
    metavar="TEXT",
    help="What to send to a meter that measures on request, as in a profile: 'take\\r\\n', or "
    "'bytes = \"10 01\"'.",
)
@click.option(
    "--request-characteristic",
    "characteristic",
    metavar="UUID",
    help="The Bluetooth characteristic to write it to, if there are several.",
)
def learn_command(
    address: str,
    known_mm: tuple[float, ...],
    name: str,
    shows_failure: bool,
    shortest_mm: float | None,
    longest_mm: float | None,
    fault_values_mm: tuple[float, ...],
    streaming: bool,
    request: str | None,
    characteristic: str | None,
) -> None:
    """Learn to read the meter at ADDRESS from shots at known distances, and keep that as a profile.

    Two known distances often do, three are safer. They have to differ by 100 mm or
    more. Where several decodings explain all shots, one more known distance is asked for; where
    none does, nothing is saved. A meter that waits to be asked is asked for each shot, and by its
    profile later.
    """
    check_profile_name(name)
    check_known(known_mm)
    limits = MeterLimits(shortest_mm, longest_mm, fault_values_mm)
    limits.check(known_mm)
    question = _question(request, characteristic)
    if "profile" in Address.parse(address).options:
        raise BadInput(f'meter address "{address}": leave profile out to learn one')
    driver = open_driver(address)
    taught_from = teachable(driver)
    if taught_from is None:
        raise BadInput(
            f'meter address "{address}": it cannot be taught; give a meter on a serial port or '
            "Bluetooth"
        )
    teaching = Teaching(question, limits, shows_failure=shows_failure, streaming=streaming)
    learnt = run(teaching.take(taught_from, known_mm), tell_fault)
    received = transport(taught_from, learnt.channel, question)
    profile = finished(teaching.lesson, learnt, received, time_of(driver))
    notes = learnt.notes if shows_failure else (*learnt.notes, _NO_FAILURE)
    _keep(profile, name, notes, driver.address)


def _keep(profile: Profile, name: str, notes: tuple[str, ...], address: Address) -> None:
    replaced = replaced_words(name)
    file = save_profile(name, profile)
    echo("learnt:")
    for words in (*in_words(profile), *notes):
        echo(f"  {words}")
    echo(f"saved: {file}")
    if replaced:
        echo(f"note: {replaced}")
    taught = address.with_options(profile=name, unit=None)
    echo(f'read it with: witnessmark read "{taught.text}"')


def _question(request: str | None, characteristic: str | None) -> Question | None:
    """Return what the meter is asked with; a doubt about it goes to the standard error."""
    if request is None:
        if characteristic is not None:
            raise BadInput("--request-characteristic: say with --request what is written there")
        return None
    asked = read_request(request)
    if doubt := doubt_about(asked):
        echo(f"--request: {doubt}", err=True)
    try:
        return Question(asked, None if characteristic is None else Uuid.read(characteristic))
    except BadInput as error:
        raise BadInput(f"--request-characteristic: {error}") from None
