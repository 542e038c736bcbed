"""What a person keeps of a room: trials, preferences and marks, and how they lie in their rows."""

from __future__ import annotations

from typing import Generic, TypeVar

import msgspec

from witnessmark.model import Mark, Preference, Trial
from witnessmark.store.record_json import check_reads_back, to_json, utc_text

Record = Trial | Preference | Mark
K = TypeVar("K", Trial, Preference, Mark)
_R = TypeVar("_R", bound=Record)

TABLES: dict[type[Record], str] = {Trial: "trial", Preference: "preference", Mark: "mark"}
"""The table that each kind lies in; all three are alike."""


class Kept(msgspec.Struct, Generic[K], frozen=True):
    """A record with its number and its key, the room that it is of, and its round if it has one.

    The number is this store's, the key the same on every computer.
    """

    id: int
    key: str
    room: str
    round_id: int | None
    record: K


def to_columns(record: K) -> tuple[str, str]:
    """``at`` and ``body`` as they are stored.

    Raises:
        RecordRefused: when they would not read back the same, as a number that is not finite.
    """
    fields = msgspec.structs.asdict(record)
    at, body = utc_text(fields.pop("at")), to_json(fields)
    check_reads_back(record, lambda: from_columns(type(record), at, body))
    return at, body


def from_columns(kind: type[_R], at: str, body: str) -> _R:
    """The record that ``at`` and ``body`` hold.

    Raises:
        packing.UNREADABLE: when they hold no such record.
    """
    return msgspec.convert(msgspec.json.decode(body) | {"at": at}, kind)
