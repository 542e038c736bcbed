"""``replay:FILE``: readings from a file, one a line.

A line is either JSON as ``witnessmark read --json`` prints it, which keeps its time and its meter,
or a length as a person writes it. Options: ``every`` (seconds between two readings, 0), ``unit``
(of numbers without one).
"""

from __future__ import annotations

import asyncio
import io
import itertools
import math
from collections.abc import AsyncGenerator, Awaitable, Callable, Iterator

from witnessmark.errors import BadInput
from witnessmark.files import open_plain, user_path
from witnessmark.meters.address import Address
from witnessmark.meters.json_lines import from_json_line
from witnessmark.meters.port import Clock, Driver, Fault, Report, utc_now
from witnessmark.meters.text import typed_distance_mm, unit_option
from witnessmark.model import Reading

_LONGEST_LINE = 4000
"""Longest line, signs: far above a reading as JSON with all the bytes of a meter's line."""
_LINES_A_TURN = 500
"""Lines that are read, whatever they hold, before the event loop has its turn."""


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
        """Yield the file's readings and faults.

        Raises:
            BadInput: when the file cannot be read, or a line of it is wrong, before any report.
        """
        # read twice rather than kept: a file may be larger than the memory
        for number, line in self._lines():
            if line.strip():
                self._report(number, line)
            if number % _LINES_A_TURN == 0:
                await asyncio.sleep(0)
        yield self.opened(f"replaying {self.address.target}")
        for number, line in self._lines():
            if line.strip():
                yield self._report(number, line)
                await self._sleep(self._every_s)
            elif number % _LINES_A_TURN == 0:
                await asyncio.sleep(0)

    def _lines(self) -> Iterator[tuple[int, str]]:
        """Yield all lines, each with its number."""
        name = self.address.target
        try:
            with io.TextIOWrapper(open_plain(user_path(name)), "utf-8-sig") as text:
                for number in itertools.count(1):
                    line = text.readline(_LONGEST_LINE + 1)
                    if len(line) > _LONGEST_LINE:
                        raise BadInput(
                            f"replay: {name}, line {number}: over {_LONGEST_LINE} signs; "
                            "give one reading a line"
                        )
                    if not line:
                        return
                    yield number, line
        except OSError as error:
            raise BadInput(f"replay: {name} cannot be read: {error.strerror}") from error
        except UnicodeDecodeError as error:
            raise BadInput(f"replay: {name} is not a text file; give one reading a line") from error

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
