"""What a person is told when the store's file cannot be used."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from witnessmark.errors import StoreError

ELSEWHERE = "set WITNESSMARK_STORE to a file in a folder of your own"
_WORDS = {
    sqlite3.SQLITE_FULL: "the disk is full, so nothing more is stored; free some space",
    sqlite3.SQLITE_READONLY: f"cannot be written; {ELSEWHERE}",
    sqlite3.SQLITE_PERM: f"cannot be written; {ELSEWHERE}",
    sqlite3.SQLITE_CANTOPEN: f"cannot be opened or made; {ELSEWHERE}",
    sqlite3.SQLITE_BUSY: "another program keeps the store to itself; close it, then try again",
    sqlite3.SQLITE_LOCKED: "another program keeps the store to itself; close it, then try again",
    sqlite3.SQLITE_NOTADB: (
        "not a store: some other file, or a store damaged at its start; move it out of the way "
        f"and keep it, or {ELSEWHERE}"
    ),
    sqlite3.SQLITE_CORRUPT: (
        "the store is damaged; move the file out of the way and keep it, for much of it may be "
        "recovered, and a new one is begun"
    ),
    sqlite3.SQLITE_IOERR: "the disk does not answer as it should; see that it is still connected",
}
_PRIMARY_CODE = 0xFF
"""The low byte of an SQLite result code; the rest says more than a person needs."""


@contextlib.contextmanager
def explained(path: Path) -> Iterator[None]:
    """Turn what goes wrong with the file at ``path`` into a ``StoreError`` with one sentence."""
    try:
        yield
    except (sqlite3.Error, OSError, UnicodeEncodeError) as error:
        raise StoreError(f"{path}: {_sentence(error)}") from error


def _sentence(error: Exception) -> str:
    match error:
        case OSError():
            return f"its folder cannot be made or written ({error.strerror}); {ELSEWHERE}"
        case UnicodeEncodeError():
            return f"not stored: {error.object!r} is not Unicode text"
    # Errors of the Python module itself, such as use after close, have no code.
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & _PRIMARY_CODE
    return _WORDS.get(code, f"the store failed: {error}")
