"""The rows that a store has of a room, as the lines of its file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from witnessmark.store.database import Database
from witnessmark.store.export.lines import (
    EntryLine,
    Line,
    MarkLine,
    PreferenceLine,
    RoundLine,
    SetupLine,
    TrialLine,
)

_ROUNDS = """
    SELECT round.id FROM round JOIN setup ON setup.id = setup_id WHERE name = ?1
    UNION SELECT round_id FROM trial WHERE room = ?1
    UNION SELECT round_id FROM preference WHERE room = ?1
    UNION SELECT round_id FROM mark WHERE room = ?1
"""
"""The rounds of a room: also those that were begun under an earlier name of it."""


def lines_of(store: Database, room: str) -> Iterator[Line]:
    """All that there is of a room, in the order of the file."""
    yield from _setup_lines(store, room)
    rounds = dict(_round_lines(store, room))
    yield from rounds.values()
    keys = {None: None} | {id_: line.key for id_, line in rounds.items()}
    for round_id, key in keys.items():
        yield from _entry_lines(store, round_id, key)
    for kind in (TrialLine, PreferenceLine, MarkLine):
        yield from _kept_lines(store, room, kind, keys)


def _setup_lines(store: Database, room: str) -> Iterator[SetupLine]:
    query = (
        "SELECT key, saved_at, name, body FROM setup WHERE name = ?1 "  # noqa: S608 - our own names
        f"OR id IN (SELECT setup_id FROM round WHERE id IN ({_ROUNDS})) ORDER BY id"
    )
    for key, saved_at, name, body in store.stream(query, room):
        yield SetupLine(key, saved_at, name, _raw(body))


def _round_lines(store: Database, room: str) -> Iterator[tuple[int, RoundLine]]:
    query = (
        "SELECT round.id, round.key, setup.key, started_at FROM round "  # noqa: S608 - likewise
        f"JOIN setup ON setup.id = setup_id WHERE round.id IN ({_ROUNDS}) ORDER BY round.id"
    )
    for id_, key, setup, started_at in store.stream(query, room):
        yield id_, RoundLine(key, setup, started_at)


def _entry_lines(store: Database, round_id: int | None, key: str | None) -> Iterator[EntryLine]:
    # by round, as they lie in the index: nothing of a long journal has to be sorted
    query = "SELECT key, kind, at, body, raw FROM journal WHERE round_id IS ? ORDER BY id"
    for own_key, kind, at, body, raw in store.stream(query, round_id):
        yield EntryLine(own_key, key, kind, at, _raw(body), raw)


def _kept_lines(
    store: Database,
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
