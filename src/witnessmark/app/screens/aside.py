"""What the screens that are opened from a step's have in common: the meter to themselves."""

from __future__ import annotations

import abc
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.cautions import LASER_CAUTION
from witnessmark.app.screens.form import FormScreen
from witnessmark.app.widgets.key_bar import KeyBar
from witnessmark.app.workers import stop_group

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.app.steps import Aside

_METER = "meter"


class AsideScreen(FormScreen):
    """A form for something with the meter, which the live screen leaves alone meanwhile.

    A subclass gives its ``fields`` and does its work in ``with_the_meter``.
    """

    STEP: ClassVar[Aside]
    ADVICE: ClassVar[str]
    DEFAULT_CSS = """
    AsideScreen {
        #title { height: 1; background: $panel; padding: 0 1; text-style: bold; color: $accent; }
        #advice { padding: 0 1; text-style: bold; height: auto; margin-bottom: 1; }
        #body { height: 1fr; }
        #form { width: 55%; max-width: 76; padding: 0 1; scrollbar-size-vertical: 1; }
        #aside { width: 1fr; padding: 0 1 0 0; overflow-y: auto; scrollbar-size-vertical: 1; }
        #aside > Static { height: auto; margin-bottom: 1; }
        #told { height: auto; max-height: 5; padding: 0 1; }
        #told.-wrong { color: $text-error; text-style: bold; }
    }
    """

    @dataclass
    class Failed(Message):
        """The meter cannot be had, or something cannot be kept; ``why`` says so."""

        why: str

    @abc.abstractmethod
    def fields(self) -> ComposeResult:
        """What stands in the form."""

    @abc.abstractmethod
    async def with_the_meter(self) -> None:
        """Work with the meter that is chosen; posts messages, touches no widget."""

    def aside(self) -> ComposeResult:
        """What stands beside the form, above the caution."""
        yield from ()

    def foot(self) -> ComposeResult:
        """What stands right above the keys."""
        yield from ()

    def compose(self) -> ComposeResult:
        """Title, advice, form with its side panel and the caution, what is told, keys."""
        yield Static(self.STEP.heading, id="title")
        yield Static(self.ADVICE, id="advice")
        with Horizontal(id="body"):
            with VerticalScroll(id="form", can_focus=False):
                yield from self.fields()
            with Vertical(id="aside"):
                yield from self.aside()
                yield Static(f"! Laser. {LASER_CAUTION}")
        yield Static(id="told", markup=False)
        yield from self.foot()
        yield KeyBar()

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

    def tell(self, words: str, *, wrong: bool = False) -> None:
        """Say what there is to say now."""
        line = self.query_one("#told", Static)
        line.update(words)
        line.set_class(wrong, "-wrong")

    @on(Failed)
    def _complain(self, event: Failed) -> None:
        self.tell(event.why, wrong=True)

    async def action_leave(self) -> None:
        """Give the meter back and go back to where this was opened."""
        await self.stop()
        self.dismiss()
        self.app.listen_again()
