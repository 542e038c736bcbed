"""The store file: saved setups, rounds, and the journal, each call on disk before it returns."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from witnessmark.errors import StoreError
from witnessmark.model import Setup
from witnessmark.store.entries import Draft, Entry, Row, from_row, new_key, to_row
from witnessmark.store.packing import UNREADABLE, RecordRefused, utc_text
from witnessmark.store.schema import prepare
from witnessmark.store.setups import NO_CHOICES, Choices, SavedSetup, SetupBody, StartedRound
from witnessmark.store.trouble import explained

BUSY_SECONDS = 5.0
"""How long another copy of the program may hold the store before a call gives up."""


def store_path(path: Path | None = None) -> Path:
    """The file of the store: ``path``, or WITNESSMARK_STORE, or one in the user's data folder."""
    import platformdirs  # noqa: PLC0415

    named = path or os.environ.get("WITNESSMARK_STORE")
    folder = platformdirs.user_data_path("witnessmark", appauthor=False)
    return Path(named).expanduser() if named else folder / "store.sqlite3"


class Store:
    """One open store. Nothing in it is changed or deleted; every save and append adds a row.

    Two copies of the program may have the same file open. One thread at a time may use a ``Store``.
    Every method raises ``StoreError``, with one sentence for the person, when the disk is full, the
    file is damaged, cannot be written, or is held by another program.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection = connection
        self.path = path

    @classmethod
    def open(cls, path: Path | None = None) -> Self:
        """Open the store at ``store_path(path)``, making it and its folder where missing.

        Raises:
            StoreError: also when the file is another program's, or a newer witnessmark's.
        """
        path = store_path(path)
        with explained(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            # A store opened in the main thread may be handed to the journal's own.
            connection = sqlite3.connect(
                path, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False
            )
            try:
                prepare(connection, path)
            except BaseException:
                connection.close()
                raise
        return cls(connection, path)

    def close(self) -> None:
        """Close the file; all that was appended is in it."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def save_setup(
        self, name: str, setup: Setup, at: datetime, choices: Choices = NO_CHOICES
    ) -> int:
        """Save a setup as a new row, which makes it the current one, and return its id."""
        body = SetupBody(setup, dict(choices)).to_json()
        return self._add("INSERT INTO setup VALUES (NULL, ?, ?, ?)", utc_text(at), name, body)

    def latest_setup(self) -> SavedSetup | None:
        """The setup that was saved last."""
        row = self._first("SELECT id, saved_at, name, body FROM setup ORDER BY id DESC")
        return self._setup(*row) if row else None

    def start_round(self, setup_id: int, at: datetime) -> int:
        """Begin a round about a saved setup and return the round's id."""
        return self._add("INSERT INTO round VALUES (NULL, ?, ?)", setup_id, utc_text(at))

    def latest_round(self) -> StartedRound | None:
        """The round that was started last, with its setup."""
        row = self._first(
            "SELECT round.id, started_at, setup.id, saved_at, name, body "
            "FROM round JOIN setup ON setup.id = setup_id ORDER BY round.id DESC"
        )
        if row is None:
            return None
        id_, started_at, *setup = row
        return StartedRound(id_, datetime.fromisoformat(started_at), self._setup(*setup))

    def append(self, round_id: int | None, entry: Entry, key: str | None = None) -> int:
        """Journal an entry and return its id; it is on disk when this returns.

        An entry that is appended again under the same key is not stored twice: the id of the first
        is returned.

        Raises:
            RecordRefused: when there is no such round, the key belongs to another entry, or the
                entry would not read back the same.
        """
        (outcome,) = self.append_all([Draft(round_id, entry, key or new_key())])
        if isinstance(outcome, RecordRefused):
            raise outcome
        return outcome

    def append_all(self, drafts: Sequence[Draft]) -> list[int | RecordRefused]:
        """Journal several entries in their order, in one transaction: an id or a refusal for each.

        A refused entry keeps no other out; when this raises, none was stored.
        """
        with self._writing():
            return [self._append(draft) for draft in drafts]

    def entries(self, round_id: int | None) -> list[Entry]:
        """The entries of a round, or those outside any round, in the order they were stored."""
        with explained(self.path):
            rows = self._connection.execute(
                "SELECT id, kind, at, body, raw FROM journal WHERE round_id IS ? ORDER BY id",
                (round_id,),
            ).fetchall()
        return [self._entry(id_, Row(*columns)) for id_, *columns in rows]

    def _append(self, draft: Draft) -> int | RecordRefused:
        try:
            return self._insert(draft)
        except RecordRefused as refused:
            return refused
        except sqlite3.IntegrityError:
            return RecordRefused(f"not stored: there is no round {draft.round_id} in {self.path}")

    def _insert(self, draft: Draft) -> int:
        columns = (draft.round_id, *to_row(draft.entry))
        self._connection.execute(
            "INSERT INTO journal (key, round_id, kind, at, body, raw) "
            "VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (key) DO NOTHING",
            (draft.key, *columns),
        )
        id_, *stored = self._connection.execute(
            "SELECT id, round_id, kind, at, body, raw FROM journal WHERE key = ?",
            (draft.key,),
        ).fetchone()
        if tuple(stored) != columns:
            raise RecordRefused(f"not stored: key {draft.key} already belongs to another entry")
        return int(id_)

    def _entry(self, id_: int, row: Row) -> Entry:
        try:
            return from_row(row)
        except UNREADABLE as error:
            raise StoreError(f"{self.path}: journal entry {id_} cannot be read: {error}") from error

    def _setup(self, id_: int, saved_at: str, name: str, body: str) -> SavedSetup:
        try:
            return SavedSetup.from_row(id_, saved_at, name, body)
        except UNREADABLE as error:
            raise StoreError(f'{self.path}: setup "{name}" cannot be read: {error}') from error

    def _first(self, query: str) -> Any:  # noqa: ANN401
        with explained(self.path):
            return self._connection.execute(f"{query} LIMIT 1").fetchone()

    def _add(self, insert: str, *values: int | str) -> int:
        with self._writing():
            self._connection.execute(insert, values)
            (id_,) = self._connection.execute("SELECT last_insert_rowid()").fetchone()
        return int(id_)

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        with explained(self.path), self._connection:
            self._connection.execute("BEGIN IMMEDIATE")
            yield
