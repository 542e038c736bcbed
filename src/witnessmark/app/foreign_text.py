"""The one way of all text to the app's screens: signs that would steer the terminal are shown."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.filter import LineFilter

from witnessmark.sentences import visible

if TYPE_CHECKING:
    from textual.color import Color


class SteeringShown(LineFilter):
    """Writes them out in each line that is painted, which stays as wide as it was."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Return the line with such signs written out."""
        if all(text.isprintable() for text, _, _ in segments):
            return segments
        width = Segment.get_line_length(segments)
        shown = [one if one.control else Segment(visible(one.text), one.style) for one in segments]
        return Segment.adjust_line_length(shown, width)
