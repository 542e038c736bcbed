"""A few large figures, to be read from three metres."""

from __future__ import annotations

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from witnessmark.app.bigfont import big_rows


class BigFigures(Widget):
    """One short text in half blocks, as large as the widget's own size allows, in its middle.

    ``text`` is what is shown, for tests and for readers of the screen.
    """

    DEFAULT_CSS = """
    BigFigures { width: 1fr; height: 7; text-style: bold; }
    """

    text: reactive[str] = reactive("")

    def __init__(self, text: str = "", *, id: str | None = None) -> None:  # noqa: A002
        """``text`` is shown at first."""
        super().__init__(id=id)
        self.set_reactive(BigFigures.text, text)
        self._style = Style.null()

    def render_lines(self, crop: Region) -> list[Strip]:
        """Rows of the figures, for which their style is worked out once."""
        self._style = self.rich_style
        return super().render_lines(crop)

    def render_line(self, y: int) -> Strip:
        """One row of the figures."""
        rows = big_rows(self.text, self.size.width, self.size.height)
        place = y - (self.size.height - len(rows)) // 2
        content = rows[place] if 0 <= place < len(rows) else ""
        return Strip([Segment(content.center(self.size.width), self._style)])
