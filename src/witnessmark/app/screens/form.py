"""What every screen with a form has: it scrolls where it is too long for its place."""

from __future__ import annotations

from textual import getters
from textual.containers import VerticalScroll
from textual.screen import Screen

from witnessmark.app.app import WitnessmarkApp


class FormScreen(Screen[None]):
    """A screen with fields in a ``VerticalScroll`` called ``form``."""

    app = getters.app(WitnessmarkApp)

    def action_scroll_form(self, pages: int) -> None:
        """Scroll the form by pages."""
        form = self.query_one("#form", VerticalScroll)
        form.scroll_relative(y=pages * form.size.height, animate=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Scrolling takes a form that is too long for its place."""
        if action == "scroll_form":
            return self.query_one("#form", VerticalScroll).max_scroll_y > 0
        return True
