"""One line about the meter: connected, quiet or lost, what it read last, and what was odd."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from witnessmark.meters.port import Fault, Link, LinkState, Noise, Report
from witnessmark.model import Reading

_MARKS = {
    LinkState.OPEN: ("●", "$text-success"),
    LinkState.QUIET: ("◐", "$text-warning"),
    LinkState.LOST: ("○", "$text-error"),
    LinkState.CLOSED: ("○", "$text-muted"),
}


class MeterLine(Static):
    """Tells every change of the link in words, counts what could not be understood."""

    DEFAULT_CSS = """
    MeterLine { height: 1; background: $surface; padding: 0 1; }
    """

    def __init__(self, address: str) -> None:
        """``address`` is shown until the meter says something."""
        super().__init__(Content(f"{address}  not connected yet"))
        self.state: LinkState | None = None
        self.words = f"{address}  not connected yet"
        self.last = ""
        self.odd = 0

    def tell(self, report: Report) -> None:
        """Take in what came from the meter, or about it."""
        if isinstance(report, Link):
            self.state, self.words = report.state, report.words
        elif isinstance(report, Fault):
            self.last = f"meter says: {report.fault}"
        elif isinstance(report, Noise):
            self.odd += 1
            self.last = f"not understood: {report.why}"
        elif isinstance(report, Reading):
            self.last = f"{report.distance_mm:.1f} mm"
            if self.state is LinkState.QUIET:
                self.state = LinkState.OPEN
        self._show()

    def say(self, words: str) -> None:
        """Say something beside what the meter says."""
        self.last = words
        self._show()

    def _show(self) -> None:
        mark, style = _MARKS.get(self.state, ("·", "$text-muted")) if self.state else ("·", "")
        odd = f"  {self.odd} odd" if self.odd else ""
        self.update(
            Content.assemble((f"{mark} ", style), self.words, f"{odd}  ", (self.last, "bold")),
            layout=False,
        )
