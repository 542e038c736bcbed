"""What the screens that are opened from a step's have in common: a form, and the way back."""

from __future__ import annotations

import abc
from typing import TYPE_CHECKING, ClassVar

from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Static

from witnessmark.app.screens.form import FormScreen
from witnessmark.app.widgets.key_bar import KeyBar

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.app.steps import Aside


class AsideScreen(FormScreen):
    """A form for something beside the steps, which goes back to where it was opened.

    A subclass gives its ``fields``.
    """

    STEP: ClassVar[Aside]
    ADVICE: ClassVar[str]
    DEFAULT_CSS = """
    AsideScreen {
        #title { height: 1; background: $panel; padding: 0 1; text-style: bold; color: $accent; }
        #form { width: 55%; max-width: 76; padding: 0 1; scrollbar-size-vertical: 1; }
        #aside { width: 1fr; padding: 0 1 0 0; overflow-y: auto; scrollbar-size-vertical: 1; }
        #aside > Static { height: auto; margin-bottom: 1; }
    }
    """

    @abc.abstractmethod
    def fields(self) -> ComposeResult:
        """What stands in the form."""

    @property
    def heading(self) -> str:
        """What the screen is called."""
        return self.STEP.heading

    def aside(self) -> ComposeResult:
        """What stands beside the form."""
        yield from ()

    def cautions(self) -> ComposeResult:
        """What can hurt, below that."""
        yield from ()

    def foot(self) -> ComposeResult:
        """What stands right above the keys."""
        yield from ()

    def compose(self) -> ComposeResult:
        """Title, advice, form with its side panel, what is told, keys."""
        yield Static(self.heading, id="title")
        yield Static(self.ADVICE, id="advice")
        with Horizontal(id="body"):
            with VerticalScroll(id="form", can_focus=False):
                yield from self.fields()
            with Vertical(id="aside"):
                yield from self.aside()
                yield from self.cautions()
        yield Static(id="told", markup=False)
        yield from self.foot()
        yield KeyBar()

    async def action_leave(self) -> None:
        """Go back to where this was opened."""
        self.dismiss()
