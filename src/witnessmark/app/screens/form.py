"""The screen with a form, and the one of them that is opened from a step's."""

from __future__ import annotations

import abc
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from textual import getters, on
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.message import Message
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from witnessmark.app.app import WitnessmarkApp
from witnessmark.app.widgets.key_bar import KeyBar

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.app.steps import Aside, Place
    from witnessmark.model import Setup
    from witnessmark.session.session import Session


class FormScreen(Screen[None]):
    """Advice, a form, what stands beside it, what there is to say of both, and the keys.

    A subclass gives its ``fields``, and whatever else of these it has. What is too long for its
    place scrolls.
    """

    STEP: ClassVar[Place]
    ADVICE: ClassVar[str] = ""
    app = getters.app(WitnessmarkApp)
    DEFAULT_CSS = """
    FormScreen {
        #advice { padding: 0 1; text-style: bold; height: auto; margin-bottom: 1; }
        #body { height: 1fr; }
        #told { height: auto; max-height: 5; padding: 0 1; }
        #told.-wrong { color: $text-error; text-style: bold; }
    }
    """

    @dataclass
    class NotDone(Message):
        """What was asked for could not be done; ``why`` is a sentence that says so."""

        why: str

    @abc.abstractmethod
    def head(self) -> ComposeResult:
        """What stands above all else: which screen this is."""

    @abc.abstractmethod
    def fields(self) -> ComposeResult:
        """What stands in the form."""

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
        """All of it, from top to bottom."""
        yield from self.head()
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

    @property
    def session(self) -> Session:
        """The evening, apart from screens."""
        return self.app.session

    @property
    def setup(self) -> Setup:
        """The setup as it is now; for screens that are not reached before there is one."""
        setup = self.session.draft.setup
        if setup is None:
            raise RuntimeError("room, seat and cabinets come before this")
        return setup

    def action_scroll_form(self, pages: int) -> None:
        """Scroll the form, and what stands beside it, by pages."""
        for part in self._parts():
            part.scroll_relative(y=pages * part.size.height, animate=False)

    def tell(self, words: str, *, wrong: bool = False) -> None:
        """Say what there is to say now."""
        line = self.query_one("#told", Static)
        if line.content != words:
            line.update(words)
        line.set_class(wrong, "-wrong")

    @on(NotDone)
    def _complain(self, event: NotDone) -> None:
        self.tell(event.why, wrong=True)

    def action_leave_field(self) -> None:
        """Let go of the field, so that letters are keys."""
        self.set_focus(None)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leaving a field takes a field, scrolling what is too long for its place."""
        if action == "leave_field":
            return self.focused is not None
        if action == "scroll_form":
            return any(part.max_scroll_y > 0 for part in self._parts())
        return True

    def _parts(self) -> list[Widget]:
        return [self.query_one("#form"), self.query_one("#aside")]


class AsideScreen(FormScreen):
    """A form for something beside the steps, which goes back to where it was opened."""

    STEP: ClassVar[Aside]
    DEFAULT_CSS = """
    AsideScreen {
        #title { height: 1; background: $panel; padding: 0 1; text-style: bold; color: $accent; }
        #form { width: 55%; max-width: 76; padding: 0 1; scrollbar-size-vertical: 1; }
        #aside { width: 1fr; padding: 0 1 0 0; overflow-y: auto; scrollbar-size-vertical: 1; }
        #aside > Static { height: auto; margin-bottom: 1; }
    }
    """

    @property
    def heading(self) -> str:
        """What the screen is called."""
        return self.STEP.heading

    def head(self) -> ComposeResult:
        """The title."""
        yield Static(self.heading, id="title")

    async def action_leave(self) -> None:
        """Go back to where this was opened."""
        self.dismiss()
