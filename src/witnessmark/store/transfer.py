"""A room with all its history, taken from one store into a file and from the file into another."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import BinaryIO, get_args

import msgspec

from witnessmark.errors import BadInput, StoreError
from witnessmark.store.database import Columns
from witnessmark.store.packing import UNREADABLE, RecordRefused
from witnessmark.store.roomfile import RoomReader, RoomWriter, reason
from witnessmark.store.roomlines import (
    EntryLine,
    Line,
    MarkLine,
    PreferenceLine,
    RoundLine,
    SetupLine,
    TrialLine,
)
from witnessmark.store.rooms import room_named
from witnessmark.store.store import Store

Counts = dict[str, int]
"""How many of each kind of line."""

_ROUNDS = """
    SELECT round.id FROM round JOIN setup ON setup.id = setup_id WHERE name = ?1
    UNION SELECT round_id FROM trial WHERE room = ?1
    UNION SELECT round_id FROM preference WHERE room = ?1
    UNION SELECT round_id FROM mark WHERE room = ?1
"""
"""The rounds of a room: also those that were begun under an earlier name of it."""


_IMPORTED: dict[str, Columns] = {"setup": {"imported": 1}, "round": {"imported": 1}}
"""What is stored beside such rows, so that none becomes the latest."""


class Imported(msgspec.Struct, frozen=True):
    """What an import did: which room it was, what was added, and what had been there already."""

    room: str
    added: Counts
    there: Counts


def export_to(store: Store, room: str, path: Path) -> Counts:
    """Write a room to a new file and return how much was written.

    Raises:
        BadInput: when there is no such room, or the file is there already or cannot be made.
        StoreError: when the store cannot be read, or the file not be written; no file is left.
    """
    try:
        file = path.open("xb")
    except FileExistsError:
        raise BadInput(f"{path}: is there already; name a new file") from None
    except OSError as error:
        why = f"{reason(error)}; name a file in a folder of your own"
        raise BadInput(f"{path}: cannot be made: {why}") from error
    try:
        with file:
            counts = export_room(store, room, file, str(path))
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        path.unlink(missing_ok=True)
        raise
    return counts


def export_room(store: Store, room: str, to: BinaryIO, name: str) -> Counts:
    """Write a room with all its history, and all that was journaled outside any round.

    Such entries are in every room's file, because nothing tells whose they are.

    Args:
        store: where the room is; what is added to it meanwhile is left out.
        room: its name.
        to: an open file.
        name: what the file is called in an error.

    Raises:
        BadInput: when there is no such room.
        StoreError: when the store cannot be read, or the file not be written.
    """
    counts = _none_yet()
    with store.reading():
        writer = RoomWriter(to, name, room_named(store, room))
        for line in _lines(store, room):
            try:
                line.check()
            except UNREADABLE as error:
                what = f"{line.what()} {line.key}"
                raise StoreError(f"{store.path}: {what} cannot be read: {error}") from error
            writer.write(line)
            counts[line.what()] += 1
        writer.end()
    return counts


def import_from(store: Store, path: Path) -> Imported:
    """Add what a file holds and the store does not; see ``import_room``.

    Raises:
        BadInput: also when the file cannot be opened.
        StoreError: when the store cannot be written.
    """
    try:
        file = path.open("rb")
    except OSError as error:
        raise BadInput(f"{path}: {reason(error)}; give the path of an exported room") from None
    with file:
        return import_room(store, file, str(path))


def import_room(store: Store, source: BinaryIO, name: str) -> Imported:
    """Add what a file holds and the store does not, all of it or nothing.

    What is there already, by its key, is passed over. What is added never becomes the latest setup
    or round of this computer.

    Args:
        store: where it is added.
        source: an open file.
        name: what the file is called in an error.

    Raises:
        BadInput: when the file is damaged, cut off, of another kind or of a newer program; nothing
            was added then.
        StoreError: when the store cannot be written.
    """
    reader = RoomReader(source, name)
    added, there = _none_yet(), _none_yet()
    ids: dict[str | None, int | None] = {None: None}
    with store.writing():
        for line in reader:
            try:
                line.check()
                row, beside = line.columns(ids), _IMPORTED.get(line.table)
                done = store.add(line.table, line.key, row, beside)
            except RecordRefused as refused:
                raise reader.wrong(str(refused)) from refused
            except (*UNREADABLE, RecursionError) as error:
                raise reader.damaged(error) from error
            if line.table in _IMPORTED:
                ids[line.key] = done.id
            (added if done.is_new else there)[line.what()] += 1
    return Imported(reader.room, added, there)


def _none_yet() -> Counts:
    return dict.fromkeys((line.what() for line in get_args(Line)), 0)


def _lines(store: Store, room: str) -> Iterator[Line]:
    """All that there is of a room, in the order of the file."""
    yield from _setup_lines(store, room)
    rounds = dict(_round_lines(store, room))
    yield from rounds.values()
    keys = {None: None} | {id_: line.key for id_, line in rounds.items()}
    for round_id, key in keys.items():
        yield from _entry_lines(store, round_id, key)
    for kind in (TrialLine, PreferenceLine, MarkLine):
        yield from _kept_lines(store, room, kind, keys)


def _setup_lines(store: Store, room: str) -> Iterator[SetupLine]:
    query = (
        "SELECT key, saved_at, name, body FROM setup WHERE name = ?1 "  # noqa: S608 - our own names
        f"OR id IN (SELECT setup_id FROM round WHERE id IN ({_ROUNDS})) ORDER BY id"
    )
    for key, saved_at, name, body in store.stream(query, room):
        yield SetupLine(key, saved_at, name, _raw(body))


def _round_lines(store: Store, room: str) -> Iterator[tuple[int, RoundLine]]:
    query = (
        "SELECT round.id, round.key, setup.key, started_at FROM round "  # noqa: S608 - likewise
        f"JOIN setup ON setup.id = setup_id WHERE round.id IN ({_ROUNDS}) ORDER BY round.id"
    )
    for id_, key, setup, started_at in store.stream(query, room):
        yield id_, RoundLine(key, setup, started_at)


def _entry_lines(store: Store, round_id: int | None, key: str | None) -> Iterator[EntryLine]:
    # by round, as they lie in the index: nothing of a long journal has to be sorted
    query = "SELECT key, kind, at, body, raw FROM journal WHERE round_id IS ? ORDER BY id"
    for own_key, kind, at, body, raw in store.stream(query, round_id):
        yield EntryLine(own_key, key, kind, at, _raw(body), raw)


def _kept_lines(
    store: Store,
    room: str,
    kind: type[TrialLine | PreferenceLine | MarkLine],
    keys: Mapping[int | None, str | None],
) -> Iterator[TrialLine | PreferenceLine | MarkLine]:
    columns = "key, room, round_id, at, body"
    query = f"SELECT {columns} FROM {kind.table} WHERE room = ? ORDER BY id"  # noqa: S608
    for key, of, round_id, at, body in store.stream(query, room):
        yield kind(key, of, keys[round_id], at, _raw(body))


def _raw(body: str) -> msgspec.Raw:
    return msgspec.Raw(body.encode())
