"""Large figures and the scale of a watched point, to be read from three metres."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.content import Content
from textual.geometry import Region
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from witnessmark.drawing.bigfont import big_rows, rows_below
from witnessmark.lengths import Units, format_bare, format_length

if TYPE_CHECKING:
    from witnessmark.placing.cabinet_work import Watch
    from witnessmark.placing.guidance import Guidance

_PAST = 0.25
"""Part of the way that the scale goes on past the stop, for who has pushed too far."""


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

    def __init__(self, text: str = "", *, id: str | None = None) -> None:
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


def scale_row(watch: Watch, now_mm: float, units: Units, width: int) -> str:
    """Return a row with the start at its left, the stop near its right, and where the point is.

    Args:
        watch: from where to where the point is to go.
        now_mm: what it reads.
        units: those of the lengths shown.
        width: columns of the row.
    """
    start, stop = format_bare(watch.start_mm, units), format_length(watch.stop_mm, units)
    left, right = f"{start} ", f" stop at {stop}"
    columns = max(width - len(left) - len(right) - 1, 2)
    made = watch.made(now_mm)
    # a point just past or short of the stop is never drawn on it
    at = min(max(round(columns * made / (1.0 + _PAST)), 0), columns)
    end = round(columns / (1.0 + _PAST))
    cells = ["━" if place < at else "─" for place in range(columns + 1)]
    cells[end] = "┃"
    cells[at] = "●"
    return f"{left}{''.join(cells)}{right}"


class WatchScale(Widget):
    """The scale of what is watched; nothing while nothing is."""

    DEFAULT_CSS = """
    WatchScale { height: 1; width: 1fr; padding: 0 1; color: $accent; display: none; }
    """

    text: reactive[str] = reactive("")

    def show(self, guidance: Guidance) -> None:
        """Show how far the point has come that is watched, if one is."""
        watch, held = guidance.watch, guidance.held
        self.display = watch is not None and held is not None
        if watch is not None and held is not None:
            width = self.app.size.width - 2
            self.text = scale_row(watch, held.reading_mm, guidance.setup.units, width)

    def render(self) -> Content:
        """The row."""
        return Content(self.text)
