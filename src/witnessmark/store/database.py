"""The store's file itself: opened, read, written in transactions, and closed."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

from witnessmark.store.record_json import RecordRefused
from witnessmark.store.schema import prepare
from witnessmark.store.store_errors import explained

BUSY_SECONDS = 5.0
"""How long another copy of the program may hold the store before a call gives up."""

Value = int | str | bytes | None
Columns = Mapping[str, Value]
"""What stands in a row, by column."""


class Added(NamedTuple):
    """The number of a row, and whether it was added just now or had been there already."""

    id: int
    is_new: bool


class Database:
    """One open file, to which rows are added and in which none is changed or deleted.

    Two copies of the program may have the same file open. One thread at a time may use it. Every
    method raises ``StoreError``, with one sentence for the person, when the disk is full, the file
    is damaged, cannot be written, or is held by another program.
    """

    def __init__(self, connection: sqlite3.Connection, path: Path) -> None:
        self._connection = connection
        self.path = path

    @classmethod
    def at(cls, path: Path) -> Self:
        """Open the file at ``path``, making it and its folder where missing.

        Raises:
            StoreError: also when the file is another program's, or a newer witnessmark's.
        """
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
        """Close the file; all that was added is in it."""
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

    def rows(self, query: str, *values: Value) -> list[Any]:
        """The rows that a query finds."""
        with explained(self.path):
            return self._connection.execute(query, values).fetchall()

    def stream(self, query: str, *values: Value) -> Iterator[Any]:
        """The rows that a query finds, one after another, however many they are."""
        with explained(self.path):
            found = self._connection.execute(query, values)
            try:
                yield from found
            finally:
                # whoever read only some of it may have closed the store since
                with contextlib.suppress(sqlite3.ProgrammingError):
                    found.close()

    def first(self, query: str, *values: Value) -> Any:  # noqa: ANN401
        """The first row that a query finds, None where there is none."""
        with explained(self.path):
            return self._connection.execute(f"{query} LIMIT 1", values).fetchone()

    @contextlib.contextmanager
    def reading(self) -> Iterator[None]:
        """All that is read in here is of one moment, whatever another copy adds meanwhile."""
        with explained(self.path), self._connection:
            self._connection.execute("BEGIN")
            yield

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """All that is added in here is on disk when this is left; nothing of it when it raises."""
        with explained(self.path), self._connection:
            self._connection.execute("BEGIN IMMEDIATE")
            yield

    def write_nothing(self) -> None:
        """Write the file without a change to what is in it, which tells whether it can be."""
        (version,) = self.first("SELECT user_version FROM pragma_user_version")
        with self.writing():
            self._connection.execute(f"PRAGMA user_version = {version}")

    def add(
        self,
        table: str,
        key: str,
        row: Columns,
        beside: Columns | None = None,
    ) -> Added:
        """Add a row under its key, within ``writing``; once, however often it is added.

        What is stored ``beside`` the row is of this store alone and makes it no other row.

        Raises:
            RecordRefused: when the key belongs to another row, or it is about a round or setup
                that is not there.
        """
        stored = {"key": key, **row, **(beside or {})}
        try:
            done = self._connection.execute(
                f"INSERT INTO {table} ({', '.join(stored)}) VALUES "  # noqa: S608 - our own names
                f"({', '.join('?' * len(stored))}) ON CONFLICT (key) DO NOTHING",
                tuple(stored.values()),
            )
        except sqlite3.IntegrityError as error:
            named = "setup" if "setup_id" in row else "round"
            missing = f"{named} {row.get(f'{named}_id')!r}"
            raise RecordRefused(f"not stored: there is no {missing} in {self.path}") from error
        if done.rowcount:
            assert done.lastrowid is not None  # noqa: S101 - a row was added
            return Added(done.lastrowid, is_new=True)
        id_, *there = self._connection.execute(
            f"SELECT id, {', '.join(row)} FROM {table} WHERE key = ?",  # noqa: S608 - our own names
            (key,),
        ).fetchone()
        if there != list(row.values()):
            what = "entry" if table == "journal" else table
            raise RecordRefused(f"not stored: key {key} already belongs to another {what}")
        return Added(id_, is_new=False)
