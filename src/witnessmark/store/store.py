"""The store: saved setups, rounds, the journal, and what is kept of a room.

Each call is on disk before it returns.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Self

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.files import user_path
from witnessmark.model import Act, Setup
from witnessmark.store.claim import Claims
from witnessmark.store.database import ColumnValue, Database, RowValues
from witnessmark.store.records import (
    KEPT,
    NO_CHOICES,
    UNREADABLE,
    Choices,
    JournalEntry,
    JournalRow,
    K,
    Kept,
    PendingEntry,
    RecordRefused,
    RoomSummary,
    SavedSetup,
    SetupBody,
    Snapshot,
    StartedRound,
    UnfinishedRoom,
    check_texts,
    from_columns,
    from_row,
    new_key,
    table_of,
    time_of,
    to_columns,
    to_json,
    to_row,
    utc_text,
)

_BEGINNING_UNDONE = to_json({"act": Act.UNDO})
"""The first entry of a round whose beginning was undone."""
_SETUP = "SELECT id, key, saved_at, name, body, imported FROM setup"
_UNFINISHED = """
    SELECT room, body, NOT EXISTS (SELECT 1 FROM setup WHERE NOT imported AND id > after)
    FROM unfinished
    WHERE id IN (SELECT max(id) FROM unfinished GROUP BY room) AND body IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM setup WHERE name = room AND id > after)
    ORDER BY id
"""
_ROOMS = f"""
    SELECT name,
        (SELECT count(*) FROM round JOIN setup ON setup.id = setup_id WHERE setup.name = any.name),
        (SELECT count(*) FROM trial WHERE room = any.name),
        (SELECT count(*) FROM mark WHERE room = any.name)
    FROM (
        SELECT name, id AS saved FROM setup
        {" ".join(f"UNION ALL SELECT room, NULL FROM {kind.name}" for kind in KEPT)}
    ) AS any
    GROUP BY name ORDER BY max(saved) DESC, name
