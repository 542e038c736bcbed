"""What the screens in which distances are measured have in common: each is journaled first."""

from __future__ import annotations

import abc
from typing import TYPE_CHECKING

from textual import on

from witnessmark.app.by_keyboard import is_keyboard
from witnessmark.app.metering import journaled
from witnessmark.app.screens.meter_aside import MeterAsideScreen
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.errors import WitnessmarkError
from witnessmark.meters.port import Link, LinkState
from witnessmark.model import Reading

if TYPE_CHECKING:
    from textual.app import ComposeResult


class MeasuringScreen(MeterAsideScreen):
    """Readings come by the meter's button or are typed, and belong to no round.

    A subclass takes them one by one in ``take``.
    """

    @abc.abstractmethod
    def take(self, reading: Reading) -> None:
        """Take a reading that is in the journal."""

    def foot(self) -> ComposeResult:
        """The meter's line."""
        yield MeterLine(self.app.opening.meter_address)

    async def with_the_meter(self) -> None:
        """Journal what the meter brings, outside any round, and hand it on."""
        address, line = self.app.opening.meter_address, self.query_one(MeterLine)
        if is_keyboard(address):
            ready = Link(LinkState.OPEN, "type a distance and Enter", self.app.clock(), address)
            line.post_message(MeterLine.Came(ready))
            return
        try:
            driver = self.app.open_driver(address)
            journal = self.app.journal
            async for report in journaled(driver, journal, lambda: None, self._fail):
                line.post_message(MeterLine.Came(report))
        except WitnessmarkError as error:
            self._fail(error)

    def _fail(self, error: WitnessmarkError) -> None:
        self.post_message(self.Failed(str(error)))

    def record(self, reading: Reading) -> None:
        """Journal what was typed, and hand it on."""
        self.run_worker(self._record(reading), group="typed")

    async def _record(self, reading: Reading) -> None:
        try:
            await self.app.journal.append(None, reading)
        except WitnessmarkError as error:
            self._fail(error)
        else:
            self.query_one(MeterLine).post_message(MeterLine.Came(reading))

    @on(MeterLine.Came)
    def _hand_on(self, event: MeterLine.Came) -> None:
        event.stop()
        if isinstance(event.what, Reading):
            self.take(event.what)
