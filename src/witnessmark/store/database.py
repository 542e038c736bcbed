"""The store's file itself: opened, read, written in transactions, and closed.

What goes wrong with it is said to a person in one sentence.
"""

from __future__ import annotations

import contextlib
import errno
import shutil
import sqlite3
from collections.abc import Generator, Iterator, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

from witnessmark.errors import StoreError
from witnessmark.file_errors import printable
from witnessmark.store.records import RecordRefused
from witnessmark.store.schema import prepare

BUSY_SECONDS = 5.0
"""Time that a call waits, seconds, while another copy of the program holds the store."""

ELSEWHERE = "set WITNESSMARK_STORE to a file in a folder of your own"
_WORDS = {
    sqlite3.SQLITE_FULL: "the disk is full, so nothing more is stored; free some space",
    sqlite3.SQLITE_READONLY: f"cannot be written; {ELSEWHERE}",
    sqlite3.SQLITE_PERM: f"cannot be written; {ELSEWHERE}",
    sqlite3.SQLITE_CANTOPEN: f"cannot be opened or made; {ELSEWHERE}",
    sqlite3.SQLITE_BUSY: "another program has locked the store; close it, then try again",
    sqlite3.SQLITE_LOCKED: "another program has locked the store; close it, then try again",
    sqlite3.SQLITE_NOTADB: (
        "not a store: some other file, or a store damaged at its start; keep it but move it "
        f"elsewhere, or {ELSEWHERE}"
    ),
    sqlite3.SQLITE_CORRUPT: (
        "the store is damaged; keep the file but move it elsewhere, as much of it may be "
        "recovered; a new store is then begun"
    ),
    sqlite3.SQLITE_IOERR: "the disk does not answer; check that it is still connected",
}
NO_LOCKS = (
    f"the disk that it is on locks no files, so two copies of the program could mix; {ELSEWHERE}"
)
_LOCK_CODES = frozenset(
    {
        sqlite3.SQLITE_PROTOCOL,
        sqlite3.SQLITE_IOERR_LOCK,
        sqlite3.SQLITE_IOERR_UNLOCK,
        sqlite3.SQLITE_IOERR_RDLOCK,
        sqlite3.SQLITE_IOERR_CHECKRESERVEDLOCK,
        sqlite3.SQLITE_IOERR_SHMLOCK,
    }
)
"""SQLite's codes for a lock that the system refuses, and not because somebody else has it."""
_LOCK_ERRORS = frozenset({errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOTSUP})
"""The system's own numbers for the same."""
_PRIMARY_CODE = 0xFF
"""The low byte of an SQLite result code; the rest says more than a person needs."""

LEAST_FREE_BYTES = 50_000_000
"""Free space on disk, bytes, that a store needs; an evening of readings takes far less."""

ROOM_AHEAD_BYTES = 4_400_000
"""What the log of commits grows to before SQLite begins it anew: 1000 pages and a few more."""