"""  # noqa: S608 - our own names


def store_path(path: Path | None = None) -> Path:
    """Return the store's file: ``path``, WITNESSMARK_STORE, or one in the user's data folder.

    Raises:
        BadInput: when it is below the folder of somebody who is not here.
    """
    import platformdirs  # noqa: PLC0415

    named = path or os.environ.get("WITNESSMARK_STORE")
    folder = platformdirs.user_data_path("witnessmark", appauthor=False)
    return user_path(str(named)) if named else folder / "store.sqlite3"


class Store(Database):
    """One open store. Nothing in it is changed or deleted; every save and append adds a row.

    Every method raises ``StoreError`` as ``Database`` does. A row that cannot be read, as one that
    is damaged or of a newer program, is passed over, and ``passed_over`` says so.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        super().__init__(connection, path)
        self._claims = Claims(path)

    @classmethod
    def open(cls, path: Path | None = None) -> Self:
        """Open the store at ``store_path(path)``, making it and its folder where missing.

        Raises:
            StoreError: also when the file is another program's, or a newer witnessmark's.
        """
        return cls.at(store_path(path))

    def close(self) -> None:
        """Close the file, and leave this copy's round to any other."""
        super().close()
        self._claims.leave()

    def save_setup(
        self, name: str, setup: Setup, at: datetime, choices: Choices = NO_CHOICES
    ) -> int:
        """Save a setup as a new row, which makes it the current one, and return its id."""
        body = SetupBody(setup, dict(choices)).to_json()
        row: RowValues = {"saved_at": utc_text(at), "name": name, "body": body}
        with self.writing():
            return self.add("setup", new_key(), row).id

    def save_unfinished(self, room: str, body: str | None, at: datetime) -> None:
        """Save what is known of a room whose setup is not whole; None where it is whole by now."""
        with self.writing():
            self._connection.execute(
                "INSERT INTO unfinished (room, at, after, body) "
                "VALUES (?, ?, (SELECT coalesce(max(id), 0) FROM setup), ?)",
                (room, utc_text(at), body),
            )

    def unfinished(self) -> list[UnfinishedRoom]:
        """Return the rooms whose setup is not whole yet, the one that was saved last at the end."""
        return [UnfinishedRoom(*row) for row in self.rows(_UNFINISHED)]

    def latest_setup(self) -> SavedSetup | None:
        """Return the setup that was saved last on this computer."""
        return self._first_readable(f"{_SETUP} WHERE NOT imported ORDER BY id DESC")

    def setup_of(self, room: str) -> SavedSetup | None:
        """Return the setup of a room that came last into this store, saved here or imported.

        Clocks are wrong at times, and one save under a future one would hide all later ones.
        """
        return self._first_readable(f"{_SETUP} WHERE name = ? ORDER BY id DESC", room)

    def rooms(self) -> list[RoomSummary]:
        """Return every room that there is anything of, the one that was saved last first."""
        found = []
        for name, *counts in self.rows(_ROOMS):
            with self._readable(f"the name {name!r} of a room"):
                check_texts(name)
                found.append(RoomSummary(name, self._last_saved(name), *counts))
        return found

    def _last_saved(self, room: str) -> datetime | None:
        """Return when the setup of a room was saved that came last, of those that tell when."""
        query = "SELECT id, saved_at FROM setup WHERE name = ? ORDER BY id DESC"
        with contextlib.closing(self.stream(query, room)) as rows:
            for id_, saved_at in rows:
                with self._readable(f'setup {id_} of "{room}"'):
                    return time_of(saved_at)
        return None

    def room_named(self, name: str | None = None) -> str:
        """Return the name of a room that there is something of; without one, the latest room's.

        The latest is what was saved last on this computer, or else imported last.

        Raises:
            BadInput: when there is no such room, naming those that there are.
        """
        rooms = [room.name for room in self.rooms()]
        if not rooms:
            raise BadInput(
                "no room was saved yet; enter one in the program, or bring one from another "
                "computer with witnessmark import"
            )
        if name is None:
            latest = self.latest_setup()
            return rooms[0] if latest is None else latest.name
        if name not in rooms:
            there = ", ".join(f'"{room}"' for room in rooms)
            raise BadInput(printable(f'room: there is no "{name}" in the store; there are {there}'))
        return name

    def start_round(self, setup_id: int, at: datetime) -> int:
        """Begin a round about a saved setup and return the round's id.

        It is this copy's of the program; the one that it had before is left to any other.
        """
        key = new_key()
        # before it is there for another copy to see
        self._claims.take(key)
        row: RowValues = {"setup_id": setup_id, "started_at": utc_text(at)}
        with self.writing():
            id_ = self.add("round", key, row).id
        self._claims.keep_only(key)
        return id_

    def claim_round(self, key: str) -> bool:
        """Claim a round for this copy of the program; return False while another copy has it."""
        return self._claims.take(key)

    def latest_round(self, room: str | None = None) -> StartedRound | None:
        """Return the round of a room, or of any, that was started last on this computer.

        One whose beginning was undone is passed over: nothing was measured in it.
        """
        query = (
            "SELECT round.id, round.key, started_at, setup.id, setup.key, saved_at, name, body, "
            "setup.imported FROM round JOIN setup ON setup.id = setup_id "
            "WHERE NOT round.imported AND name = coalesce(?, name) AND coalesce((SELECT body "
            "FROM journal WHERE round_id = round.id AND kind NOT IN ('fault', 'noise') "
            "ORDER BY journal.id LIMIT 1), '') != ? ORDER BY round.id DESC"
        )
        with contextlib.closing(self.stream(query, room, _BEGINNING_UNDONE)) as rows:
            for id_, key, started_at, *setup in rows:
                with self._readable(f"round {id_}"):
                    check_texts(key)
                    began, saved = time_of(started_at), SavedSetup.from_row(*setup)
                    return StartedRound(id_, key, began, saved)
        return None

    def append(self, round_id: int | None, entry: JournalEntry, key: str | None = None) -> int:
        """Journal an entry and return its id; it is on disk when this returns.

        An entry that is appended again under the same key is not stored twice: the id of the first
        is returned.

        Raises:
            RecordRefused: when there is no such round, the key belongs to another entry, or the
                entry would not read back the same.
        """
        (outcome,) = self.append_all([PendingEntry(round_id, entry, key or new_key())])
        if isinstance(outcome, RecordRefused):
            raise outcome
        return outcome

    def append_all(self, drafts: Sequence[PendingEntry]) -> list[int | RecordRefused]:
        """Journal several entries in their order, in one transaction: an id or a refusal for each.

        A refused entry keeps no other out; when this raises, none was stored.
        """
        with self.writing():
            return [self._append(draft) for draft in drafts]

    def keep_snapshot(self, round_id: int, snapshot: Snapshot) -> None:
        """Keep the state of a round, so that it is taken up without all that came before."""
        with self.writing():
            self._connection.execute(
                "INSERT INTO snapshot (round_id, after, body) VALUES (?, ?, ?)",
                (round_id, *snapshot),
            )

    def snapshot_before(self, round_id: int, entries: int) -> Snapshot | None:
        """Return the latest snapshot of a round that at least ``entries`` entries came after."""
        row = self.first(
            "SELECT after, body FROM "
            "(SELECT after, body FROM snapshot WHERE round_id = ?1 ORDER BY id DESC LIMIT 3) "
            "WHERE (SELECT count(*) FROM (SELECT 1 FROM journal "
            "WHERE round_id = ?1 AND id > after LIMIT ?2)) = ?2",
            round_id,
            entries,
        )
        return Snapshot(*row) if row else None

    def entries(self, round_id: int | None) -> list[JournalEntry]:
        """Return the entries of a round, or those outside any round, in the order of storing."""
        return [entry for _, entry in self.numbered_entries(round_id)]

    def numbered_entries(
        self, round_id: int | None, after: int = 0
    ) -> list[tuple[int, JournalEntry]]:
        """Return those after an entry, by its id, each with its own id."""
        rows = self.rows(
            "SELECT id, kind, at, body, raw FROM journal WHERE round_id IS ? AND id > ? "
            "ORDER BY id",
            round_id,
            after,
        )
        entries = []
        for id_, *columns in rows:
            with self._readable(f"journal entry {id_}"):
                entries.append((id_, from_row(JournalRow(*columns))))
        return entries

    def keep(self, room: str, round_id: int | None, record: K, key: str | None = None) -> Kept[K]:
        """Keep a trial, a preference or a mark of a room; it is on disk when this returns.

        A record that is kept again under the same key is not stored twice: the first is returned.

        Raises:
            RecordRefused: when there is no such round, the key belongs to another record, or the
                record would not read back the same.
        """
        at, body = to_columns(record)
        key = key or new_key()
        row: RowValues = {"room": room, "round_id": round_id, "at": at, "body": body}
        with self.writing():
            id_ = self.add(table_of(type(record)), key, row).id
        return Kept(id_, key, room, round_id, record)

    def kept(self, kind: type[K], room: str | None = None) -> list[Kept[K]]:
        """Return the trials, preferences or marks of a room, or of all, in the order of keeping."""
        query = f"SELECT id, key, room, round_id, at, body FROM {table_of(kind)}"  # noqa: S608
        rows = (
            self.rows(f"{query} ORDER BY id")
            if room is None
            else self.rows(f"{query} WHERE room = ? ORDER BY id", room)
        )
        found = []
        for id_, key, of, round_id, at, body in rows:
            with self._readable(f"{table_of(kind)} {id_}"):
                check_texts(key, of)
                found.append(Kept(id_, key, of, round_id, from_columns(kind, at, body)))
        return found

    def _append(self, draft: PendingEntry) -> int | RecordRefused:
        try:
            row: RowValues = {"round_id": draft.round_id, **to_row(draft.entry)._asdict()}
            return self.add("journal", draft.key, row).id
        except RecordRefused as refused:
            return refused

    def _first_readable(self, query: str, *values: ColumnValue) -> SavedSetup | None:
        with contextlib.closing(self.stream(query, *values)) as rows:
            for id_, key, saved_at, name, *rest in rows:
                with self._readable(f'setup {id_} of "{name}"'):
                    return SavedSetup.from_row(id_, key, saved_at, name, *rest)
        return None

    @contextlib.contextmanager
    def _readable(self, what: str) -> Iterator[None]:
        """Pass over what cannot be read in here."""
        try:
            yield
        except UNREADABLE as error:
            self.pass_over(what, error)
