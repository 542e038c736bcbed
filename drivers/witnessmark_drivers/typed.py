"""``typed:``: a tape and a keyboard; also meters that type their digits and Enter.

Whoever owns the keyboard hands the lines in: the command line from its standard input, the terminal
app from its entry field. Option: ``unit`` (of numbers without one).
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncGenerator
from typing import Final

from witnessmark.errors import BadInput, LengthError
from witnessmark.meters.address import Address
from witnessmark.meters.port import Clock, Driver, FoundMeter, Noise, Report, utc_now
from witnessmark.meters.text import typed_distance_mm, unit_option
from witnessmark.model import Reading

MOST_WAITING: Final = 256


class Typed(Driver):
    """Lengths as a person types them; a line that is no length is noise with the reason.

    It fills ``witnessmark.meters.port.TakesLines``.
    """

    scheme = "typed"

    def __init__(self, address: Address, clock: Clock = utc_now) -> None:
        """Check the options.

        Raises:
            BadInput: when the address cannot be right.
        """
        super().__init__(address, clock)
        address.allow_options("unit")
        if address.target:
            raise BadInput(f'meter address "{address.text}": write typed: with nothing after it')
        self._unit = unit_option(address)
        self._inbox: asyncio.Queue[Report | None] = asyncio.Queue()

    @property
    def is_full(self) -> bool:
        """Whether so many readings wait to be reported that no more are taken."""
        return self._inbox.qsize() >= MOST_WAITING

    def submit(self, line: str) -> None:
        """Take a typed line, at the present time; an empty one is nothing."""
        if line.strip():
            self._inbox.put_nowait(self._report(line.strip()))

    def end(self) -> None:
        """End ``reports`` after what has been typed."""
        self._inbox.put_nowait(None)

    async def reports(self) -> AsyncGenerator[Report, None]:
        """Yield what has been typed and is going to be."""
        yield self.opened("type a distance and Enter")
        while (report := await self._inbox.get()) is not None:
            yield report

    def _report(self, line: str) -> Report:
        at, meter, raw = self.clock(), self.address.text, line.encode(errors="replace")
        try:
            return Reading(typed_distance_mm(line, self._unit), at, meter, raw)
        except LengthError as error:
            return Noise(str(error), at, meter, raw)

    @classmethod
    async def discover(cls) -> list[FoundMeter]:
        """Return the keyboard, which is always there."""
        return [FoundMeter("typed:", "a tape and the keyboard, or a meter that types")]
