"""One line about the meter: connected, quiet or lost, what it read last, and what was odd."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar

from msgspec import UNSET
from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual import on
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from witnessmark.app.following import Happened
from witnessmark.lengths import Units, format_length
from witnessmark.meters.port import Fault, Link, LinkState, Noise, Report
from witnessmark.model import Reading
from witnessmark.sentences import visible
from witnessmark.session.events import Came, LinkChanged

_MARKS = {LinkState.OPEN: "●", LinkState.QUIET: "◐", LinkState.LOST: "○", LinkState.CLOSED: "○"}
_BOLD, _ITALIC = Style(bold=True), Style(italic=True)
_GAP = 2
_LEAST = 24
"""Fewer cells do not tell enough of what is measured for."""


class MeterLine(Widget):
    """Tells every change of the link in words, counts what could not be understood.

    Painted without detours, for a person waits for the digits after each press of the button.
    """

    COMPONENT_CLASSES: ClassVar[set[str]] = {f"meter-line--{state}" for state in LinkState}
    DEFAULT_CSS = """
    MeterLine {
        height: 1;
        background: $surface;
        padding: 0 1;
        .meter-line--open { color: $text-success; }
        .meter-line--quiet { color: $text-warning; }
        .meter-line--lost { color: $text-error; }
        .meter-line--closed { color: $text-muted; }
    }
    """

    purpose: reactive[str] = reactive("")
    """What is measured for, at the end of the line where there is room; empty for the usual."""

    def __init__(self, address: str, units: Callable[[], Units]) -> None:
        """``address`` is shown until the meter says something; ``units`` are those of today."""
        super().__init__()
        self._units = units
        self.state: LinkState | None = None
        self.words = self._open_words = f"{address}  not connected yet"
        self.last = ""
        self.odd = 0

    @on(Happened)
    def _hear(self, event: Happened) -> None:
        match event.what:
            case LinkChanged(link=report) | Came(what=Reading() | Fault() | Noise() as report):
                self.tell(report)

    def tell(self, report: Report) -> None:
        """Take in what came from the meter, or about it."""
        if isinstance(report, Link):
            self.state, self.words = report.state, report.words
            if report.state is LinkState.OPEN:
                self._open_words = report.words
        elif isinstance(report, Fault):
            self.last = f"meter says: {report.fault}"
        elif isinstance(report, Noise):
            self.odd += 1
            self.last = f"not recognised: {report.why}"
            if report.bare is not UNSET:
                self.last = f"{report.bare} has no unit: see Meter"
        elif isinstance(report, Reading):
            self.last = format_length(report.distance_mm, self._units().finer)
            if self.state is LinkState.QUIET:
                self.state, self.words = LinkState.OPEN, self._open_words
        self.refresh()

    def say(self, words: str) -> None:
        """Say something beside what the meter says."""
        self.last = words
        self.refresh()

    @property
    def text(self) -> str:
        """What is painted, without colour."""
        return "".join(text for text, _ in self._pieces())

    def render_line(self, y: int) -> Strip:
        style = self.rich_style
        pieces = [Segment(text, style + own) for text, own in self._pieces()]
        said, width = Strip(pieces), self.size.width
        left = width - said.cell_length - _GAP
        if not self.purpose or left < _LEAST:
            return said.adjust_cell_length(width, style)
        purpose = Text(visible(self.purpose))
        purpose.truncate(left, overflow="ellipsis")
        end = Segment(purpose.plain, style + _ITALIC)
        return Strip([*said.adjust_cell_length(width - purpose.cell_len, style), end])

    def _pieces(self) -> list[tuple[str, Style]]:
        plain, marked = Style.null(), Style.null()
        if self.state:
            marked = self.get_component_rich_style(f"meter-line--{self.state}", partial=True)
        odd = f"  {self.odd} odd" if self.odd else ""
        mark = _MARKS[self.state] if self.state else "·"
        words = f"{visible(self.words)}{odd}  "
        return [(f"{mark} ", marked), (words, plain), (visible(self.last), _BOLD)]
