"""All that a store holds, in order of time: what came from the meter, was decided and was kept."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

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
    from_columns,
    from_row,
    utc_text,
)
from witnessmark.store.store import Store

PAGE_ITEMS = 100

_KEPT_ITEMS = "".join(
    f"UNION ALL SELECT at, {turn}, id, '{kind.name}', room, round_id, key, body, NULL "  # noqa: S608
    f"FROM {kind.name}\n"
    for turn, kind in enumerate(KEPT, 3)
)
# "turn" puts what has one and the same time in the order in which it comes about
_ITEMS = f"""
    SELECT saved_at AS at, 0 AS turn, id, 'setup' AS kind, name AS room, NULL AS round_id, key,
        body, NULL AS raw FROM setup
    UNION ALL
    SELECT started_at, 1, round.id, 'round', name, round.id, round.key, body, NULL
        FROM round JOIN setup ON setup.id = setup_id
    UNION ALL
    SELECT at, 2, journal.id, kind, name, round_id, journal.key, journal.body, raw
        FROM journal LEFT JOIN round ON round.id = round_id LEFT JOIN setup ON setup.id = setup_id
    {_KEPT_ITEMS}
"""  # noqa: S608 - our own names
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
    condition, values = _condition(wanted)
    return _items(store, f"{condition} ORDER BY at, turn, id", values)


def history_page(
    store: Store,
    wanted: Wanted = Wanted(),  # noqa: B008 - frozen
    number: int = 1,
    size: int = PAGE_ITEMS,
) -> HistoryPage:
    """Return one page of the items that are wanted, the earliest on page 1.

    Raises:
        BadInput: when there is no such page.
    """
    condition, values = _condition(wanted)
    (total,) = store.first(f"SELECT count(*) FROM ({_ITEMS}) {condition}", *values)  # noqa: S608
    pages = max(1, -(-total // size))
    if not 1 <= number <= pages:
        raise BadInput(f"page: there is no page {number}; the last is {pages}")
    paged = f"{condition} ORDER BY at, turn, id LIMIT {size} OFFSET {(number - 1) * size}"
    return HistoryPage(tuple(_items(store, paged, values)), number, pages, total)


def to_json_line(item: Item) -> str:
    """Write an item as JSON without a line end; ``raw`` in hexadecimal, times in ISO 8601 UTC."""
    plain = msgspec.to_builtins(item, builtin_types=(bytes,))
    if "raw" in plain["record"]:
        plain["record"]["raw"] = plain["record"]["raw"].hex()
    return msgspec.json.encode(plain).decode()


def _condition(wanted: Wanted) -> tuple[str, list[ColumnValue]]:
    kinds = ", ".join("?" * len(wanted.kinds))
    conditions: list[tuple[str, list[ColumnValue]]] = []
    if wanted.room is not None:
        conditions.append(("room = ?", [wanted.room]))
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


def _items(store: Store, rest: str, values: list[ColumnValue]) -> Iterator[Item]:
    columns = "at, id, kind, room, round_id, key, body, raw"
    query = f"SELECT {columns} FROM ({_ITEMS}) {rest}"  # noqa: S608 - our own words
    for at, id_, kind, room, round_id, key, body, raw in store.stream(query, *values):
        try:
            record = _record(kind, at, body, raw)
            moment = datetime.fromisoformat(at)
        except UNREADABLE as error:
            store.pass_over(f"{kind} {id_}", error)
            continue
        yield Item(moment, kind, room, round_id, id_, key, record)


def _record(kind: str, at: str, body: str, raw: bytes | None) -> JournalEntry | Record | Setup:
    if kind in {"setup", "round"}:
        return SetupBody.from_json(body).setup
    if kind in _RECORDS:
        return from_columns(_RECORDS[kind], at, body)
    return from_row(JournalRow(kind, at, body, raw))
