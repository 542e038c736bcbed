"""A room with all its history, taken from one store into a file and from the file into another.

A long history takes its time: where readings come in meanwhile, a store that is opened for this
alone leaves their journal free. A file is checked whole before the first line of it is stored, so
that the store takes no readings only while checked lines are added.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import BinaryIO, Final

import msgspec

from witnessmark.errors import BadInput, StoreError
from witnessmark.files import new_file, open_plain
from witnessmark.store.database import RowValues
from witnessmark.store.export.lines import LINES, lines_of
from witnessmark.store.export.room_file import RoomReader, RoomWriter, reason
from witnessmark.store.records import UNREADABLE, RecordRefused
from witnessmark.store.store import Store

Counts = dict[str, int]
"""How many of each kind of line."""

_IMPORTED: dict[str, RowValues] = {"setup": {"imported": 1}, "round": {"imported": 1}}
"""What is stored beside such rows, so that none becomes the latest."""
_IN_MEMORY_BYTES: Final = 8 * 2**20
"""Up to this much of a file is kept in memory between its check and its import."""


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
    is_made = False
    try:
        with new_file(path) as file:
            is_made = True
            return export_room(store, room, file, str(path))
    except FileExistsError:
        raise BadInput(f"{path}: is there already; name a new file") from None
    except OSError as error:
        if is_made:
            raise StoreError(f"{path}: is not written: {reason(error)}") from error
        why = f"{reason(error)}; name a file in a folder of your own"
        raise BadInput(f"{path}: cannot be made: {why}") from error


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

    What cannot be read is left out, with all that is about it: ``store.passed_over`` says so.
    """
    counts = _none_yet()
    written: set[str | None] = {None}
    with store.reading():
        writer = RoomWriter(to, name, store.room_named(room))
        for line in lines_of(store, room):
            try:
                line.read()
            except UNREADABLE as error:
                store.pass_over(f"{line.what()} {line.key}", error)
                continue
            if line.about not in written:
                store.pass_over(f"{line.what()} {line.key}", ValueError("what it is about cannot"))
                continue
            writer.write(line)
            if line.table in _IMPORTED:
                written.add(line.key)
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
        file = open_plain(path)
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
    # the copy is what was checked, whatever becomes of the file meanwhile
    with tempfile.SpooledTemporaryFile(_IN_MEMORY_BYTES) as copy:
        _check_lines(RoomReader(source, name, copy))
        copy.seek(0)
        with store.writing():
            return _add_lines(store, RoomReader(copy, name))


def _check_lines(reader: RoomReader) -> None:
    came: set[str | None] = {None}
    for line in reader:
        try:
            line.check_limits(line.read())
            if line.about not in came:
                raise KeyError(line.about)
        except BadInput as refused:
            raise reader.wrong(str(refused)) from refused
        except UNREADABLE as error:
            raise reader.damaged(error) from error
        if line.table in _IMPORTED:
            came.add(line.key)


def _add_lines(store: Store, reader: RoomReader) -> Imported:
    added, there = _none_yet(), _none_yet()
    ids: dict[str | None, int | None] = {None: None}
    for line in reader:
        try:
            row, beside = line.columns(ids), _IMPORTED.get(line.table)
            done = store.add(line.table, line.key, row, beside)
        except RecordRefused as refused:
            raise reader.wrong(str(refused)) from refused
        except UNREADABLE as error:
            raise reader.damaged(error) from error
        if line.table in _IMPORTED:
            ids[line.key] = done.id
        (added if done.is_new else there)[line.what()] += 1
    return Imported(reader.room, added, there)


def _none_yet() -> Counts:
    return dict.fromkeys((line.what() for line in LINES), 0)
