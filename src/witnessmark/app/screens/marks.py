"""Marks: keeping where the pair stands, comparing, and putting back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.containers import VerticalScroll
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.evening import MarkAnswers, mark_form
from witnessmark.app.forms.form import FormView
from witnessmark.app.screens.form import EveningScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.errors import BadInput, StoreError
from witnessmark.file_errors import printable
from witnessmark.lengths import Units, format_known
from witnessmark.model import Mark, Setup, Side
from witnessmark.placing.marks import (
    mark_of,
    purpose_words,
    to_be_nudged,
    to_check,
    to_put_back,
    why_unknown,
)
from witnessmark.report.mark import standing
from witnessmark.sentences import hanging, refusal, sentence
from witnessmark.session.cabinet_details import turns_words
from witnessmark.session.draft import Draft
from witnessmark.store.records import Kept
from witnessmark.store.store import Store
from witnessmark.words.history import enough_words, moment_words
from witnessmark.words.marks import moved_words, points, since_words

if TYPE_CHECKING:
    from collections.abc import Callable

    from textual.app import ComposeResult

    from witnessmark.placing.guidance import Guidance
    from witnessmark.session.events import LiveRound


_NOW = "now"
_LEAST_COLUMNS = 20
_LONGEST = 1000
"""Letters of notes that are shown; in the store they are whole."""
_COLUMN = 15
"""Cells that a bare figure with its uncertainty takes."""


class MarksScreen(EveningScreen):
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

    @dataclass
    class MarksRead(Message):
        """The marks of this room, in the order in which they were kept; ``told`` is of that."""

        marks: list[Kept[Mark]]
        told: str = ""

    def __init__(self) -> None:
        super().__init__()
        self.marks: list[Kept[Mark]] = []
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
        yield Static(id="held", markup=False)
        yield self._against
        yield Static(id="moved", markup=False)

    def on_mount(self) -> None:
        self.tell(self.app.take_notice())
        self._show()
        self.run_worker(self._find(), group="marks")

    async def _find(self) -> None:
        try:
            found = await self.session.journal.run(Store.kept, Mark, self.session.workspace.name)
        except StoreError as error:
            self.post_message(self.NotDone(str(error)))
        else:
            self.post_message(self.MarksRead(found))

    @on(MarksRead)
    def _take_marks(self, event: MarksRead) -> None:
        self.marks = event.marks
        # a mark that another took the place of is not offered for that once more
        replaced = {mark.record.supersedes for mark in self.marks}
        free: list[tuple[str | None, str]] = [
            (mark.key, mark.record.name) for mark in self.marks if mark.key not in replaced
        ]
        self._form.offer("supersedes", [(None, "none"), *free], None)
        entries = self._list
        entries.show(mark_rows(self.marks, self._columns))
        if self.marks:
            entries.place = len(self.marks) - 1
            if event.told or self.focused is None:
                entries.focus()
            self.call_after_refresh(entries.reveal)
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
        self.query_one("#advice", Static).update(self._advice())
        held = "" if pointed is None else held_lines(pointed, self.setup.units.finer)
        self.query_one("#held", Static).update(held)
        others = [(mark.key, mark.record.name) for mark in self.marks if mark is not pointed]
        chosen = against.value if against.value in dict(others) else _NOW
        against.offer([(_NOW, "now"), *others], chosen)
        against.display = pointed is not None
        words = [] if pointed is None else self._moved(pointed.record, chosen)
        self.query_one("#moved", Static).update(points(words))
        self.refresh_bindings()

    def _advice(self) -> str:
        purpose = purpose_words(self.setup)
        if purpose:
            return f"Under way: {purpose}. Ctrl+L stops this."
        return "Save this position under a name, to put it back another day."

    def _moved(self, mark: Mark, against: str) -> list[str]:
        """What moved between a mark and another, or where the cabinets stand now."""
        if against != _NOW:
            other = next(one.record for one in self.marks if one.key == against)
            return list(moved_words(mark, other))
        live, why = self.session.current, why_unknown(self.session.guidance)
        if live is None or why is not None:
            return [f"what has moved since is not known: {why}", *since_words(mark, self.setup)]
        words = list(moved_words(mark, self._mark_of(live, _NOW)))
        if to_be_nudged(live.guidance):
            words.insert(0, "as it was measured before the requested nudge")
        return words

    def action_keep(self) -> None:
        live, why = self.session.current, why_unknown(self.session.guidance)
        if live is None or why is not None:
            self._refuse(f"No mark can be saved now: {why}.")
        elif self.are_settled(self._form.open_fields) and not self._is_in_doubt(live.guidance):
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
        """Whether a cabinet may have been nudged since, which only the person knows."""
        side = to_be_nudged(guidance)
        if side is None or guidance is self._asked_of:
            return False
        self._asked_of = guidance
        self._refuse(
            f"A nudge is requested for the {side} cabinet. If nobody has moved it since, press "
            "Ctrl+S again to save it as measured; otherwise shoot it first."
        )
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
            self.post_message(self.MarksRead([*self.marks, kept], f'"{mark.name}" is saved.'))

    @on(PickList.Picked)
    def action_put_back(self) -> None:
        if self.pointed is not None:
            self._measure_for(self.pointed.record, to_put_back)

    def action_look_after(self) -> None:
        if self.pointed is not None:
            self._measure_for(self.pointed.record, to_check)

    def _measure_for(self, mark: Mark, aimed: Callable[[Setup, Mark], Setup]) -> None:
        """Aim the present setup at a mark, and say what was entered otherwise since."""
        since = since_words(mark, self.setup)
        self.app.measure_for(Draft.of(aimed(self.setup, mark)), points(since) if since else "")

    def action_let_go(self) -> None:
        self.session.edit(msgspec.structs.replace(self.session.draft, restoring=None))
        self._show()
        self.tell("The targets stay at that mark's position; set others on the layout screen.")

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        if action in ("put_back", "look_after"):
            return bool(self.marks)
        if action == "let_go":
            return self.session.draft.restoring is not None
        return super().check_action(action, parameters)


def mark_rows(marks: Sequence[Kept[Mark]], columns: int) -> list[Content]:
    """Each mark with its time, and whether another took its place."""
    replaced = {mark.record.supersedes for mark in marks}
    rows = []
    for mark in marks:
        gone = "; replaced" if mark.key in replaced else ""
        name, when = hanging(mark.record.name, columns), f"  {moment_words(mark.record.at)}{gone}"
        below = hanging(when, columns, rest="  ")
        rows.append(Content.assemble(name, "\n", (below, "$text-muted")))
    return rows


def held_lines(kept: Kept[Mark], units: Units) -> Content:
    """What a mark holds: where both stood and leant, spikes, shots and notes."""
    return Content("\n").join(list(_held(kept, units)))


def _held(kept: Kept[Mark], units: Units) -> Iterator[Content]:
    mark = kept.record
    yield Content.styled(mark.name, "bold")
    cells = {side: dict(_cells(mark, side, units)) for side in Side}
    if units.is_metric:
        heads = "".join(f"{side:<{_COLUMN}}" for side in Side)
        yield Content.styled(f"{'':8}{heads}".rstrip(), "$text-muted")
        for name in cells[Side.LEFT] | cells[Side.RIGHT]:
            own = "".join(f"{cells[side].get(name, '—'):<{_COLUMN}}" for side in Side)
            yield Content(f"{name:8}{own}".rstrip())
    else:
        for side in Side:
            yield from (Content(f"{side:6}{name:8}{cell}") for name, cell in cells[side].items())
    for side in Side:
        if turns := turns_words(mark.spike_turns[side]):
            yield Content(f"{side} spikes, turns out: {turns}")
    yield from (Content(sentence(words)) for words in enough_words(mark))
    of = "" if kept.round_id is None else f", round {kept.round_id}"
    counted = f"{len(mark.shots)} shots{of}; ± covers about 95 %"
    yield Content.styled(counted, "$text-muted")
    if mark.notes:
        yield Content(printable(mark.notes, _LONGEST))


def _cells(mark: Mark, side: Side, units: Units) -> Iterator[tuple[str, str]]:
    for stood in standing(mark, side):
        if stood.quantity.is_length:
            told = format_known(stood.value, stood.expanded, units)
            yield stood.quantity.label, told.replace(" mm", "") if units.whole is Units.MM else told
        else:
            yield stood.quantity.label, f"{stood.value:.2f}° ±{stood.expanded:.2f}"
