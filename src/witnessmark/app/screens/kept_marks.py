"""What the screens of marks share: reading them from the store, their list, what one holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from textual.content import Content
from textual.message import Message

from witnessmark.app.screens.form import FormScreen
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.errors import StoreError
from witnessmark.file_errors import printable
from witnessmark.lengths import Units, format_known
from witnessmark.model import Mark, Setup, Side
from witnessmark.report.mark import standing
from witnessmark.sentences import hanging, sentence
from witnessmark.session.cabinet_details import turns_words
from witnessmark.session.draft import Draft
from witnessmark.store.records import Kept
from witnessmark.words.history import enough_words, moment_words
from witnessmark.words.marks import points, since_words

_LONGEST = 1000
"""Letters of notes that are shown; in the store they are whole."""
_COLUMN = 15
"""Cells that a bare figure with its uncertainty takes."""


class ReadsMarks(FormScreen):
    """Reads the marks of the open room from the store.

    Named after another kind of screen, whose style is taken over, by those that are one.
    """

    @dataclass
    class MarksRead(Message):
        """The marks of this room, in the order in which they were kept; ``told`` is of that."""

        marks: list[Kept[Mark]]
        told: str = ""

    def __init__(self) -> None:
        super().__init__()
        self.marks: list[Kept[Mark]] = []

    def on_mount(self) -> None:
        self.run_worker(self._find(), group="marks")

    async def _find(self) -> None:
        try:
            found = await self.session.marks()
            unread = await self.session.newly_passed_over()
        except StoreError as error:
            self.post_message(self.NotDone(str(error)))
        else:
            self.post_message(self.MarksRead(found))
            if unread:
                self.post_message(self.NotDone(unread))

    def list_in(self, entries: PickList, columns: int) -> None:
        """List the marks, the latest pointed at and in sight."""
        entries.show(mark_rows(self.marks, columns))
        if self.marks:
            entries.place = len(self.marks) - 1
            self.call_after_refresh(entries.reveal)

    def measure_for(self, mark: Mark, aimed: Callable[[Setup, Mark], Setup]) -> None:
        """Aim the present setup at a mark, and say what was entered otherwise since."""
        since = since_words(mark, self.setup)
        self.app.measure_for(Draft.of(aimed(self.setup, mark)), points(since) if since else "")


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
    """Return what a mark holds: where both stood and leant, spikes, shots and notes."""
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
