"""History: every reading, round, trial and mark, a page at a time."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Final

from rich.table import Table
from rich.text import Text
from textual import on
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import WitnessmarkError
from witnessmark.file_errors import printable
from witnessmark.model import Trial
from witnessmark.report.history import group_words
from witnessmark.store.history import HistoryPage, Wanted, history_page
from witnessmark.store.records import KINDS
from witnessmark.store.store import Store
from witnessmark.words.history import item_words

if TYPE_CHECKING:
    from textual.app import ComposeResult

_ALL: Final = "everything"
_KINDS: Final[dict[str, tuple[str, ...]]] = {
    group: tuple(kind.name for kind in KINDS if kind.group == group)
    for group in (_ALL, "readings", "rounds", "trials", "marks")
}
_HERE, _ANYWHERE = "this room", "all rooms"


class HistoryScreen(AsideScreen):
    """One page of the history in order of time, which begins with the newest page, at its end."""

    STEP = Aside.HISTORY
    BINDINGS = bindings_for(STEP)
    ADVICE = "The latest is at the bottom. Nothing measured or saved is ever changed."
    DEFAULT_CSS = """
    HistoryScreen {
        #form { width: 1fr; max-width: 100%; }
        #aside { display: none; }
        Choice { padding: 0 1; }
    }
    """

    @dataclass
    class Turned(Message):
        """A page of the history, the numbers of the trials by keys, and what cannot be read."""

        page: HistoryPage
        numbers: dict[str, int]
        passed_over: str

    def __init__(self) -> None:
        super().__init__()
        self.page = HistoryPage((), 1, 1, 0)
        self._kinds = Choice("Shown", [(kind, kind) for kind in _KINDS], _ALL, id="kinds")
        self._of = Choice("Of", [], _HERE, id="rooms")

    def fields(self) -> ComposeResult:
        yield Plain(id="items")

    def foot(self) -> ComposeResult:
        self._of.offer([(_HERE, self.session.workspace.name), (_ANYWHERE, _ANYWHERE)], _HERE)
        yield self._kinds
        yield self._of

    def on_mount(self) -> None:
        self._kinds.focus()
        self._filter()

    @on(Choice.Changed)
    def _filter(self) -> None:
        self._turn_to(None)

    def action_turn(self, by: int) -> None:
        self._turn_to(self.page.number + by)

    def _turn_to(self, number: int | None) -> None:
        kinds = _KINDS[self._kinds.value]
        is_here = self._of.value == _HERE
        wanted = Wanted(self.session.workspace.name if is_here else None, kinds=kinds)
        self.run_worker(self._read(wanted, number), group="history", exclusive=True)

    async def _read(self, wanted: Wanted, number: int | None) -> None:
        try:
            page, numbers, passed_over = await self.session.journal.look(_page, wanted, number)
        except WitnessmarkError as error:
            self.post_message(self.NotDone(str(error)))
        else:
            self.post_message(self.Turned(page, numbers, passed_over))

    @on(Turned)
    def _show(self, event: Turned) -> None:
        page = self.page = event.page
        units = self.session.draft.units.finer
        told = Table.grid(padding=(0, 1))
        told.add_column(no_wrap=True)
        told.add_column(no_wrap=True)
        told.add_column()
        for (room, round_id), items in groupby(page.items, lambda one: (one.room, one.round_id)):
            heading = Text(printable(group_words(room, round_id)))
            told.add_row("", "", heading, style="bold")
            for item in items:
                # as text, for a name may hold brackets
                words = Text(printable(item_words(item, event.numbers, units), 10_000))
                told.add_row(f"{item.at:%Y-%m-%d %H:%M:%S}Z", item.kind, words)
        self.query_one("#items", Static).update(told)
        self.tell(" ".join(filter(None, (_count_words(page), event.passed_over))))
        form = self.query_one("#form", VerticalScroll)
        self.call_after_refresh(form.scroll_end, animate=False)
        self.refresh_bindings()

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action == "turn" and isinstance(by := parameters[0], int):
            return 1 <= self.page.number + by <= self.page.pages
        return super().check_action(action, parameters)


def _page(
    store: Store, wanted: Wanted, number: int | None
) -> tuple[HistoryPage, dict[str, int], str]:
    """A page of what is wanted, the numbers of the trials, and what could not be read."""
    numbers = {trial.key: trial.id for trial in store.kept(Trial)}
    page = history_page(store, wanted, number)
    return page, numbers, store.passed_over


def _count_words(page: HistoryPage) -> str:
    if not page.total:
        return "Nothing of that kind yet."
    return f"Page {page.number} of {page.pages}; {page.total} in all."
