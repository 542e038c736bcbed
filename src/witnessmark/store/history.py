"""All that a store holds, in order of time: what came from the meter, was decided and was kept."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Iterator
from datetime import datetime
from itertools import islice
from typing import Any, NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model import Setup
from witnessmark.store.database import ColumnValue
from witnessmark.store.records import (
    KEPT,
    UNREADABLE,
    JournalEntry,
    JournalRow,
    Record,
    SetupBody,
    check_texts,
    from_columns,
    from_row,
    time_of,
    utc_text,
)
from witnessmark.store.store import Store

PAGE_ITEMS = 100

_DatedRow = tuple[Any, int, int, list[Any]]
"""When it was, which of those of one moment comes first, its number, and the other columns."""

_OF_ROOM = (
    "round_id IN (SELECT round.id FROM round JOIN setup ON setup.id = setup_id WHERE name = ?)"
)


class _Source(NamedTuple):
    """Where some of the items lie: all but ``at`` and ``id``, the tables, which are of a room."""

    columns: str
    tables: str
    of_room: str = "room = ?"


_SOURCES = (
    _Source(
        "saved_at AS at, id, 'setup' AS kind, name AS room, NULL AS round_id, key, body, NULL",
        "setup",
    ),
    _Source(
        "started_at AS at, round.id AS id, 'round' AS kind, name AS room, round.id AS round_id, "
        "round.key, body, NULL",
        "round JOIN setup ON setup.id = setup_id",
    ),
    # along its index by time, so that nothing of a long journal has to be sorted
    _Source(
        "at, id, kind, (SELECT name FROM round JOIN setup ON setup.id = setup_id "
        "WHERE round.id = round_id), round_id, key, body, raw",
        "journal INDEXED BY journal_by_time",
        _OF_ROOM,
    ),
    *(
        _Source(f"at, id, '{kind.name}' AS kind, room, round_id, key, body, NULL", kind.name)
        for kind in KEPT
    ),
)
"""In the order in which what has one and the same time comes about."""
_RECORDS: dict[str, type[Record]] = {kind.name: kind.record for kind in KEPT}


class Wanted(msgspec.Struct, frozen=True):
    """Which items: those of a room, of a round, of some kinds, from a time on, before a time.

    What was journaled outside any round is of no room.
    """

    room: str | None = None
    round_id: int | None = None
    kinds: tuple[str, ...] = ()
    since: datetime | None = None
    before: datetime | None = None


class Item(msgspec.Struct, frozen=True):
    """Something that happened (UTC), with its number in the store and its key.

    ``record`` is what was journaled, kept or saved; of a round, the setup that it began with.
    """

    at: datetime
    kind: str
    room: str | None
    round_id: int | None
    id: int
    key: str
    record: JournalEntry | Record | Setup


class HistoryPage(msgspec.Struct, frozen=True):
    """Some of the items, which page of how many that is, and how many items there are in all."""

    items: tuple[Item, ...]
    number: int
    pages: int
    total: int


def history(store: Store, wanted: Wanted = Wanted()) -> Iterator[Item]:  # noqa: B008 - frozen
    """Return the items that are wanted, one after another, the earliest first.

    One that cannot be read is passed over, and ``store.passed_over`` says so.
    """
    return _read(store, _rows(store, wanted))


def history_page(
    store: Store,
    wanted: Wanted = Wanted(),  # noqa: B008 - frozen
    number: int | None = 1,
    size: int = PAGE_ITEMS,
) -> HistoryPage:
    """Return a page of the items that are wanted, the earliest on page 1; None gives the last.

    Raises:
        BadInput: when there is no such page.
    """
    total = sum(_count(store, source, wanted) for source in _SOURCES)
    pages = max(1, -(-total // size))
    number = pages if number is None else number
    if not 1 <= number <= pages:
        raise BadInput(f"page: there is no page {number}; the last is {pages}")
    first, last = (number - 1) * size, min(number * size, total)
    # from the end that is nearer: of a long history the latest is looked at
    if backwards := first > total - last:
        first, last = total - last, total - first
    rows = list(islice(_rows(store, wanted, backwards=backwards), first, last))
    return HistoryPage(tuple(_read(store, rows[::-1] if backwards else rows)), number, pages, total)


def to_json_line(item: Item) -> str:
    """Write an item as JSON without a line end; ``raw`` in hexadecimal, times in ISO 8601 UTC."""
    plain = msgspec.to_builtins(item, builtin_types=(bytes,))
    if "raw" in plain["record"]:
        plain["record"]["raw"] = plain["record"]["raw"].hex()
    return msgspec.json.encode(plain).decode()


def _count(store: Store, source: _Source, wanted: Wanted) -> int:
    condition, values = _condition(source, wanted)
    # what the conditions are about has its names from a query inside
    columns = source.columns
    if source.tables.startswith("journal"):
        columns = "at, kind, round_id"
    query = f"SELECT {columns} FROM {source.tables} {condition}"  # noqa: S608 - our own words
    (count,) = store.first(f"SELECT count(*) FROM ({query})", *values)  # noqa: S608
    return int(count)


def _rows(store: Store, wanted: Wanted, *, backwards: bool = False) -> Iterator[_DatedRow]:
    """Return the rows of what is wanted in order of time; backwards the latest first."""
    streams = [
        _of_source(store, turn, source, wanted, backwards=backwards)
        for turn, source in enumerate(_SOURCES)
    ]
    return heapq.merge(*streams, key=_in_time, reverse=backwards)


def _in_time(row: _DatedRow) -> tuple[int, str, int, int]:
    """Return what a row is ordered by, as SQLite orders: numbers first, then texts, then blobs.

    Only a damaged row has no text for its time.
    """
    at, turn, id_, _ = row
    if isinstance(at, str):
        return 1, at, turn, id_
    return 2 if isinstance(at, bytes) else 0, "", turn, id_


def _of_source(
    store: Store, turn: int, source: _Source, wanted: Wanted, *, backwards: bool
) -> Iterator[_DatedRow]:
    condition, values = _condition(source, wanted)
    way = "DESC" if backwards else "ASC"
    query = (
        f"SELECT {source.columns} FROM {source.tables} {condition} "  # noqa: S608 - our own words
        f"ORDER BY at {way}, id {way}"
    )
    for at, id_, *rest in store.stream(query, *values):
        yield at, turn, id_, rest


def _condition(source: _Source, wanted: Wanted) -> tuple[str, list[ColumnValue]]:
    kinds = ", ".join("?" * len(wanted.kinds))
    conditions: list[tuple[str, list[ColumnValue]]] = []
    if wanted.room is not None:
        conditions.append((source.of_room, [wanted.room]))
    if wanted.round_id is not None:
        conditions.append(("round_id = ?", [wanted.round_id]))
    if wanted.kinds:
        conditions.append((f"kind IN ({kinds})", list(wanted.kinds)))
    if wanted.since is not None:
        conditions.append(("at >= ?", [utc_text(wanted.since)]))
    if wanted.before is not None:
        conditions.append(("at < ?", [utc_text(wanted.before)]))
    text = " AND ".join(condition for condition, _ in conditions)
    return f"WHERE {text}" if text else "", [value for _, each in conditions for value in each]


def _read(store: Store, rows: Iterable[_DatedRow]) -> Iterator[Item]:
    for at, _, id_, (kind, room, round_id, key, body, raw) in rows:
        try:
            check_texts(key)
            named = _room_name(kind, room)
            record, moment = _record(kind, at, body, raw), time_of(at)
        except UNREADABLE as error:
            store.pass_over(f"{kind} {id_}", error)
            continue
        yield Item(moment, kind, named, round_id, id_, key, record)


def _room_name(kind: str, room: Any) -> str | None:  # noqa: ANN401 - as it is in the row
    """Return the room that an item is of; None where that is in another row, which is damaged."""
    try:
        check_texts(room)
    except UNREADABLE:
        if kind == "setup" or kind in _RECORDS:
            raise
        return None
    return str(room)


def _record(kind: str, at: str, body: str, raw: bytes | None) -> JournalEntry | Record | Setup:
    if kind in {"setup", "round"}:
        return SetupBody.from_json(body).setup
    if kind in _RECORDS:
        return from_columns(_RECORDS[kind], at, body)
    return from_row(JournalRow(kind, at, body, raw))
