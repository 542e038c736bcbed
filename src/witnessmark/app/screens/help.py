"""What the keys do, and what can hurt."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from rich.table import Table
from textual.binding import BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from witnessmark.app.commands import commands_for, spoken_keys
from witnessmark.app.steps import ASIDES, EVENING, FORMS, Aside, Place, Step
from witnessmark.app.widgets.bars import KeyBar
from witnessmark.words.cautions import DARK, LASER, LOCAL_RULES, LOUDNESS, MOVING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from textual.app import ComposeResult

_WITH_LISTS = frozenset({Aside.SURVEY, Aside.FITTINGS})
_TO_CHOOSE_FROM = frozenset({Step.MARKS, Aside.ROOMS})
_IN_LISTS = ("↑ ↓, Enter, Del", "In the list: point at a row, take it up again, take it out.")
_IN_GRADES = (
    ("1 to 5", "Grade the row that is pointed at: 1 bad, 2 poor, 3 fair, 4 good, 5 excellent."),
    ("F, J", "One grade worse or better; both keys can be felt for. Space goes on."),
    ("Del", "Take the grade back."),
    ("Enter", "In the list: make that position the target again."),
)
_CHOSEN = ("↑ ↓, Enter", "In the list: point at a row, choose it.")
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
    HelpScreen { align: center middle; background: $background; }
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
        with VerticalScroll(id="help"):
            yield Static(self._page())
        yield KeyBar()

    def _page(self) -> Table:
        page = Table.grid(padding=(0, 2))
        page.add_column(justify="right", style="bold", no_wrap=True)
        page.add_column()
        page.add_row("", f"Keys: {self.place.heading}", style="bold")
        for keys, words in self._keys():
            page.add_row(keys, words)
        page.add_row("")
        page.add_row("", "Take care", style="bold")
        for name, words in self._cautions():
            page.add_row(name, words)
        return page

    def _keys(self) -> Iterator[tuple[str, str]]:
        for command in commands_for(self.place):
            if self.rehearsed or not command.id.startswith("rehearsal."):
                yield spoken_keys(command.keys), command.explained
        if self.place is Step.LIVE:
            yield "0 to 9", "Begin to type a distance, as from a tape; Enter takes it."
        if self.place is Step.LISTEN:
            yield from _IN_GRADES
        if self.place in FORMS | EVENING | ASIDES:
            yield from _IN_FIELDS
        if self.place in _WITH_LISTS:
            yield _IN_LISTS
        if self.place in _TO_CHOOSE_FROM:
            yield _CHOSEN

    def _cautions(self) -> Iterator[tuple[str, str]]:
        yield from (("Laser", LASER), ("Cabinets", MOVING))
        if self.place is Step.LISTEN:
            yield "Loudness", LOUDNESS
        if self.place in EVENING | {Step.LIVE}:
            yield "Darkness", DARK
        yield "Rules", LOCAL_RULES
