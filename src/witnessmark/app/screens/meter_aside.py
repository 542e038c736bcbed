"""What the screens for something with the meter have in common: the meter to themselves."""

from __future__ import annotations

import abc
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual import on
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.screens.aside import AsideScreen
from witnessmark.app.workers import stop_group
from witnessmark.cautions import LASER

if TYPE_CHECKING:
    from textual.app import ComposeResult

_METER = "meter"


class MeterAsideScreen(AsideScreen):
    """A form for something with the meter, which the live screen leaves alone meanwhile.

    A subclass gives its ``fields`` and does its work in ``with_the_meter``.
    """

    @dataclass
    class Failed(Message):
        """The meter cannot be had, or something cannot be kept; ``why`` says so."""

        why: str

    @abc.abstractmethod
    async def with_the_meter(self) -> None:
        """Work with the meter that is chosen; posts messages, touches no widget."""

    def cautions(self) -> ComposeResult:
        """The one about the beam."""
        yield Static(f"! Laser. {LASER}")

    def on_mount(self) -> None:
        """Take the meter."""
        self.begin()

    def begin(self) -> None:
        """Work with the meter from the beginning."""
        self.run_worker(self._begin(), name=self.STEP, group=_METER)

    async def _begin(self) -> None:
        await self.app.let_go_of_meter()
        await self.with_the_meter()

    async def stop(self) -> None:
        """Have done with the meter, for now or for good."""
        await stop_group(self, _METER)

    @on(Failed)
    def _complain(self, event: Failed) -> None:
        self.tell(event.why, wrong=True)

    async def action_leave(self) -> None:
        """Give the meter back and go back to where this was opened."""
        await self.stop()
        self.dismiss()
        self.app.listen_again()
