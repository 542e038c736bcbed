"""What the keys do, and what can hurt."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.table import Table
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from witnessmark.app.commands import commands_for, spoken_keys
from witnessmark.app.steps import ASIDES, FORMS, Aside, Place, Step
from witnessmark.app.widgets.key_bar import KeyBar
from witnessmark.layout.cautions import LASER_CAUTION, MOVING_CAUTION

if TYPE_CHECKING:
    from textual.app import ComposeResult

_WITH_LISTS = frozenset({Aside.SURVEY, Aside.FITTINGS})
_IN_LISTS = ("↑ ↓, Enter, Del", "In the list: point at a row, take it up again, take it out.")
_IN_FIELDS = (
    ("Tab, Enter", "Go to the next field; Shift+Tab goes to the one before."),
    ("← →", "Choose among the options where there are several."),
)


class HelpScreen(ModalScreen[None]):
    """The keys of a place, read from the same list as the key bar, and the cautions."""

    BINDINGS: ClassVar[list[BindingType]] = [
        ("escape,question_mark,f1,q", "dismiss", "Close"),
        ("ctrl+q", "app.quit", "Quit"),
    ]
    DEFAULT_CSS = """
    HelpScreen { align: center middle; }
    HelpScreen #help {
        width: 90%;
        max-width: 90;
        height: 90%;
        background: $surface;
        border: round $primary;
        padding: 0 1;
    }
    """

    def __init__(self, place: Place, *, rehearsed: bool) -> None:
        """``place`` is the one whose keys are told, those of the demo where it is ``rehearsed``."""
        super().__init__()
        self.place = place
        self.rehearsed = rehearsed

    def compose(self) -> ComposeResult:
        """One page of text that scrolls."""
        with VerticalScroll(id="help"):
            yield Static(self._page())
        yield KeyBar()

    def _page(self) -> Table:
        page = Table.grid(padding=(0, 2))
        page.add_column(justify="right", style="bold", no_wrap=True)
        page.add_column()
        page.add_row("", f"Keys: {self.place.heading}", style="bold")
        for command in commands_for(self.place):
            if self.rehearsed or not command.id.startswith("rehearsal."):
                page.add_row(spoken_keys(command.keys), command.explained)
        if self.place is Step.LIVE:
            page.add_row("0 to 9", "Begin to type a distance, as from a tape; Enter takes it.")
        if self.place in FORMS | ASIDES:
            for keys, words in _IN_FIELDS:
                page.add_row(keys, words)
        if self.place in _WITH_LISTS:
            page.add_row(*_IN_LISTS)
        page.add_row("")
        page.add_row("", "Take care", style="bold")
        for name, words in (("Laser", LASER_CAUTION), ("Cabinets", MOVING_CAUTION)):
            page.add_row(name, words)
        return page
