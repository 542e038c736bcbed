"""The lines of a room's file, and the rows of the store that they are.

Where a row names another by its number, which is this store's own, a line names it by its key. The
bodies are those of the store, letter for letter.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import ClassVar

import msgspec

from witnessmark.model import Mark, Preference, Trial
from witnessmark.store.database import Columns
from witnessmark.store.entries import Row, from_row
from witnessmark.store.kept import Record, from_columns
from witnessmark.store.record_json import utc_text
from witnessmark.store.setups import SetupBody

Ids = Mapping[str | None, int | None]
"""The numbers of setups and rounds by their keys; of nothing, None."""


class _Keyed(msgspec.Struct, frozen=True, tag_field="what", forbid_unknown_fields=True):
    key: str

    @classmethod
    def what(cls) -> str:
        """What a line is, as the file calls it."""
        return str(cls.__struct_config__.tag)


class SetupLine(_Keyed, frozen=True, tag="setup"):
    """A saved setup."""

    table: ClassVar[str] = "setup"
    saved_at: str
    name: str
    body: msgspec.Raw

    def check(self) -> None:
        """Raises one of ``packing.UNREADABLE`` when it would not read back from the store."""
        _check_time(self.saved_at)
        SetupBody.from_json(_text(self.body))

    def columns(self, _ids: Ids) -> Columns:
        """Its row."""
        return {"saved_at": self.saved_at, "name": self.name, "body": _text(self.body)}


class RoundLine(_Keyed, frozen=True, tag="round"):
    """A round, with the key of its setup."""

    table: ClassVar[str] = "round"
    setup: str
    started_at: str

    def check(self) -> None:
        """Raises one of ``packing.UNREADABLE`` when it would not read back from the store."""
        _check_time(self.started_at)

    def columns(self, ids: Ids) -> Columns:
        """Its row; raises KeyError when its setup did not come before."""
        return {"setup_id": ids[self.setup], "started_at": self.started_at}


class EntryLine(_Keyed, frozen=True, tag="entry"):
    """An entry of the journal, with the key of its round if it has one."""

    table: ClassVar[str] = "journal"
    round: str | None
    kind: str
    at: str
    body: msgspec.Raw
    raw: bytes | None

    def check(self) -> None:
        """Raises one of ``packing.UNREADABLE`` when it would not read back from the store."""
        _check_time(self.at)
        from_row(Row(self.kind, self.at, _text(self.body), self.raw))

    def columns(self, ids: Ids) -> Columns:
        """Its row; raises KeyError when its round did not come before."""
        row = Row(self.kind, self.at, _text(self.body), self.raw)
        return {"round_id": ids[self.round], **row._asdict()}


class KeptLine(_Keyed, frozen=True):
    """What a person keeps of a room, with the key of its round if it has one."""

    table: ClassVar[str]
    record: ClassVar[type[Record]]
    room: str
    round: str | None
    at: str
    body: msgspec.Raw

    def check(self) -> None:
        """Raises one of ``packing.UNREADABLE`` when it would not read back from the store."""
        _check_time(self.at)
        from_columns(self.record, self.at, _text(self.body))

    def columns(self, ids: Ids) -> Columns:
        """Its row; raises KeyError when its round did not come before."""
        body = _text(self.body)
        return {"room": self.room, "round_id": ids[self.round], "at": self.at, "body": body}


class TrialLine(KeptLine, frozen=True, tag="trial"):
    """A trial."""

    table: ClassVar[str] = "trial"
    record: ClassVar[type[Record]] = Trial


class PreferenceLine(KeptLine, frozen=True, tag="preference"):
    """A preference."""

    table: ClassVar[str] = "preference"
    record: ClassVar[type[Record]] = Preference


class MarkLine(KeptLine, frozen=True, tag="mark"):
    """A mark."""

    table: ClassVar[str] = "mark"
    record: ClassVar[type[Record]] = Mark


Line = SetupLine | RoundLine | EntryLine | TrialLine | PreferenceLine | MarkLine
"""In the order of a file: none refers to a later one."""


def _text(body: msgspec.Raw) -> str:
    return bytes(body).decode()


def _check_time(text: str) -> None:
    """Times are compared as text, so each has to be written as the store writes it."""
    moment = datetime.fromisoformat(text)
    if moment.tzinfo is None or utc_text(moment) != text:
        raise ValueError(f"{text} is not a time as the store writes it")
