"""What a session begins with and what it saves, apart from what is measured."""

from __future__ import annotations

import msgspec

from witnessmark.model import Setup
from witnessmark.session.draft import Draft
from witnessmark.store.records import ChoiceValue, SavedSetup
from witnessmark.store.store import Store

_METER, _SILENT = "meter", "silent"


class Workspace(msgspec.Struct, frozen=True):
    """A draft of the setup, the name that it goes by, the meter's address, and no bell if so."""

    draft: Draft = Draft()
    name: str = "My room"
    meter_address: str = "typed:"
    silent: bool = False

    @classmethod
    def on(cls, setup: Setup, *, name: str, meter_address: str) -> Workspace:
        """Begin with a whole setup."""
        return cls(Draft.of(setup), name, meter_address)

    @classmethod
    def saved_in(cls, store: Store) -> Workspace:
        """Begin with what was saved last, or with nothing.

        Raises:
            StoreError: when the store cannot be read.
        """
        saved = store.latest_setup()
        return cls() if saved is None else cls.of(saved)

    @classmethod
    def of(cls, saved: SavedSetup) -> Workspace:
        """Begin with what was saved."""
        address = saved.choices.get(_METER, cls().meter_address)
        opening = cls.on(saved.setup, name=saved.name, meter_address=str(address))
        return msgspec.structs.replace(opening, silent=saved.choices.get(_SILENT) is True)

    @property
    def choices(self) -> dict[str, ChoiceValue]:
        """What is saved beside the setup."""
        return {_METER: self.meter_address, _SILENT: self.silent}
