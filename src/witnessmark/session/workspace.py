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

_METER, _SILENT = "meter", "silent"


class Workspace(msgspec.Struct, frozen=True):
    """A draft of the setup, the name that it goes by, the meter's address, and no bell if so."""

    draft: Draft = Draft()
    name: str = "My room"
    meter_address: str = "typed:"
    silent: bool = False

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
    def of(cls, saved: SavedSetup) -> Workspace:
        """Return the workspace that was saved."""
        address = saved.choices.get(_METER, cls().meter_address)
        workspace = cls.on(saved.setup, name=saved.name, meter_address=str(address))
        return msgspec.structs.replace(workspace, silent=saved.choices.get(_SILENT) is True)

    @property
    def choices(self) -> dict[str, ChoiceValue]:
        """What is saved beside the setup."""
        return {_METER: self.meter_address, _SILENT: self.silent}


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
