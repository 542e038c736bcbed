"""The smallest app that shows a number: what the program's own speed is measured against."""

from __future__ import annotations

from textual.app import App, ComposeResult
from textual.widgets import Static


class SmallestApp(App[None]):
    """One line of text."""

    def compose(self) -> ComposeResult:
        """The line."""
        yield Static("number 0", id="number")


if __name__ == "__main__":
    SmallestApp().run()
