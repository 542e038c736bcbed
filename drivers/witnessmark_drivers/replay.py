"""``replay:FILE``: readings from a file, one a line.

A line is either JSON as ``witnessmark read --json`` prints it, which keeps its time and its meter,
or a length as a person writes it. Options: ``every`` (seconds between two readings, 0), ``unit``
(of numbers without one).
"""

from __future__ import annotations

import asyncio
import math
from collections.abc import AsyncGenerator, Awaitable, Callable
from pathlib import Path

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.meters.json_lines import from_json_line
from witnessmark.meters.port import Clock, Driver, Fault, Report, utc_now
from witnessmark.meters.text import typed_distance_mm, unit_option
from witnessmark.model import Reading


class Replay(Driver):
    """A file of readings as a meter; it ends with the file."""

    scheme = "replay"

    def __init__(
        self,
        address: Address,
        clock: Clock = utc_now,
        sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        """Check the options; the file is read by ``reports``.

        Raises:
            BadInput: when the address cannot be right.
        """
        super().__init__(address, clock)
        address.allow_options("every", "unit")
        if not address.target:
            raise BadInput(f'meter address "{address.text}": write replay:FILE')
        self._every_s = _every_option(address)
        self._unit = unit_option(address)
        self._sleep = sleep

    async def reports(self) -> AsyncGenerator[Report, None]:
        """The file's readings and faults.

        Raises:
            BadInput: when the file cannot be read, or a line of it is wrong, before any report.
        """
        lines = [(number, line) for number, line in enumerate(self._lines(), 1) if line.strip()]
        for number, line in lines:
            self._report(number, line)
        yield self.opened(f"replaying {self.address.target}")
        for number, line in lines:
            yield self._report(number, line)
            await self._sleep(self._every_s)

    def _lines(self) -> list[str]:
        try:
            return Path(self.address.target).expanduser().read_text("utf-8").split("\n")
        except OSError as error:
            raise BadInput(
                f"replay: {self.address.target} cannot be read: {error.strerror}"
            ) from error
        except UnicodeDecodeError as error:
            raise BadInput(
                f"replay: {self.address.target} is not a text file; give one reading a line"
            ) from error

    def _report(self, number: int, line: str) -> Reading | Fault:
        try:
            if line.lstrip().startswith("{"):
                return from_json_line(line)
            mm = typed_distance_mm(line, self._unit)
            return Reading(mm, self.clock(), self.address.text, line.strip().encode())
        except BadInput as error:
            raise BadInput(f"replay: {self.address.target}, line {number}: {error}") from None


def _every_option(address: Address) -> float:
    text = address.options.get("every", "0")
    try:
        seconds = float(text)
    except ValueError:
        seconds = math.nan
    if not 0 <= seconds <= 3600:
        raise BadInput(
            f'meter address "{address.text}": every "{text}" must be seconds, from 0 to 3600'
        )
    return seconds
