"""A few large figures, to be read from three metres."""

from __future__ import annotations

from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.geometry import Region
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from witnessmark.drawing.bigfont import big_rows, rows_below


class BigFigures(Widget):
    """A short text in half blocks, as large as the widget's own size allows, in its middle.

    ``text`` is what is shown, ``below`` a second line under it that is no larger; both are for
    tests and for readers of the screen, too.
    """

    DEFAULT_CSS = """
    BigFigures {
        width: 1fr;
        height: 7;
        text-style: bold;
        .big-figures--below { color: $foreground; }
    }
    """
    COMPONENT_CLASSES: ClassVar[set[str]] = {"big-figures--below"}

    text: reactive[str] = reactive("")
    below: reactive[str] = reactive("")

    def __init__(self, text: str = "", *, id: str | None = None) -> None:  # noqa: A002
        """``text`` is shown at first."""
        super().__init__(id=id)
        self.set_reactive(BigFigures.text, text)
        self._style = self._style_below = Style.null()

    def render_lines(self, crop: Region) -> list[Strip]:
        """Rows of the figures, for which their style is worked out once."""
        self._style = self.rich_style
        self._style_below = self.get_component_rich_style("big-figures--below")
        return super().render_lines(crop)

    def render_line(self, y: int) -> Strip:
        wide, high = self.size
        below = rows_below(high) if self.below else 0
        if y < high - below:
            rows, style = big_rows(self.text, wide, high - below), self._style
            place = y - (high - below - len(rows)) // 2
        else:
            rows, style = big_rows(self.below, wide, below), self._style_below
            place = y - (high - below)
        content = rows[place] if 0 <= place < len(rows) else ""
        return Strip([Segment(content.center(wide), style)])
