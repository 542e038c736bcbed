"""The way of a point that is watched while the cabinet is moved, as a scale of one row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.reactive import reactive
from textual.widget import Widget

from witnessmark.lengths import Units, format_bare, format_length

if TYPE_CHECKING:
    from witnessmark.placing.cabinet_work import Watch
    from witnessmark.placing.guidance import Guidance

_PAST = 0.25
"""Part of the way that the scale goes on past the stop, for who has pushed too far."""


def scale_row(watch: Watch, now_mm: float, units: Units, width: int) -> str:
    """Return a row with the start at its left, the stop near its right, and where the point is.

    Args:
        watch: from where to where the point is to go.
        now_mm: what it reads.
        units: those that lengths are told in.
        width: columns of the row.
    """
    start, stop = format_bare(watch.start_mm, units), format_length(watch.stop_mm, units)
    left, right = f"{start} ", f" stop at {stop}"
    columns = max(width - len(left) - len(right) - 1, 2)
    made = watch.made(now_mm)
    # past the stop it is told apart from the stop, and short of it as well
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

    def render(self) -> str:
        """The row."""
        return self.text
