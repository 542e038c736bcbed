"""Saved setups and started rounds, and how they lie in their rows."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType

import msgspec

from witnessmark.model import Setup
from witnessmark.store.record_json import check_reads_back, to_json

Choice = bool | int | float | str | None
Choices = Mapping[str, Choice]
"""What the program keeps beside a setup, such as the units shown and the meter's address."""
NO_CHOICES: Choices = MappingProxyType({})


class SetupBody(msgspec.Struct, frozen=True):
    """What a row of the setup table holds as JSON."""

    setup: Setup
    choices: dict[str, Choice] = {}

    def to_json(self) -> str:
        """This body as the text that is stored.

        Raises:
            RecordRefused: when it would not read back the same.
        """
        text = to_json(self)
        check_reads_back(self, lambda: self.from_json(text))
        return text

    @classmethod
    def from_json(cls, text: str) -> SetupBody:
        """The body that was stored.

        Raises:
            packing.UNREADABLE: when the text is not one.
        """
        return msgspec.json.decode(text, type=SetupBody)


class SavedSetup(msgspec.Struct, frozen=True):
    """A setup as it was saved (UTC), with the program's own choices beside it."""

    id: int
    key: str
    saved_at: datetime
    name: str
    setup: Setup
    choices: dict[str, Choice] = {}

    @classmethod
    def from_row(cls, id_: int, key: str, saved_at: str, name: str, body: str) -> SavedSetup:
        """The setup that a row holds.

        Raises:
            packing.UNREADABLE: when it is not a row of the setup table.
        """
        held = SetupBody.from_json(body)
        return cls(id_, key, datetime.fromisoformat(saved_at), name, held.setup, held.choices)


class StartedRound(msgspec.Struct, frozen=True):
    """A round, when it began (UTC), and the setup that it is about."""

    id: int
    key: str
    started_at: datetime
    setup: SavedSetup


class RoomSummary(msgspec.Struct, frozen=True):
    """A room, by the name its setups were saved under, and how much there is of it.

    ``saved_at`` (UTC) is when a setup of it was last saved; None where there is none.
    """

    name: str
    saved_at: datetime | None
    rounds: int
    trials: int
    marks: int
