"""Rooms: going to another that was saved, and beginning a new one."""

from __future__ import annotations

import itertools
from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.content import Content
from textual.message import Message

from witnessmark.app.commands import bindings_for
from witnessmark.app.screens.form import AsideScreen
from witnessmark.app.steps import Aside
from witnessmark.app.widgets.entry_list import PickList
from witnessmark.app.widgets.plain import Plain
from witnessmark.errors import StoreError
from witnessmark.sentences import hanging
from witnessmark.session.workspace import Workspace
from witnessmark.store.records import RoomSummary
from witnessmark.store.store import Store
from witnessmark.words.history import moment_words

if TYPE_CHECKING:
    from textual.app import ComposeResult

_BROAD = 37
"""Columns of the list in the narrowest terminal."""
_ABOUT = (
    "Each room has its own setup, rounds, trials and marks. The current room is saved first, "
    "its round too: come back within 12 hours to continue it."
)


class RoomsScreen(AsideScreen):
    """Lists the rooms of the store, and those of this evening that are not whole yet."""

    STEP = Aside.ROOMS
    BINDINGS = bindings_for(STEP)
    ADVICE = "Choose a room with Enter, or begin a new one with b. Esc stays in this one."

    @dataclass
    class RoomsRead(Message):
        """The rooms of the store."""

        rooms: list[RoomSummary]

    @dataclass
    class Moved(Message):
        """Another room is the one that is worked on."""

    def __init__(self) -> None:
        super().__init__()
        self.saved: list[RoomSummary] = []

    def fields(self) -> ComposeResult:
        yield PickList(empty="No room is saved yet.", id="rooms")

    def aside(self) -> ComposeResult:
        yield Plain(_ABOUT)

    def on_mount(self) -> None:
        self.run_worker(self._find(), group="rooms")

    async def _find(self) -> None:
        try:
            # so that this one is listed as it is now
            await self.session.save()
            found = await self.session.journal.run(Store.rooms)
            unread = await self.session.newly_passed_over()
        except StoreError as error:
            self.post_message(self.NotDone(str(error)))
        else:
            self.post_message(self.RoomsRead(found))
            if unread:
                self.post_message(self.NotDone(unread))

    @on(RoomsRead)
    def _list(self, event: RoomsRead) -> None:
        self.saved = event.rooms
        entries = self.query_one("#rooms", PickList)
        here = self.session.workspace.name
        entries.show(
            [
                *(_row(name, "incomplete") for name in self.session.unfinished),
                *(_row(room.name, _summary(room, here)) for room in self.saved),
            ]
        )
        entries.focus()

    @on(PickList.Picked)
    def _pick(self, event: PickList.Picked) -> None:
        unfinished = list(self.session.unfinished.values())
        if event.place < len(unfinished):
            self._move(unfinished[event.place])
            return
        name = self.saved[event.place - len(unfinished)].name
        if name == self.session.workspace.name:
            self.dismiss()
        else:
            self.run_worker(self._open(name), group="rooms", exclusive=True)

    async def _open(self, name: str) -> None:
        try:
            saved = await self.session.journal.run(Store.setup_of, name)
        except StoreError as error:
            self.post_message(self.NotDone(str(error)))
            return
        if saved is None:
            why = f'"{name}" has no saved setup; witnessmark history shows what it has.'
            self.post_message(self.NotDone(why))
            return
        await self._go_to(Workspace.of(saved, self.session.workspace.meter_address))

    def action_begin(self) -> None:
        """Begin a new room with what does not change with the room: the meter and its figures."""
        here = self.session.workspace
        taken = {room.name for room in self.saved} | self.session.unfinished.keys() | {here.name}
        self._move(
            msgspec.structs.replace(here, draft=here.draft.for_another_room(), name=new_name(taken))
        )

    def _move(self, workspace: Workspace) -> None:
        self.run_worker(self._go_to(workspace), group="rooms", exclusive=True)

    async def _go_to(self, workspace: Workspace) -> None:
        if await self.session.move_to(workspace):
            self.post_message(self.Moved())
        else:
            why = "This room could not be saved, so it stays open and nothing is lost."
            self.post_message(self.NotDone(why))

    @on(Moved)
    async def _show_it(self) -> None:
        await self.action_leave()


def new_name(taken: Collection[str]) -> str:
    """A name for a room that no other has."""
    names = itertools.chain(["My room"], (f"My room {number}" for number in itertools.count(2)))
    return next(name for name in names if name not in taken)


def _row(name: str, words: str) -> Content:
    below = hanging(words, _BROAD, first="  ")
    return Content.assemble((hanging(name, _BROAD), "bold"), "\n", (below, "$text-muted"))


def _summary(room: RoomSummary, here: str) -> str:
    parts = [] if room.saved_at is None else [f"saved {moment_words(room.saved_at)}"]
    counts = {"rounds": room.rounds, "trials": room.trials, "marks": room.marks}
    parts += [f"{count} {what[: -(count == 1) or None]}" for what, count in counts.items() if count]
    return ", ".join(parts) + ("; this one" if room.name == here else "")
