"""What a session begins with and what it saves, apart from what is measured."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

import msgspec

from witnessmark.model import Setup
from witnessmark.session.draft import Draft
from witnessmark.store.records import ChoiceValue, SavedSetup
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
        """Return the workspace that was saved last, or an empty one.

        Raises:
            StoreError: when the store cannot be read.
        """
        saved = store.latest_setup()
        return cls() if saved is None else cls.of(saved)

    @classmethod
    def of(cls, saved: SavedSetup, own_meter: str | None = None) -> Workspace:
        """Return the workspace that was saved.

        One that came in a file has ``own_meter``, else the keyboard, and offers the file's.
        """
        named = str(saved.choices.get(_METER, cls().meter_address))
        offered = str(saved.choices.get(_OFFERED, ""))
        address = named
        if saved.is_imported:
            address = own_meter or cls().meter_address
            offered = named if named not in (address, cls().meter_address) else ""
        workspace = cls.on(saved.setup, name=saved.name, meter_address=address)
        silent = saved.choices.get(_SILENT) is True
        return msgspec.structs.replace(workspace, silent=silent, offered_meter=offered)

    def using(self, meter_address: str) -> Workspace:
        """Return the same with the meter that the person chose; then it is offered no more."""
        offered = "" if meter_address == self.offered_meter else self.offered_meter
        return msgspec.structs.replace(self, meter_address=meter_address, offered_meter=offered)

    @property
    def choices(self) -> dict[str, ChoiceValue]:
        """What is saved beside the setup."""
        chosen: dict[str, ChoiceValue] = {_METER: self.meter_address, _SILENT: self.silent}
        return chosen | ({_OFFERED: self.offered_meter} if self.offered_meter else {})


class Saver:
    """Saves the setup of the open room: once for each change, if it is whole."""

    def __init__(self, journal: Journal, clock: Clock) -> None:
        self.setup_id: int | None = None
        """The number that the setup of the open room is stored under; None if it is not yet."""
        self._journal = journal
        self._clock = clock
        self._saved: Workspace | None = None
        self._one_at_a_time = asyncio.Lock()

    def has(self, workspace: Workspace) -> bool:
        """Return whether all of a workspace is stored."""
        return workspace == self._saved

    def forget(self) -> None:
        """Take what is saved next for that of another room."""
        self.setup_id = self._saved = None

    async def save(self, workspace: Workspace) -> None:
        """Save a workspace whose setup is whole and was changed.

        Raises:
            StoreError: when it cannot be stored.
        """
        # one at a time, or who asks while it is being saved would save it once more
        async with self._one_at_a_time:
            setup = workspace.draft.setup
            if setup is None or self.has(workspace):
                return
            latest = await self._journal.run(Store.latest_setup)
            if latest is not None and Workspace.of(latest) == workspace:
                self.setup_id = latest.id
            else:
                self.setup_id = await self._journal.run(
                    Store.save_setup, workspace.name, setup, self._clock(), workspace.choices
                )
            self._saved = workspace
