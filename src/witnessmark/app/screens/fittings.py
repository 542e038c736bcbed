"""What is in the room: lines in place of walls, what stands proud of them, floor to keep clear."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import msgspec
from textual import on
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.fittings import FITTINGS
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.row_kinds import LengthRow
from witnessmark.app.screens.form import MeasuringScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.entry_list import EntryList
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.plan import plan_drawing
from witnessmark.errors import BadInput
from witnessmark.model import Measure, Reading, Room, RoomItem
from witnessmark.sentences import hanging, refusal
from witnessmark.session.room_contents import (
    LINE,
    PROUD,
    ZONE,
    RoomContents,
    answers_for,
    entry_from,
    kind_of,
)
from witnessmark.survey.names import SurveyNames
from witnessmark.words.rooms import LAYOUT_TO_CHECK, SURVEY_DROPPED, changes, entry_words

if TYPE_CHECKING:
    from textual.app import ComposeResult

_BROAD: Final = 37
"""Columns of the list in the narrowest terminal."""
_ABOUT: Final = {
    LINE: "If a side has no wall, as toward the other leg of an L, lay something straight: a "
    "string, a tape, a rug's edge. Put it where nobody trips.",
    PROUD: "A skirting board, radiator or panel that the beam or a cabinet meets before the "
    "wall, between two heights above the floor.",
    ZONE: "Floor where nothing may stand: a hearth, a door's swing, a walkway.",
}


class FittingsScreen(MeasuringScreen):
    """One entry at a time; each goes to the app as soon as it is added, changed or taken out."""

    STEP = Aside.FITTINGS
    BINDINGS = bindings_for(STEP)
    ADVICE = "Enter one thing and press Ctrl+S to add it, then the next. Esc goes back."
    DEFAULT_CSS = """
    FittingsScreen {
        #about { height: auto; margin-bottom: 1; }
        #plan { height: 60%; min-height: 9; margin-bottom: 1; }
        #entries { margin-top: 1; }
    }
    """

    def __init__(self) -> None:
        super().__init__()
        self.contents = RoomContents(Room.rectangular(1000.0, 1000.0), None)
        self.changing: int | None = None
        self._surveyed: tuple[Room, tuple[Measure, ...]] = (self.contents.room, ())
        kinds = [(LINE, "a line"), (PROUD, "on a wall"), (ZONE, "kept clear")]
        self._kind = Choice("Add", kinds, LINE, id="kind")
        self._list = EntryList(empty="Nothing is in the room yet.", id="entries")
        self._forms: dict[str, FormView[Any]]

    @property
    def names(self) -> SurveyNames:
        """How the room is put into words."""
        return SurveyNames(self.contents.room.datum, self.session.draft.units)

    def fields(self) -> ComposeResult:
        units = self.session.draft.units
        self._forms = {kind: FormView(form, units) for kind, form in FITTINGS.items()}
        yield self._kind
        yield Plain(id="about")
        yield from self._forms.values()
        yield self._list

    def aside(self) -> ComposeResult:
        yield PlanView(id="plan")

    def on_mount(self) -> None:
        draft = self.session.draft
        if draft.room is None:
            raise RuntimeError("what is in the room comes after the room")
        self.contents = RoomContents(draft.room, draft.seat)
        self._surveyed = (draft.room, draft.survey)
        self._choose_kind()

    def take(self, reading: Reading) -> None:
        row = self._form.current
        if not isinstance(row, LengthRow):
            self.tell(
                "That reading is in the journal but not used: go to a field first, then measure."
            )
            return
        self._form.fill(**{row.name: reading.from_the_edge_mm(self.session.draft.meter)})
        self.focus_next()

    @on(Choice.Changed)
    def _choose_kind(self) -> None:
        self.changing = None
        self.tell("")
        self._show()
        self._go_to_begin()

    def _go_to_begin(self) -> None:
        if self._kind.value == ZONE:  # for a name is typed, and its letters are no commands
            self._form.go_to("zone")
        else:
            self._kind.focus()

    @on(EntryList.Picked)
    def _take_up(self, event: EntryList.Picked) -> None:
        entry = self.contents.entries[event.place]
        self._kind.value = kind_of(entry)
        self.changing = event.place
        self._form.put(answers_for(entry))
        self._show()
        self._form.go_to_field()
        self.tell("Change it and press Ctrl+S to save it. Ctrl+Y leaves it unchanged.")

    @on(EntryList.Removed)
    def _take_out(self, event: EntryList.Removed) -> None:
        try:
            self._become(self.contents.without(event.place, self.names.units))
        except BadInput as error:
            self.tell(refusal(error), wrong=True)

    def action_take(self) -> None:
        form = self._form
        if not self.are_settled(form.open_fields):
            return
        try:
            self._become(self._with(entry_from(form.record, self.names.units)))
        except BadInput as error:
            self.tell(refusal(error), wrong=True)
            self.app.bell()
            return
        self.action_clear()
        self._go_to_begin()

    def _with(self, entry: RoomItem) -> RoomContents:
        units = self.names.units
        bare = self.contents
        if self.changing is not None:
            bare = bare.without(self.changing, units)
        return bare.with_entry(entry, units)

    def action_clear(self) -> None:
        self.changing = None
        self._form.clear()
        self._show()

    def _become(self, contents: RoomContents) -> None:
        """Give the app the room as it is now, and tell what that changes beside."""
        before, self.contents = self.contents, contents
        draft, (room, survey) = self.session.draft, self._surveyed
        kept = survey if contents.room.has_corners_of(room) else ()
        self.session.edit(
            msgspec.structs.replace(draft, room=contents.room, seat=contents.seat, survey=kept)
        )
        told = list(changes(before.room, contents.room, contents.seat, self.names))
        if draft.survey and not kept:
            told.append(SURVEY_DROPPED)
        if not before.room.has_corners_of(contents.room) and draft.targets.left:
            told.append(LAYOUT_TO_CHECK)
        self.tell(" ".join(told))
        self.changing = None
        self._show()

    def _show(self) -> None:
        kind = self._kind.value
        for other, form in self._forms.items():
            form.display = other == kind
        self.query_one("#about", Static).update(_ABOUT[kind])
        rows = [hanging(entry_words(entry, self.names), _BROAD) for entry in self.contents.entries]
        self._list.show(rows)
        self.query_one(PlanView).show(plan_drawing(self.contents.room, seat=self.contents.seat))

    @property
    def _form(self) -> FormView[Any]:
        """The form of the kind that is chosen."""
        return self._forms[self._kind.value]
