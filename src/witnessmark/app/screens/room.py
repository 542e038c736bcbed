"""Room and seat: the first step."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.form import FormView
from witnessmark.app.forms.room import ROOM
from witnessmark.app.forms.texts import RoomNameInput
from witnessmark.app.screens import make_screen
from witnessmark.app.screens.form import StepScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.plain import Plain
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.plan import plan_drawing
from witnessmark.errors import StoreError
from witnessmark.model import Wall
from witnessmark.session.draft import Draft
from witnessmark.session.room_answers import RoomAnswers, corners_of
from witnessmark.store.store import Store
from witnessmark.words.rooms import GIVEN_UP, offered_notice, room_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from textual.app import ComposeResult

    from witnessmark.session.workspace import Workspace


class RoomScreen(StepScreen):
    """Asks for the room's walls, where the listener's head is, and the air."""

    STEP = Step.ROOM
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Measure the room, wall to wall above the skirting board, and type the distances: 5.36 "
        "m, 5360, 17' 7\". Only the first two lengths are needed.\n"
        "Not square, or open on a side: Ctrl+W surveys it. Radiators, hearths: Ctrl+F.\n"
        "Only to see whether left and right stand alike: Ctrl+K needs no room."
    )

    DEFAULT_CSS = """
    RoomScreen #state { height: auto; color: $text-muted; }
    """

    @dataclass
    class Others(Message):
        """The names of the other rooms that there is anything of."""

        names: frozenset[str]

    def __init__(self) -> None:
        super().__init__()
        self._known = Draft()
        self._form: FormView[RoomAnswers]

    def fields(self) -> ComposeResult:
        draft = self.session.draft
        self._form = FormView(ROOM, draft.units, RoomAnswers.of(draft, self.session.workspace.name))
        yield self._form
        yield Plain(id="state")

    def aside(self) -> ComposeResult:
        yield PlanView(id="plan")

    def on_mount(self) -> None:
        self._known = self.session.draft
        self._show_plan()
        self.run_worker(self._find_others(), group="rooms")
        super().on_mount()
        if not self.open_fields:
            self._form.go_to("name")

    async def _find_others(self) -> None:
        here = self.session.workspace.name
        with contextlib.suppress(StoreError):  # nothing is read here that would be missed
            rooms = await self.session.journal.run(Store.rooms)
            self.post_message(self.Others(frozenset(room.name for room in rooms) - {here}))

    @on(Others)
    def _know_others(self, event: Others) -> None:
        field = self._form.field("name")
        if isinstance(field, RoomNameInput):
            field.others = event.names

    def apply(self) -> Sequence[str]:
        answers, known = self._form.record, self._known
        room = answers.room(known.known_room)
        as_known = known.known_room is not None and room.corners == known.known_room.corners
        draft = msgspec.structs.replace(
            self.session.draft,
            room=room,
            seat=answers.seat(room),
            temperature_c=answers.temperature_c,
            survey=known.survey if as_known else (),
            room_known=msgspec.UNSET,
        )
        self.session.workspace = msgspec.structs.replace(
            self.session.workspace, draft=draft, name=answers.name
        )
        self._show_plan()
        return () if draft.survey == known.survey else (GIVEN_UP,)

    def action_open(self, aside: str) -> None:
        if aside == Aside.ROOMS:
            here = self.session.workspace
            self.app.push_screen(make_screen(Aside.ROOMS), lambda _: self._go_over(here))
            return
        if aside == Aside.FITTINGS and (
            self.open_fields or self.problem or not self.session.draft.known_room
        ):
            self.notify(
                "Enter the room's size first, or survey it; then add what is in it.",
                severity="warning",
            )
            return
        before = self.session.draft
        self.app.push_screen(make_screen(Aside(aside)), lambda _: self._show_changes(before))

    def _go_over(self, before: Workspace) -> None:
        """Show another room in a form of its own: the fields here are those of this one."""
        if self.session.workspace is not before:
            offered = self.session.workspace.offered_meter
            self.app.go(self.STEP, offered_notice(offered) if offered else "")

    def _show_changes(self, before: Draft) -> None:
        draft = self._known = self.session.draft
        if draft.known_room is not None and draft.room != before.room:
            self._form.fill(**corners_of(draft.room))
        if (
            draft.known_seat is not None
            and draft.seat
            and (draft.seat, _lines(draft)) != (before.seat, _lines(before))
        ):
            # one that nobody told would go to the middle of what a line leaves
            front, left = draft.seat.from_front_mm, draft.seat.from_left_mm
            self._form.fill(from_front_mm=front, from_left_mm=left)
        self._show_plan()
        self.take_over()

    @on(FormView.Changed)
    def _change_units(self, event: FormView.Changed) -> None:
        if event.name == "units":
            units = self._form.values["units"]
            self.session.edit(msgspec.structs.replace(self.session.draft, units=units))
            self._form.show_in(units)

    def _show_plan(self) -> None:
        draft = self.session.draft
        self.query_one("#state", Static).update(room_words(draft.known_room, len(draft.survey)))
        if room := draft.known_room:
            self.query_one(PlanView).show(plan_drawing(room, seat=draft.seat))


def _lines(draft: Draft) -> tuple[Wall, ...]:
    return draft.room.datum if draft.room else ()
