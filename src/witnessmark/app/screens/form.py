"""What every screen with a form has: it scrolls where it is too long for its place."""

from __future__ import annotations

from textual import getters
from textual.screen import Screen
from textual.widget import Widget

from witnessmark.app.app import WitnessmarkApp


class FormScreen(Screen[None]):
    """A screen with fields in ``form`` and more in ``aside``, both called so by their ids."""

    app = getters.app(WitnessmarkApp)

    def action_scroll_form(self, pages: int) -> None:
        """Scroll the form, and what stands beside it, by pages."""
        for part in self._parts():
            part.scroll_relative(y=pages * part.size.height, animate=False)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Scrolling takes something that is too long for its place."""
        if action == "scroll_form":
            return any(part.max_scroll_y > 0 for part in self._parts())
        return True

    def _parts(self) -> list[Widget]:
        return [self.query_one("#form"), self.query_one("#aside")]
