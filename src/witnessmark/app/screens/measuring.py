"""What the screens in which distances are measured for something other than the round share."""

from __future__ import annotations

import abc
from typing import TYPE_CHECKING

from textual import on
from textual.widgets import Static

from witnessmark.app.happened import Happened, follow
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.widgets.meter_line import MeterLine
from witnessmark.model import Reading
from witnessmark.session.events import Came, Failed, LinkChanged, Part
from witnessmark.words.cautions import LASER

if TYPE_CHECKING:
    from textual.app import ComposeResult


class MeasuringScreen(AsideScreen):
    """Readings come by the meter's button or are typed, and belong to no round.

    A subclass takes them one by one in ``take``.
    """

    @abc.abstractmethod
    def take(self, reading: Reading) -> None:
        """Take a reading that is in the journal."""

    def cautions(self) -> ComposeResult:
        """The one about the beam."""
        yield Static(f"! Laser. {LASER}")

    def foot(self) -> ComposeResult:
        """The meter's line."""
        yield MeterLine(self.session.workspace.meter_address)

    def on_mount(self) -> None:
        """Have the meter's readings come here."""
        self._leave = follow(self.session, Part.ASIDE, self.query_one(MeterLine))
        self.session.listen_for(Part.ASIDE)

    def on_unmount(self) -> None:
        """Follow them no more."""
        self._leave()

    def record(self, reading: Reading) -> None:
        """Journal what was typed, and take it."""
        self.run_worker(self.session.record(reading, Part.ASIDE), group="typed")

    @on(Happened)
    def _follow(self, event: Happened) -> None:
        event.stop()
        match event.what:
            case LinkChanged():
                self.refresh_bindings()  # whether the meter can be asked
            case Came(what=Reading() as reading):
                self.take(reading)
            case Failed(why=why):
                self.tell(why, wrong=True)

    async def action_leave(self) -> None:
        """Go back to where this was opened; what comes then is the round's."""
        self.dismiss()
        self.session.listen_for(Part.ROUND)
