"""The tables, and bringing a file of any earlier version up to them.

Every table is only ever added to; triggers refuse anything else. Each row has a ``key`` that no
other row has on any computer, so that what was written on one can be added on another once; only
``unfinished`` and ``snapshot`` have none, for they help this computer alone to go on. The version
is the number of migrations that a file has been through, kept in ``user_version``. Bodies
hold the model's records as JSON: a field that is renamed or removed there needs a migration here.
"""

from __future__ import annotations

import sqlite3
import time
from pathlib import Path

from witnessmark.errors import StoreError

APPLICATION_ID = 0x574D_524B
"""``WMRK``, by which a store is recognised among SQLite files."""

Migration = tuple[str, ...]
"""The statements that lead from one version to the next."""


def _append_only(table: str) -> Migration:
    return tuple(
        f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, 'a {table} is only ever added'); END"
        for verb in ("UPDATE", "DELETE")
    )


def _keyed(table: str) -> Migration:
    """Give every row of a table a key, and a flag for what was imported."""
    return (
        f"ALTER TABLE {table} ADD COLUMN key TEXT NOT NULL DEFAULT ''",
        f"ALTER TABLE {table} ADD COLUMN imported INTEGER NOT NULL DEFAULT 0",
        f"DROP TRIGGER {table}_no_update",
        f"UPDATE {table} SET key = lower(hex(randomblob(16)))",  # noqa: S608 - our own names
        f"CREATE UNIQUE INDEX {table}_key ON {table} (key)",
        _append_only(table)[0],
    )


def _kept(table: str) -> Migration:
    """Make a table of records that a person keeps of a room."""
    return (
        f"""CREATE TABLE {table} (
            id INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            room TEXT NOT NULL,
            round_id INTEGER REFERENCES round,
            at TEXT NOT NULL,
            body TEXT NOT NULL
        )""",
        f"CREATE INDEX {table}_of_room ON {table} (room)",
        *_append_only(table),
    )


MIGRATIONS: tuple[Migration, ...] = (
    (
        """CREATE TABLE setup (
            id INTEGER PRIMARY KEY,
            saved_at TEXT NOT NULL,
            name TEXT NOT NULL,
            body TEXT NOT NULL
        )""",
        """CREATE TABLE round (
            id INTEGER PRIMARY KEY,
            setup_id INTEGER NOT NULL REFERENCES setup,
            started_at TEXT NOT NULL
        )""",
        """CREATE TABLE journal (
            id INTEGER PRIMARY KEY,
            round_id INTEGER REFERENCES round,
            key TEXT NOT NULL UNIQUE,
            kind TEXT NOT NULL,
            at TEXT NOT NULL,
            body TEXT NOT NULL,
            raw BLOB
        )""",
        "CREATE INDEX journal_of_round ON journal (round_id)",
        *_append_only("setup"),
        *_append_only("round"),
        *_append_only("journal"),
    ),
    (
        *_keyed("setup"),
        *_keyed("round"),
        "CREATE INDEX setup_of_room ON setup (name)",
        "CREATE INDEX round_of_setup ON round (setup_id)",
        *_kept("trial"),
        *_kept("preference"),
        *_kept("mark"),
    ),
    _kept("struck"),
    (
        """CREATE TABLE unfinished (
            id INTEGER PRIMARY KEY,
            room TEXT NOT NULL,
            at TEXT NOT NULL,
            after INTEGER NOT NULL,
            body TEXT
        )""",
        """CREATE TABLE snapshot (
            id INTEGER PRIMARY KEY,
            round_id INTEGER NOT NULL REFERENCES round,
            after INTEGER NOT NULL REFERENCES journal,
            body BLOB NOT NULL
        )""",
        "CREATE INDEX snapshot_of_round ON snapshot (round_id)",
        "CREATE INDEX journal_by_time ON journal (at, round_id, kind)",
        *_append_only("unfinished"),
        *_append_only("snapshot"),
    ),
)


def prepare(
    connection: sqlite3.Connection, path: Path, migrations: tuple[Migration, ...] = MIGRATIONS
) -> None:
    """Set the connection up and bring the file to the present version, in one transaction.

    Raises:
        StoreError: when the file is not a store, or a newer program's; it is left as it was.
        sqlite3.Error: when the file is damaged, held, or cannot be written.
    """
    version = _version(connection, path, len(migrations))
    _write_ahead(connection)
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("PRAGMA fullfsync = ON")  # macOS: or fsync stops at the disk's own cache
    connection.execute("PRAGMA foreign_keys = ON")
    if version < len(migrations):
        _migrate(connection, path, migrations)


def _write_ahead(connection: sqlite3.Connection) -> None:
    """Switch to a write-ahead log, waiting for another copy that does so at the same time.

    SQLite waits by itself for every lock but this one.
    """
    (patience_ms,) = connection.execute("PRAGMA busy_timeout").fetchone()
    given_up = time.monotonic() + patience_ms / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            busy = error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY
            if not busy or time.monotonic() > given_up:
                raise
            time.sleep(0.01)
        else:
            return


def _migrate(connection: sqlite3.Connection, path: Path, migrations: tuple[Migration, ...]) -> None:
    with connection:
        connection.execute("BEGIN IMMEDIATE")
        # Asked again under the lock: another copy of the program may have been first.
        version = _version(connection, path, len(migrations))
        for migration in migrations[version:]:
            for statement in migration:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(migrations)}")


def _version(connection: sqlite3.Connection, path: Path, newest: int) -> int:
    application, version, tables = connection.execute(
        "SELECT application_id, user_version, (SELECT count(*) FROM sqlite_master) "
        "FROM pragma_application_id, pragma_user_version"
    ).fetchone()
    if (application, version, tables) == (0, 0, 0):
        return 0
    if application != APPLICATION_ID:
        raise StoreError(f"{path}: a database of another program; name a file for the store")
    if version > newest:
        raise StoreError(
            f"{path}: written by a newer witnessmark (store version {version}, this program "
            f"reads up to {newest}); update the program"
        )
    return int(version)
