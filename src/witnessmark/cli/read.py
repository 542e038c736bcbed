"""``witnessmark meters`` and ``read``: which meters can be reached, and what one of them reads."""

from __future__ import annotations

from typing import Final

import click
import msgspec

from witnessmark.cli.echo import echo, echo_json_text
from witnessmark.cli.shooting import LinkPrinter, shooting, tell_fault
from witnessmark.cli.types import COUNT, UNITS
from witnessmark.lengths import Units, format_length
from witnessmark.meters.driver_calls import teachable
from witnessmark.meters.finding import discover_all, open_driver
from witnessmark.meters.json_lines import to_json_line
from witnessmark.meters.port import (
    Driver,
    Fault,
    Link,
    MeterError,
    Noise,
    Report,
)
from witnessmark.meters.running import run
from witnessmark.model import Reading

_UNKNOWN_AFTER: Final = 3
"""Lines without a distance, and none with one, after which a meter is taken for an unknown one."""


@click.command("meters")
@click.option("--json", "as_json", is_flag=True, help="Print one list of objects.")
def meters_command(as_json: bool) -> None:
    """List the meters, and the places where one may be, with the addresses to give to read."""
    found = run(discover_all(tell=tell_fault), tell_fault)
    if as_json:
        echo_json_text(msgspec.json.format(msgspec.json.encode(found)))
        return
    width = max((len(place.address) for place in found), default=0)
    for place in found:
        echo(f"{place.address:<{width}}  {place.words}")


@click.command("read")
@click.argument("address")
@click.option("--count", type=COUNT, help="Stop after this many distances.")
@click.option(
    "--json", "as_json", is_flag=True, help=("Print one line of JSON a reading, mm and UTC.")
)
@click.option("--units", type=UNITS, default="0.1 mm", help=f"One of {', '.join(Units)} [0.1 mm].")
def read_command(address: str, count: int | None, as_json: bool, units: Units) -> None:
    """Print what the meter at ADDRESS reads, a line a reading, until Ctrl-C.

    ADDRESS is serial:PORT, typed:, replay:FILE or sim:, with options after it as in
    "serial:/dev/ttyUSB0?baud=115200&unit=m". Whatever is no distance goes to the standard error,
    save the meter's own errors, which are lines among the readings. A meter that is lost is tried
    again. One that waits to be asked is asked once it is open, and then at each Enter, or as often
    as its profile says. Every reading is kept in the journal first.
    """
    driver = open_driver(address)
    taught = driver.address.with_options(profile=None, unit=None).text
    printer = _Printer(as_json, units, taught if teachable(driver) else None)
    try:
        run(_print_all(driver, printer, count), tell_fault)
    finally:
        printer.say_noise()
    if count and printer.readings < count:
        raise MeterError(f"{address}: ended after {printer.readings} of {count} readings")


async def _print_all(driver: Driver, printer: _Printer, count: int | None) -> None:
    async with shooting(driver, with_unasked=True) as reports:
        async for report in reports:
            printer.take(report)
            if printer.readings == count:
                return


class _Printer:
    """Prints reports as they come and counts them."""

    def __init__(self, as_json: bool, units: Units, bare: str | None) -> None:
        self._bare = bare
        """The address to teach the meter by; None: it cannot be taught."""
        self._said_learn = False
        self._lacks_unit = False
        self.readings = 0
        self._noise = 0
        self._link = LinkPrinter()
        self._as_json = as_json
        self._units = units

    def take(self, report: Report) -> None:
        """Print a report.

        Raises:
            MeterUnreachable: when the meter could not be opened in the first place.
        """
        match report:
            case Reading() | Fault():
                self.readings += isinstance(report, Reading)
                if self._as_json:
                    echo_json_text(to_json_line(report))
                else:
                    echo(self._line(report))
            case Noise():
                self._noise += 1
                self._lacks_unit |= report.bare is not msgspec.UNSET
                echo(f"not a distance: {report.why} (bytes {report.raw.hex()})", err=True)
                if self._noise == _UNKNOWN_AFTER:
                    self._name_learn()
            case Link():
                self._link.show(report)

    def say_noise(self) -> None:
        """Say how much came that was no distance, if anything did."""
        if self._noise:
            lines = "1 line was" if self._noise == 1 else f"{self._noise} lines were"
            echo(f"{lines} not a distance", err=True)
            self._name_learn()

    def _name_learn(self) -> None:
        """Say once how a meter is taught of which nothing could be read."""
        if self._bare is None or self.readings or self._lacks_unit or self._said_learn:
            return
        self._said_learn = True
        echo(
            "nothing can be read from this meter; teach it from distances that you know: "
            f'witnessmark learn "{self._bare}" --known 1.2m --known 1.9m --save my-meter',
            err=True,
        )

    def _line(self, report: Reading | Fault) -> str:
        if isinstance(report, Reading):
            words = format_length(report.distance_mm, self._units)
        else:
            words = f"fault: {report.fault}"
        return f"{report.at:%H:%M:%S}Z  {words}"
