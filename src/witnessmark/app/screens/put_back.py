"""Putting back: the marks of this room, the latest one chosen, and one key to begin."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import on
from textual.containers import VerticalScroll
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.screens.kept_marks import ReadsMarks, held_lines
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.app.widgets.plain import Plain
from witnessmark.placing.marks import to_put_back

if TYPE_CHECKING:
    from textual.app import ComposeResult

_COLUMNS = 36


class PutBackScreen(AsideScreen, ReadsMarks):
    """Lists the marks; Enter has the live screen bring both cabinets back to the one chosen."""

    STEP = Aside.PUT_BACK
    BINDINGS = bindings_for(STEP)
    ADVICE = "Enter puts both cabinets back where the mark has them. Arrow keys choose another."

    def __init__(self) -> None:
        super().__init__()
        self._list = PickList(empty="No mark is kept of this room yet: v saves one.", id="marks")

    def fields(self) -> ComposeResult:
        """The marks."""
        with VerticalScroll(id="list", can_focus=False):
            yield self._list

    def aside(self) -> ComposeResult:
        """Yield what the chosen one holds."""
        yield Plain(id="held")

    def on_mount(self) -> None:
        """List what there is."""
        self._list.focus()

    @on(ReadsMarks.MarksRead)
    def _take_marks(self, event: ReadsMarks.MarksRead) -> None:
        self.marks = event.marks
        self.list_in(self._list, _COLUMNS)
        self._show()

    @on(PickList.Pointed)
    def _show(self) -> None:
        if self.marks:
            held = held_lines(self.marks[self._list.place], self.setup.units.finer)
            self.query_one("#held", Static).update(held)

    @on(PickList.Picked)
    def _put_back(self, event: PickList.Picked) -> None:
        self.dismiss()
        self.measure_for(self.marks[event.place].record, to_put_back)
