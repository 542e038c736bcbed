"""What every screen with a form has: it scrolls where it is too long for its place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import getters
from textual.screen import Screen
from textual.widget import Widget
from textual.widgets import Static

from witnessmark.app.app import WitnessmarkApp

if TYPE_CHECKING:
    from witnessmark.model import Setup
    from witnessmark.session.session import Session


class FormScreen(Screen[None]):
    """A screen with fields in ``form``, more in ``aside`` and a line ``told``, by their ids."""

    app = getters.app(WitnessmarkApp)
    DEFAULT_CSS = """
    FormScreen {
        #advice { padding: 0 1; text-style: bold; height: auto; margin-bottom: 1; }
        #body { height: 1fr; }
        #told { height: auto; max-height: 5; padding: 0 1; }
        #told.-wrong { color: $text-error; text-style: bold; }
    }
    """

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
