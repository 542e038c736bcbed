"""What a session begins with and what it saves, apart from what is measured."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from typing import TYPE_CHECKING

import msgspec

from witnessmark.errors import BadInput
from witnessmark.meters.address import Address
from witnessmark.model import Setup
from witnessmark.session.draft import Draft
from witnessmark.store.records import (
    UNREADABLE,
    ChoiceValue,
    SavedSetup,
    UnfinishedRoom,
    check_texts,
    to_json,
)
from witnessmark.store.store import Store

if TYPE_CHECKING:
    from witnessmark.meters.port import Clock
    from witnessmark.store.journal import Journal

_METER, _SILENT, _OFFERED = "meter", "silent", "meter from file"


class Workspace(msgspec.Struct, frozen=True):
    """A draft of the setup, the name that it goes by, the meter's address, and no bell if so.

    ``offered_meter`` is an address that came with the room in a file: whoever wrote the file chose
    what this computer would connect to, so it is shown, and used only once the person takes it.
    """

    draft: Draft = Draft()
    name: str = "My room"
    meter_address: str = "typed:"
    silent: bool = False
    offered_meter: str = ""

    @classmethod
    def on(cls, setup: Setup, *, name: str, meter_address: str) -> Workspace:
        """Return a workspace with a whole setup."""
        return cls(Draft.of(setup), name, meter_address)

    @classmethod
    def saved_in(cls, store: Store) -> Workspace:
        """Return the workspace that was saved last, whole or not, or an empty one.

        Raises:
            StoreError: when the store cannot be read.
        """
        *_, newest = [None, *store.unfinished()]
        if newest is not None and newest.is_newest and (begun := _unfinished(store, newest)):
            return begun
        saved = store.latest_setup()
        return cls() if saved is None else cls.of(saved)

    @classmethod
    def of(cls, saved: SavedSetup, own_meter: str | None = None) -> Workspace:
        """Return the workspace that was saved.

        One that came in a file has ``own_meter``, else the keyboard, and offers the file's.
        """
        workspace = cls._with_choices(Draft.of(saved.setup), saved.name, saved.choices)
        if not saved.is_imported:
            return workspace
        named, address = str(saved.choices.get(_METER, "")), own_meter or cls().meter_address
        offered = named if named not in ("", address, cls().meter_address) else ""
        return msgspec.structs.replace(workspace, meter_address=address, offered_meter=offered)

    def using(self, meter_address: str) -> Workspace:
        """Return the same with the meter that the person chose; then it is offered no more."""
        here = self if meter_address == self.meter_address else self.without_wrong_offer
        offered = "" if meter_address == here.offered_meter else here.offered_meter
        return msgspec.structs.replace(here, meter_address=meter_address, offered_meter=offered)

    @property
    def without_wrong_offer(self) -> Workspace:
        """The same, in which nothing more is said of what was no address of a meter."""
        is_wrong = self.offered_address is None
        return msgspec.structs.replace(self, offered_meter="") if is_wrong else self

    @property
    def offered_address(self) -> Address | None:
        """The address that came with the room in a file, where it is one."""
        try:
            return Address.parse(self.offered_meter)
        except BadInput:
            return None

    @classmethod
    def unfinished_in(cls, store: Store) -> list[Workspace]:
        """Return the workspaces of rooms that are not whole yet.

        Raises:
            StoreError: when the store cannot be read.
        """
        return [begun for one in store.unfinished() if (begun := _unfinished(store, one))]

    @classmethod
    def _with_choices(
        cls, draft: Draft, name: str, choices: Mapping[str, ChoiceValue]
    ) -> Workspace:
        meter, offered = str(choices.get(_METER, cls().meter_address)), choices.get(_OFFERED, "")
        try:
            Address.parse(meter)
        except BadInput:  # a damaged one: it is told where a meter is chosen, and never opened
            meter, offered = cls().meter_address, meter
        silent = choices.get(_SILENT) is True
        return cls(draft, name, meter, silent=silent, offered_meter=str(offered))

    @property
    def body(self) -> str:
        """The text in which a workspace is kept that is not whole."""
        return to_json(_Body(self.draft, self.choices))

    @classmethod
    def from_body(cls, name: str, body: str) -> Workspace:
        """Read the workspace that such a text holds.

        Raises:
            records.UNREADABLE: when it holds none.
        """
        held = msgspec.json.decode(body, type=_Body)
        return cls._with_choices(held.draft, name, held.choices)

    @property
    def choices(self) -> dict[str, ChoiceValue]:
        """What is saved beside the setup."""
        chosen: dict[str, ChoiceValue] = {_METER: self.meter_address, _SILENT: self.silent}
        return chosen | ({_OFFERED: self.offered_meter} if self.offered_meter else {})


class _Body(msgspec.Struct, frozen=True):
    draft: Draft
    choices: dict[str, ChoiceValue]


def _unfinished(store: Store, room: UnfinishedRoom) -> Workspace | None:
    try:
        check_texts(room.room)
        return Workspace.from_body(room.room, room.body)
    except UNREADABLE as error:
        store.pass_over(f'what was entered of "{room.room}"', error)
        return None


class Saver:
    """Saves the open room, once for each change: its setup if it is whole, else what is known."""

    def __init__(self, journal: Journal, clock: Clock, workspace: Workspace) -> None:
        self._journal = journal
        self._clock = clock
        self.begin(workspace)
        self._one_at_a_time = asyncio.Lock()

    def has(self, workspace: Workspace) -> bool:
        """Return whether all of a workspace is stored."""
        return workspace == self._saved

    def begin(self, workspace: Workspace) -> None:
        """Take what is saved next for that of another room, which is opened now."""
        self.setup_id: int | None = None
        """The number that the setup of the open room is stored under; None if it is not yet."""
        self._saved: Workspace | None = None
        self._unfinished_as = None if workspace.draft.setup else workspace.name

    async def save(self, workspace: Workspace) -> None:
        """Save a workspace that was changed, if anything is known of its room.

        Raises:
            StoreError: when it cannot be stored.
        """
        # one at a time: a second call during a save would save again
        async with self._one_at_a_time:
            if self.has(workspace) or not workspace.draft.is_begun:
                return
            setup, journal, at = workspace.draft.setup, self._journal, self._clock()
            name, before = workspace.name, self._unfinished_as
            newest = await journal.run(Workspace.saved_in)
            if setup is None:
                if workspace != newest:
                    await journal.run(Store.save_unfinished, name, workspace.body, at)
                self._unfinished_as = name
            else:
                latest = await journal.run(Store.latest_setup) if workspace == newest else None
                if latest is not None:
                    self.setup_id = latest.id
                else:
                    self.setup_id = await journal.run(
                        Store.save_setup, name, setup, at, workspace.choices
                    )
                self._unfinished_as = None
            if before not in (None, name):
                # it has another name now, and there is nothing to finish under the former
                await journal.run(Store.save_unfinished, before, None, at)
            self._saved = workspace
