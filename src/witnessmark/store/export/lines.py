"""The lines of a room's file, and the rows of the store that they are.

Where a row names another by its number, which is this store's own, a line names it by its key. The
bodies are those of the store, letter for letter.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import ClassVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import LONGEST_NAME, check_record
from witnessmark.sentences import json_as_written
from witnessmark.store.database import Database, RowValues
from witnessmark.store.records import (
    KEPT,
    JournalRow,
    Record,
    RecordKind,
    SetupBody,
    check_texts,
    from_columns,
    from_row,
    time_of,
    utc_text,
)

Ids = Mapping[str | None, int | None]
"""The numbers of setups and rounds by their keys; of nothing, None."""


class _Keyed(msgspec.Struct, frozen=True, tag_field="what", forbid_unknown_fields=True):
    """What all lines have. ``read`` of each returns what it holds, by what an error calls it.

    It raises ``records.UNREADABLE`` when that would not read back from the store.
    """

    key: str

    @classmethod
    def what(cls) -> str:
        """Return what the file calls such a line."""
        return str(cls.__struct_config__.tag)

    @property
    def about(self) -> str | None:
        """The key of what it is about, which comes before it; None where it is of nothing else."""
        return None

    def check_limits(self, held: Mapping[str, object]) -> None:
        """Refuse a line that holds what no door lets in; ``held`` is what was read of it.

        Raises:
            BadInput: naming it.
        """
        for name, one in held.items():
            check_record(one, name)


class SetupLine(_Keyed, frozen=True, tag="setup"):
    """A saved setup."""

    table: ClassVar[str] = "setup"
    saved_at: str
    name: str
    body: msgspec.Raw

    def read(self) -> Mapping[str, object]:
        """Return its setup, the choices beside it, and when it was saved."""
        check_texts(self.key, self.name)
        saved_at = _time(self.saved_at)
        held = SetupBody.from_json(_text(self.body))
        return {"saved_at": saved_at, "setup": held.setup, "choices": held.choices}

    def check_limits(self, held: Mapping[str, object]) -> None:
        """Refuse it also for its name."""
        _check_name(self.name)
        super().check_limits(held)

    def columns(self, _ids: Ids) -> RowValues:
        """Return the values of its row in the table."""
        return {"saved_at": self.saved_at, "name": self.name, "body": _text(self.body)}


class RoundLine(_Keyed, frozen=True, tag="round"):
    """A round, with the key of its setup."""

    table: ClassVar[str] = "round"
    setup: str
    started_at: str

    @property
    def about(self) -> str | None:
        """The key of its setup."""
        return self.setup

    def read(self) -> Mapping[str, object]:
        """Return when it began."""
        check_texts(self.key)
        return {"started_at": _time(self.started_at)}

    def columns(self, ids: Ids) -> RowValues:
        """Return its row; raises KeyError when its setup did not come before."""
        return {"setup_id": ids[self.setup], "started_at": self.started_at}


class EntryLine(_Keyed, frozen=True, tag="entry"):
    """An entry of the journal, with the key of its round if it has one."""

    table: ClassVar[str] = "journal"
    round: str | None
    kind: str
    at: str
    body: msgspec.Raw
    raw: bytes | None

    @property
    def about(self) -> str | None:
        """The key of its round, if it has one."""
        return self.round

    def read(self) -> Mapping[str, object]:
        """Return the entry."""
        check_texts(self.key)
        _time(self.at)
        entry = from_row(JournalRow(self.kind, self.at, _text(self.body), self.raw))
        return {self.kind: entry}

    def columns(self, ids: Ids) -> RowValues:
        """Return its row; raises KeyError when its round did not come before."""
        row = JournalRow(self.kind, self.at, _text(self.body), self.raw)
        return {"round_id": ids[self.round], **row._asdict()}


class KeptLine(_Keyed, frozen=True):
    """What a person keeps of a room, with the key of its round if it has one."""

    table: ClassVar[str]
    record: ClassVar[type[Record]]
    room: str
    round: str | None
    at: str
    body: msgspec.Raw

    @property
    def about(self) -> str | None:
        """The key of its round, if it has one."""
        return self.round

    def read(self) -> Mapping[str, object]:
        """Return the record."""
        check_texts(self.key, self.room)
        _time(self.at)
        return {self.table: from_columns(self.record, self.at, _text(self.body))}

    def check_limits(self, held: Mapping[str, object]) -> None:
        """Refuse it also for the name of its room."""
        _check_name(self.room)
        super().check_limits(held)

    def columns(self, ids: Ids) -> RowValues:
        """Return its row; raises KeyError when its round did not come before."""
        body = _text(self.body)
        return {"room": self.room, "round_id": ids[self.round], "at": self.at, "body": body}


def _line_of(kind: RecordKind) -> type[KeptLine]:
    class LineOfKind(KeptLine, frozen=True, tag=kind.name):
        table: ClassVar[str] = kind.name
        record: ClassVar[type[Record]] = kind.record

    return LineOfKind


_KEPT_LINES = tuple(_line_of(kind) for kind in KEPT)
RoomLine = SetupLine | RoundLine | EntryLine | KeptLine
LINES: tuple[type[RoomLine], ...] = (SetupLine, RoundLine, EntryLine, *_KEPT_LINES)
"""In the order of a file: none refers to a later one."""

_ROUNDS = " UNION ".join(
    (
        "SELECT round.id FROM round JOIN setup ON setup.id = setup_id WHERE name = ?1",
        *(f"SELECT round_id FROM {kind.name} WHERE room = ?1" for kind in KEPT),  # noqa: S608
    )
)
"""The rounds of a room: also those that were begun under an earlier name of it."""


def lines_of(store: Database, room: str) -> Iterator[RoomLine]:
    """Return all that there is of a room, in the order of the file."""
    yield from _setup_lines(store, room)
    rounds = dict(_round_lines(store, room))
    yield from rounds.values()
    keys = {None: None} | {id_: line.key for id_, line in rounds.items()}
    for round_id, key in keys.items():
        yield from _entry_lines(store, round_id, key)
    for kind in _KEPT_LINES:
        yield from _kept_lines(store, room, kind, keys)


def _setup_lines(store: Database, room: str) -> Iterator[SetupLine]:
    query = (
        "SELECT key, saved_at, name, body FROM setup WHERE name = ?1 "  # noqa: S608 - our own names
        f"OR id IN (SELECT setup_id FROM round WHERE id IN ({_ROUNDS})) ORDER BY id"
    )
    for key, saved_at, name, body in store.stream(query, room):
        yield SetupLine(key, saved_at, name, _raw(body))


def _round_lines(store: Database, room: str) -> Iterator[tuple[int, RoundLine]]:
    query = (
        "SELECT round.id, round.key, setup.key, started_at FROM round "  # noqa: S608 - likewise
        f"JOIN setup ON setup.id = setup_id WHERE round.id IN ({_ROUNDS}) ORDER BY round.id"
    )
    for id_, key, setup, started_at in store.stream(query, room):
        yield id_, RoundLine(key, setup, started_at)


def _entry_lines(store: Database, round_id: int | None, key: str | None) -> Iterator[EntryLine]:
    # by round, as they lie in the index: nothing of a long journal has to be sorted
    query = "SELECT key, kind, at, body, raw FROM journal WHERE round_id IS ? ORDER BY id"
    for own_key, kind, at, body, raw in store.stream(query, round_id):
        yield EntryLine(own_key, key, kind, at, _raw(body), raw)


def _kept_lines(
    store: Database,
    room: str,
    kind: type[KeptLine],
    keys: Mapping[int | None, str | None],
) -> Iterator[KeptLine]:
    columns = "key, room, round_id, at, body"
    query = f"SELECT {columns} FROM {kind.table} WHERE room = ? ORDER BY id"  # noqa: S608
    for key, of, round_id, at, body in store.stream(query, room):
        # of a round that is not there: what it is about cannot be read
        about = keys.get(round_id, f"round {round_id}")
        yield kind(key, of, about, at, _raw(body))


def _raw(body: object) -> msgspec.Raw:
    """Return a body as it is in the store; nothing, which is no body, for what is no text."""
    text = body if isinstance(body, str) else ""
    return msgspec.Raw(text.encode(errors="surrogateescape"))


def _text(body: msgspec.Raw) -> str:
    # as it was stored: by that it is known again where it is already
    return json_as_written(bytes(body).decode())


def _check_name(name: str) -> None:
    if len(name) > LONGEST_NAME:
        raise BadInput(f"room: its name has over {LONGEST_NAME} signs")


def _time(text: str) -> datetime:
    """Return a time that is written as the store writes it, for times are compared as text."""
    moment = time_of(text)
    if utc_text(moment) != text:
        raise ValueError(f"{text} is not a time as the store writes it")
    return moment
