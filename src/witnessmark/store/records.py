"""Every kind of record that a store holds, and how each lies in its row.

``KINDS`` is the one list of them. To add a record of the journal, add it to ``JournalEntry`` and
``ENTRIES`` here and its sentence to the words of the history; where a round follows from it, to
``Event`` as well. One that is kept of a room goes into ``Record`` and ``KEPT``, and needs a table:
a migration in ``schema``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from types import MappingProxyType
from typing import Any, Generic, NamedTuple, TypeVar
from uuid import uuid4

import msgspec

from witnessmark.errors import StoreError
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    Decision,
    Mark,
    Preference,
    Reading,
    Setup,
    SetupChanged,
    Struck,
    TiltTaken,
    Trial,
)

JournalEntry = Reading | Fault | Noise | Decision | TiltTaken | SetupChanged
"""All that is journaled."""
Record = Trial | Struck | Preference | Mark
"""All that a person keeps of a room."""
K = TypeVar("K", bound=Record)


class RecordKind(NamedTuple):
    """A kind of record: its name in the store, its group in the history, and its type."""

    name: str
    group: str
    record: type[Any]


ENTRIES = (
    RecordKind("reading", "readings", Reading),
    RecordKind("fault", "readings", Fault),
    RecordKind("noise", "readings", Noise),
    RecordKind("command", "rounds", Decision),
    RecordKind("tilt", "readings", TiltTaken),
    RecordKind("revised", "rounds", SetupChanged),
)
"""Rows of the journal, which have their kind's name in a column."""
KEPT = (
    RecordKind("trial", "trials", Trial),
    RecordKind("preference", "trials", Preference),
    RecordKind("struck", "trials", Struck),
    RecordKind("mark", "marks", Mark),
)
"""Rows of tables that are all alike, each kind in the one of its name."""
KINDS = (
    RecordKind("setup", "rounds", Setup),
    RecordKind("round", "rounds", Setup),
    *ENTRIES,
    *KEPT,
)
"""Every kind, in the order in which those of one moment came about."""

_ENTRY_TYPES: dict[str, type[JournalEntry]] = {kind.name: kind.record for kind in ENTRIES}
_NAMES = {kind.record: kind.name for kind in (*ENTRIES, *KEPT)}
UNREADABLE = (
    msgspec.MsgspecError,
    ValueError,
    TypeError,
    KeyError,
    OverflowError,  # a moment that its zone puts past the last year
    RecursionError,
)
"""What reading back raises on a text that is damaged or from a program that knew other records."""


class RecordRefused(StoreError):
    """This one record cannot be kept as it is; others can."""


def new_key() -> str:
    """Make a key that no other row has, in this copy of the program or any other."""
    return uuid4().hex


def table_of(kept: type[K]) -> str:
    """Return the table in which records of a type that is kept lie."""
    return _NAMES[kept]


def check_texts(*columns: object) -> None:
    """Make sure that columns which hold a text do so; one flipped bit makes a blob of it.

    Raises:
        records.UNREADABLE: when one does not.
    """
    for column in columns:
        if not isinstance(column, str):
            raise TypeError(f"{column!r} is no text")
        column.encode()  # raises where its bytes were none of a text


def time_of(column: object) -> datetime:
    """Return the time (UTC) that a column holds.

    Raises:
        records.UNREADABLE: when it holds none.
    """
    check_texts(column)
    moment = datetime.fromisoformat(str(column))
    if moment.utcoffset() is None:
        raise ValueError(f"{column} has no time zone")
    return moment


class PendingEntry(msgspec.Struct, frozen=True):
    """An entry on its way to the journal, its round if any, and the key it is stored under."""

    round_id: int | None
    entry: JournalEntry
    key: str


class JournalRow(NamedTuple):
    """An entry as the journal's columns: ``body`` is JSON of what has no column of its own."""

    kind: str
    at: str
    body: str
    raw: bytes | None


def to_row(entry: JournalEntry) -> JournalRow:
    """Return the columns that an entry is stored as.

    Raises:
        RecordRefused: when it would not read back the same, as a distance that is not finite.
    """
    fields = msgspec.structs.asdict(entry)
    at = utc_text(fields.pop("at"))
    raw = fields.pop("raw", None)
    row = JournalRow(_NAMES[type(entry)], at, _body(fields), raw)
    check_reads_back(entry, lambda: from_row(row))
    return row


def _body(fields: dict[str, Any]) -> str:
    """Return JSON of the fields that are set."""
    return to_json({name: value for name, value in fields.items() if value is not msgspec.UNSET})


def from_row(row: JournalRow) -> JournalEntry:
    """Read the entry that a row of the journal holds.

    Raises:
        records.UNREADABLE: when it holds none.
    """
    check_texts(row.kind, row.body)
    if not isinstance(row.raw, bytes | None):
        raise TypeError("its raw message is no bytes")
    fields = msgspec.json.decode(row.body) | {"at": time_of(row.at), "raw": row.raw}
    entry: JournalEntry = msgspec.convert(fields, _ENTRY_TYPES[row.kind])
    return entry


