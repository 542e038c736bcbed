"""Marks: keeping where the pair stands, comparing, and putting back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.containers import VerticalScroll
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.evening import MarkAnswers, mark_form
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens.form import EveningScreen
from witnessmark.app.screens.kept_marks import ReadsMarks, held_lines
from witnessmark.app.steps import Step
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import BadInput, StoreError
from witnessmark.model import Mark
from witnessmark.placing.marks import (
    mark_of,
    to_be_nudged,
    to_check,
    to_put_back,
)
from witnessmark.sentences import refusal
from witnessmark.store.records import Kept
from witnessmark.store.store import Store
from witnessmark.words.marks import (
    BEFORE_NUDGE,
    TARGETS_STAY,
    marks_advice,
    moved_words,
    not_saved_words,
    nudge_in_doubt_words,
    points,
    saved_words,
    since_unknown_words,
    since_words,
    why_unknown,
)

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.placing.guidance import Guidance
    from witnessmark.session.events import LiveRound


_NOW = "now"
_LEAST_COLUMNS = 20


class MarksScreen(EveningScreen, ReadsMarks):
    """The marks of this room: one more is kept in the form, those that there are stand beside."""

    STEP = Step.MARKS
    BINDINGS = bindings_for(STEP)
    AUTO_FOCUS = "Input"  # for a name is typed, and its letters are no commands
    DEFAULT_CSS = """
    MarksScreen {
        #list { height: auto; max-height: 35%; margin-bottom: 1; scrollbar-size-vertical: 1; }
        #against { margin-bottom: 1; }
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self._asked_of: Guidance | None = None
        self._list = PickList(empty="This room has no mark yet.", always_points=True, id="marks")
        self._against = Choice("Compared with", [(_NOW, "now")], _NOW, id="against")
        self._form: FormView[MarkAnswers]

    def fields(self) -> ComposeResult:
        self._form = FormView(mark_form(self.setup.cabinets), self.session.draft.units)
        yield self._form

    def aside(self) -> ComposeResult:
        with VerticalScroll(id="list", can_focus=False):
            yield self._list
        yield Plain(id="held")
        yield self._against
        yield Plain(id="moved")

    def on_mount(self) -> None:
        self.tell(self.app.take_notice())
        self._show()

    @on(ReadsMarks.MarksRead)
    def _take_marks(self, event: ReadsMarks.MarksRead) -> None:
        self.marks = event.marks
        # a mark that another took the place of is not offered for that once more
        replaced = {mark.record.supersedes for mark in self.marks}
        free: list[tuple[str | None, str]] = [
            (mark.key, mark.record.name) for mark in self.marks if mark.key not in replaced
        ]
        self._form.offer("supersedes", [(None, "none"), *free], None)
        self.list_in(self._list, self._columns)
        if self.marks and (event.told or self.focused is None):
            self._list.focus()
        if event.told:
            self._form.clear()
        self._show()
        self.tell(event.told)

    @property
    def _columns(self) -> int:
        return max(self.query_one("#aside").size.width - 4, _LEAST_COLUMNS)

    @property
    def pointed(self) -> Kept[Mark] | None:
        """The mark that is pointed at."""
        place = self._list.place
        return self.marks[place] if place < len(self.marks) else None

    @on(PickList.Pointed)
    @on(Choice.Changed)
    def _show(self) -> None:
        """Show what the mark holds that is pointed at, and what moved since."""
        pointed, against = self.pointed, self._against
        self.query_one("#advice", Static).update(marks_advice(self.setup))
        held = "" if pointed is None else held_lines(pointed, self.setup.units.finer)
        self.query_one("#held", Static).update(held)
        others = [(mark.key, mark.record.name) for mark in self.marks if mark is not pointed]
        chosen = against.value if against.value in dict(others) else _NOW
        against.offer([(_NOW, "now"), *others], chosen)
        against.display = pointed is not None
        words = [] if pointed is None else self._moved(pointed, chosen)
        self.query_one("#moved", Static).update(points(words))
        self.refresh_bindings()

    def _moved(self, pointed: Kept[Mark], against: str) -> list[str]:
        """Return what moved between a mark and another, or where the cabinets stand now."""
        mark = pointed.record
        if against != _NOW:
            # in the order in which they were kept
            then, now = (one.record for one in self.marks if one.key in (pointed.key, against))
            return list(moved_words(then, now))
        live, why = self.session.current, why_unknown(self.session.guidance)
        if why is not None:
            return [since_unknown_words(why), *since_words(mark, self.setup)]
        assert live is not None  # noqa: S101 - without a round it is unknown
        words = list(moved_words(mark, self._mark_of(live, _NOW)))
        if to_be_nudged(live.guidance):
            words.insert(0, BEFORE_NUDGE)
        return words

    def action_keep(self) -> None:
        live, why = self.session.current, why_unknown(self.session.guidance)
        if why is not None:
            self._refuse(not_saved_words(why))
            return
        assert live is not None  # noqa: S101 - without a round it is unknown
        if self.are_settled(self._form.open_fields) and not self._is_in_doubt(live.guidance):
            try:
                said = self._form.record
                mark = said.on(self._mark_of(live, said.name.strip()))
            except BadInput as error:
                self._refuse(refusal(error))
            else:
                self.run_worker(self._keep(mark, live.id), group="marks")

    def _mark_of(self, live: LiveRound, name: str) -> Mark:
        return mark_of(live.guidance, self.session.clock(), name)

    def _is_in_doubt(self, guidance: Guidance) -> bool:
        """Return whether a cabinet may have been nudged since, which only the person knows."""
        side = to_be_nudged(guidance)
        if side is None or guidance is self._asked_of:
            return False
        self._asked_of = guidance
        self._refuse(nudge_in_doubt_words(side))
        return True

    def _refuse(self, why: str) -> None:
        self.tell(why, wrong=True)
        self.app.bell()

    async def _keep(self, mark: Mark, round_id: int | None) -> None:
        try:
            kept = await self.session.journal.run(
                Store.keep, self.session.workspace.name, round_id, mark
            )
        except StoreError as error:
            self.post_message(self.NotDone(str(error)))
        else:
            self.post_message(self.MarksRead([*self.marks, kept], saved_words(mark)))

    @on(PickList.Picked)
    def action_put_back(self) -> None:
        if self.pointed is not None:
            self.measure_for(self.pointed.record, to_put_back)

    def action_check_mark(self) -> None:
        if self.pointed is not None:
            self.measure_for(self.pointed.record, to_check)

    def action_stop_restoring(self) -> None:
        self.session.edit(msgspec.structs.replace(self.session.draft, restoring=None))
        self._show()
        self.tell(TARGETS_STAY)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action in ("put_back", "check_mark"):
            return bool(self.marks)
        if action == "stop_restoring":
            return self.session.draft.restoring is not None
        return super().check_action(action, parameters)