ColumnValue = int | str | bytes | None
RowValues = Mapping[str, ColumnValue]
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
        self._passed_over: dict[str, str] = {}
        self._has_room_ahead = False

    @classmethod
    def at(cls, path: Path) -> Self:
        """Open the file at ``path``, making it and its folder where missing.

        Raises:
            StoreError: also when the file is another program's, or a newer witnessmark's.
        """
        with explained(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            if path.exists() and not path.is_file():
                raise StoreError(f"{path}: a folder, a device or a pipe, not a file; {ELSEWHERE}")
            # A store opened in the main thread may be handed to the journal's own.
            connection = sqlite3.connect(
                path, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False
            )
            # a text that is damaged must not keep the rows beside it from being read
            connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
            try:
                prepare(connection, path)
            except BaseException:
                connection.close()
                raise
        return cls(connection, path)

    def close(self) -> None:
        """Close the file; all that was added is in it."""
        self._connection.close()

    def interrupt(self) -> None:
        """Have a query end at once that another thread is waiting for."""
        self._connection.interrupt()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        self.close()

    def rows(self, query: str, *values: ColumnValue) -> list[Any]:
        """Return the rows that a query finds."""
        with explained(self.path):
            return self._connection.execute(query, values).fetchall()

    def stream(self, query: str, *values: ColumnValue) -> Generator[Any]:
        """Return the rows that a query finds, one after another, however many they are."""
        with explained(self.path):
            found = self._connection.execute(query, values)
            try:
                # not the cursor itself, which `yield from` would close after the store, and fail
                yield from (row for row in found)
            finally:
                # whoever read only some of it may have closed the store since
                with contextlib.suppress(sqlite3.ProgrammingError):
                    found.close()

    def pass_over(self, what: str, error: Exception) -> None:
        """Take note of a row that cannot be read, and why; the rest is read all the same."""
        self._passed_over[what] = str(error)

    @property
    def passed_over(self) -> str:
        """A sentence about the rows that could not be read so far; empty where all could."""
        if not self._passed_over:
            return ""
        (what, why), *more = self._passed_over.items()
        rows = f"{what} cannot be read and is left out"
        if more:
            rows = f"{len(more) + 1} records cannot be read and are left out; the first is {what}"
        return printable(f"{self.path}: {rows} ({why}). All the others are there.", 500)

    def first(self, query: str, *values: ColumnValue) -> Any:  # noqa: ANN401
        """Return the first row that a query finds, None where there is none."""
        with explained(self.path):
            return self._connection.execute(f"{query} LIMIT 1", values).fetchone()

    @contextlib.contextmanager
    def reading(self) -> Iterator[None]:
        """Read all in here as of one moment, whatever another copy adds meanwhile."""
        with explained(self.path), self._connection:
            self._connection.execute("BEGIN")
            yield

    @contextlib.contextmanager
    def writing(self) -> Iterator[None]:
        """Put all that is added in here on disk when this is left; nothing of it when it raises."""
        with explained(self.path), self._connection:
            self._connection.execute("BEGIN IMMEDIATE")
            yield

    def make_room_ahead(self) -> None:
        """Have the log of commits grow at once to the length that it reaches by and by.

        A commit that lengthens a file waits for the file system's own log too, and with it for
        what other programs write; one within a file waits for its own bytes alone. Where there is
        no room, or another copy is writing, all is stored the same, only less soon.
        """
        if self._has_room_ahead:
            return
        with contextlib.suppress(sqlite3.Error):
            (cache,) = self._connection.execute("PRAGMA cache_size").fetchone()
            # what is rolled back was in the log already where it does not fit in the cache
            self._connection.execute("PRAGMA cache_size = 10")
            try:
                self._connection.execute("BEGIN IMMEDIATE")
                self._connection.execute("CREATE TABLE room_ahead (bytes)")
                room = "INSERT INTO room_ahead VALUES (zeroblob(?))"
                self._connection.execute(room, (ROOM_AHEAD_BYTES,))
                self._has_room_ahead = True
            finally:
                if self._connection.in_transaction:
                    self._connection.execute("ROLLBACK")
                self._connection.execute(f"PRAGMA cache_size = {cache}")

    def readiness(self) -> str | None:
        """Make sure that the file can be written, and say so where its disk is nearly full.

        Asked before an evening, and not during it.

        Raises:
            StoreError: when it cannot be written; one sentence that says what to do.
        """
        (version,) = self.first("SELECT user_version FROM pragma_user_version")
        with self.writing():
            self._connection.execute(f"PRAGMA user_version = {version}")
        with explained(self.path):
            free = shutil.disk_usage(self.path.parent).free
        if free >= LEAST_FREE_BYTES:
            return None
        return (
            f"{self.path}: only {free / 1e6:.0f} MB are left on this disk; free some space before "
            f"the evening, or {ELSEWHERE}"
        )

    def add(
        self,
        table: str,
        key: str,
        row: RowValues,
        beside: RowValues | None = None,
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


@contextlib.contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what goes wrong with the file at ``path`` into a ``StoreError`` with one sentence."""
    try:
        yield
    except BrokenPipeError:  # of an output beside the store, which nobody reads any more
        raise
    except (sqlite3.Error, OSError, NotImplementedError, UnicodeEncodeError) as error:
        raise StoreError(f"{path}: {_sentence(error)}") from error


def _sentence(error: Exception) -> str:
    match error:
        case OSError(errno=number) if number in _LOCK_ERRORS:
            return NO_LOCKS
        case NotImplementedError():  # from a lock of a file where there are none
            return NO_LOCKS
        case OSError():
            return f"its folder cannot be made or written ({error.strerror}); {ELSEWHERE}"
        case UnicodeEncodeError():
            return f"not stored: {error.object!r} is not Unicode text"
    # Errors of the Python module itself, such as use after close, have no code.
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
    if code in _LOCK_CODES:
        return NO_LOCKS
    code &= _PRIMARY_CODE
    return _WORDS.get(code, f"the store failed: {error}")