class Kept(msgspec.Struct, Generic[K], frozen=True):
    """A record with its number and its key, the room that it is of, and its round if it has one.

    The number is this store's, the key the same on every computer.
    """

    id: int
    key: str
    room: str
    round_id: int | None
    record: K


def to_columns(record: Record) -> tuple[str, str]:
    """Return ``at`` and ``body`` of a record that is kept.

    Raises:
        RecordRefused: when they would not read back the same, as a number that is not finite.
    """
    fields = msgspec.structs.asdict(record)
    at = utc_text(fields.pop("at"))
    body = _body(fields)
    check_reads_back(record, lambda: from_columns(type(record), at, body))
    return at, body


def from_columns(kind: type[K], at: str, body: str) -> K:
    """Read the record that ``at`` and ``body`` hold.

    Raises:
        records.UNREADABLE: when they hold no such record.
    """
    check_texts(body)
    return msgspec.convert(msgspec.json.decode(body) | {"at": time_of(at)}, kind)


ChoiceValue = bool | int | float | str | None
Choices = Mapping[str, ChoiceValue]
"""What the program keeps beside a setup, such as the units shown and the meter's address."""
NO_CHOICES: Choices = MappingProxyType({})


class SetupBody(msgspec.Struct, frozen=True):
    """What a row of the setup table holds as JSON."""

    setup: Setup
    choices: dict[str, ChoiceValue] = {}

    def to_json(self) -> str:
        """Write this body as the text that is stored.

        Raises:
            RecordRefused: when it would not read back the same.
        """
        text = to_json(self)
        check_reads_back(self, lambda: self.from_json(text))
        return text

    @classmethod
    def from_json(cls, text: str) -> SetupBody:
        """Read the body that was stored.

        Raises:
            records.UNREADABLE: when the text is not one.
        """
        check_texts(text)
        return msgspec.json.decode(text, type=SetupBody)


class SavedSetup(msgspec.Struct, frozen=True):
    """A setup as it was saved (UTC), with the program's own choices beside it.

    One that ``is_imported`` came in a file: nobody at this computer made its choices.
    """

    id: int
    key: str
    saved_at: datetime
    name: str
    setup: Setup
    choices: dict[str, ChoiceValue] = {}
    is_imported: bool = False

    @classmethod
    def from_row(
        cls, id_: int, key: str, saved_at: str, name: str, body: str, imported: int
    ) -> SavedSetup:
        """Read the setup that a row holds.

        Raises:
            records.UNREADABLE: when it is not a row of the setup table.
        """
        check_texts(key, name)
        held, at = SetupBody.from_json(body), time_of(saved_at)
        return cls(id_, key, at, name, held.setup, held.choices, bool(imported))


class StartedRound(msgspec.Struct, frozen=True):
    """A round, when it began (UTC), and the setup that it is about."""

    id: int
    key: str
    started_at: datetime
    setup: SavedSetup


class Snapshot(NamedTuple):
    """The state of a round after an entry of the journal, by its id, as the session packs it."""

    after: int
    body: bytes


class UnfinishedRoom(NamedTuple):
    """A room whose setup is not whole yet, and the text in which the session keeps it.

    ``is_newest`` says that no setup was saved on this computer since.
    """

    room: str
    body: str
    is_newest: bool


class RoomSummary(msgspec.Struct, frozen=True):
    """A room, by the name its setups were saved under, and how much there is of it.

    ``saved_at`` (UTC) is when a setup of it was last saved; None where there is none.
    """

    name: str
    saved_at: datetime | None
    rounds: int
    trials: int
    marks: int


def to_json(record: Any) -> str:  # noqa: ANN401
    """Write a record as JSON; numpy's floats, which annotations let pass, as numbers.

    Raises:
        RecordRefused: when a text in it is not Unicode.
    """
    try:
        return msgspec.json.encode(record, enc_hook=float).decode()
    except UnicodeEncodeError as error:
        raise RecordRefused(f"not stored: {error.object!r} is not Unicode text") from error


def utc_text(at: datetime) -> str:
    """Write a time as ISO 8601 in UTC, always with microseconds.

    Raises:
        RecordRefused: when the time has no zone.
    """
    if at.utcoffset() is None:
        raise RecordRefused(f"not stored: {at} has no time zone; times are in UTC")
    return at.astimezone(UTC).isoformat(timespec="microseconds")


def check_reads_back(record: object, read_back: Callable[[], object]) -> None:
    """Make sure that what is about to be stored is what will be read.

    JSON has neither infinity nor not-a-number: msgspec writes both as null.

    Raises:
        RecordRefused: when it is not.
    """
    try:
        same, why = read_back() == record, "one is not"
    except UNREADABLE as error:
        same, why = False, str(error)
    if not same:
        raise RecordRefused(f"not stored, as every number must be finite: {why}")
