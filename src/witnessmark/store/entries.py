"""What the journal holds, and how an entry lies in a row of it."""

from __future__ import annotations

from typing import NamedTuple
from uuid import uuid4

import msgspec

from witnessmark.meters.port import Fault, Noise
from witnessmark.model import Command, Leaned, Reading, Revised
from witnessmark.store.record_json import check_reads_back, to_json, utc_text

Entry = Reading | Fault | Noise | Command | Leaned | Revised
"""All that is journaled; the row's ``kind`` tells which."""

KINDS: dict[str, type[Entry]] = {
    "reading": Reading,
    "fault": Fault,
    "noise": Noise,
    "command": Command,
    "tilt": Leaned,
    "revised": Revised,
}
_KIND_OF = {record: kind for kind, record in KINDS.items()}


def new_key() -> str:
    """A key that no other entry has, in this copy of the program or any other."""
    return uuid4().hex


class Draft(msgspec.Struct, frozen=True):
    """An entry on its way to the journal, its round if any, and the key it is stored under."""

    round_id: int | None
    entry: Entry
    key: str


class Row(NamedTuple):
    """An entry as the journal's columns: ``body`` is JSON of what has no column of its own."""

    kind: str
    at: str
    body: str
    raw: bytes | None


def to_row(entry: Entry) -> Row:
    """The columns that ``entry`` is stored as.

    Raises:
        RecordRefused: when it would not read back the same, as a distance that is not finite.
    """
    fields = msgspec.structs.asdict(entry)
    at = utc_text(fields.pop("at"))
    raw = fields.pop("raw", None)
    row = Row(_KIND_OF[type(entry)], at, to_json(fields), raw)
    check_reads_back(entry, lambda: from_row(row))
    return row


def from_row(row: Row) -> Entry:
    """The entry that a row holds.

    Raises:
        packing.UNREADABLE: when it is not a row of the journal.
    """
    fields = msgspec.json.decode(row.body) | {"at": row.at, "raw": row.raw}
    entry: Entry = msgspec.convert(fields, KINDS[row.kind])
    return entry
