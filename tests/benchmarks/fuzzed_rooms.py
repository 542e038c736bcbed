"""Exported rooms for the fuzzing, and a second opinion on all that is imported from one."""

from __future__ import annotations

import hashlib
import io
import itertools
import json
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

import msgspec
from damaged_files import Fed, Once, check_refusal, damaged
from fuzzed_rounds import sound_round
from numpy.random import Generator

from witnessmark.errors import BadInput, WitnessmarkError
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    Act,
    AngleReading,
    Attribute,
    Decision,
    Impression,
    Mark,
    Pair,
    Placement,
    PlumbReadings,
    Poses,
    Preference,
    Reading,
    Setup,
    SetupChanged,
    Shot,
    Side,
    Struck,
    TiltTaken,
    Trial,
    Varied,
)
from witnessmark.store.export.transfer import export_room, import_from
from witnessmark.store.records import JournalEntry, Record
from witnessmark.store.round_file.read import read_round
from witnessmark.store.store import Store

AT: Final = datetime(2026, 5, 17, 9, 30, tzinfo=UTC)
USES: Final = 40
"""So often a room that was exported is damaged anew before the next one is made."""
LIMITS: Final = {
    "distance_mm": (1e-300, 100_000),
    "reading_mm": (0, 100_000),
    "width_mm": (20, 3000),
    "depth_mm": (20, 3000),
    "repeatability_mm": (0, 1000),
    "resolution_mm": (0, 1000),
    "zero_mm": (0, 1000),
    "position_mm": (1e-300, 1000),
    "proud_mm": (0, 2000),
    "apart_mm": (50, 5000),
    "scale_ppm": (0, 100_000),
    "temperature_c": (-20, 50),
    "grades": (1, 5),
    "spike_turns": (0, 200),
    "called_enough": (0, 1),
    "covariance": (-1e12, 1e12),
    "choices": (-1e9, 1e9),
}
"""What the figures of some fields may be, least and most."""
OF_UNIT: Final = {"mm": (-100_000, 100_000), "deg": (-360, 360)}
"""The same for all other fields with a unit."""
TABLES: Final = ("setup", "journal", "trial", "struck", "preference", "mark")


def rooms(folder: Path) -> Once:
    """Exported rooms, damaged, imported into a store that is a new one after each that comes in."""
    numbers = itertools.count()
    stores = [Store.open(folder / "first.sqlite3")]
    pool: list[bytes] = []

    def once(rng: Generator) -> Fed:
        if not pool or rng.random() < 1 / USES:
            pool[:] = [sound_room(folder / f"from{next(numbers)}.sqlite3", rng) for _ in range(2)]
        data = damaged(pool[0], pool[1], rng)
        data = sealed(data) if rng.random() < 0.8 else data
        file = folder / "barn.room"
        file.write_bytes(data)
        try:
            done = import_from(stores[-1], file)
        except WitnessmarkError as error:
            check_refusal(error, data)
            check_empty(stores[-1], data)
            return Fed(len(data))
        figures = check_import(stores[-1], done.room, data)
        if any(done.added.values()):
            stores.pop().close()
            stores.append(Store.open(folder / f"into{next(numbers)}.sqlite3"))
        return Fed(len(data), figures)

    return once


def check_empty(store: Store, data: bytes) -> None:
    """Make sure that nothing of a file that was refused is in the store."""
    for table in TABLES:
        assert not store.rows(f"SELECT 1 FROM {table}"), (table, data)


def sealed(data: bytes) -> bytes:
    """A file with the end that its lines ask for."""
    lines = [line.rstrip(b"\r") + b"\n" for line in data.split(b"\n")]
    ends = (at for at, line in enumerate(lines) if b'"what":"end"' in line)
    lines = lines[: next(ends, len(lines))]
    seal = hashlib.sha256(b"".join(lines)).hexdigest()
    end = {"what": "end", "lines": len(lines), "sha256": seal}
    return b"".join(lines) + json.dumps(end, separators=(",", ":")).encode() + b"\n"


def sound_room(path: Path, rng: Generator) -> bytes:
    """A room as it is exported, with every kind of line."""
    to = io.BytesIO()
    with Store.open(path) as store:
        _fill(store, rng)
        export_room(store, "Barn", to, "barn.room")
    return to.getvalue()


def _setup(rng: Generator) -> Setup:
    while True:
        try:
            return read_round(sound_round(rng).decode()).setup
        except BadInput:  # a target that stands in a wall, or likewise
            continue


def _fill(store: Store, rng: Generator) -> None:
    for turn in range(int(rng.integers(1, 3))):
        at, setup = AT + timedelta(hours=turn), _setup(rng)
        choices = {"units": "mm", "bell": True, "volume": 3, "x": 0.5, "meter": "ble:AA?unit=m"}
        round_id = store.start_round(store.save_setup("Barn", setup, at, choices), at)
        for entry in _entries(setup, at, rng):
            store.append(round_id, entry)
        trials = [_trial(at, rng), _trial(at, rng)]
        keys = [store.keep("Barn", round_id, one).key for one in trials]
        for record in _records(setup, at, keys, rng):
            store.keep("Barn", round_id, record)
    store.append(None, Noise("hum “ß”\x1b", AT, "serial:COM3", b"\xff\x00"))


def _entries(setup: Setup, at: datetime, rng: Generator) -> Iterator[JournalEntry]:
    for _ in range(int(rng.integers(1, 5))):
        yield Reading(float(rng.uniform(300, 9000)), at, "sim:", rng.bytes(6))
    yield Fault("E7", at, "sim:", b"E7")
    yield Noise("no number", at, "sim:", b"5", "5")
    yield Decision(Act(str(rng.choice(list(Act)))), at)
    tilt = AngleReading(1.5) if rng.random() < 0.5 else PlumbReadings(812.0, 815.5, 700.0)
    yield TiltTaken(Side.LEFT, tilt, at)
    yield SetupChanged(setup, at)


PLACED: Final = Pair(Placement(1450.4, 1899.7, 8.04), Placement(1449.8, 1901.0, 7.9))
VARIANCES: Final = tuple(tuple(0.01 * (row == column) for column in range(6)) for row in range(6))
POSES: Final = Poses(PLACED, VARIANCES)  # type: ignore[arg-type]


def _trial(at: datetime, rng: Generator) -> Trial:
    grades = {Attribute.SPATIAL: int(rng.integers(1, 6)), Attribute.OVERALL: 4}
    heard = Impression(grades, "dry, “near”", bool(rng.random() < 0.5), "a waltz")
    return Trial(at, Varied.STATION, PLACED, heard, measured=POSES)


def _records(setup: Setup, at: datetime, keys: list[str], rng: Generator) -> Iterator[Record]:
    yield Preference(at, keys[0], keys[1], keys[int(rng.integers(2))])
    yield Struck(at, keys[0])
    yield Mark(at, "before", setup, POSES, _shots(rng), Pair({"rear": 2.5}, {}), "coins")


def _shots(rng: Generator) -> tuple[Shot, ...]:
    """The shots of a drawn round."""
    while True:
        try:
            return read_round(sound_round(rng).decode()).shots
        except BadInput:
            continue


def check_import(store: Store, room: str, data: bytes) -> int:
    """Judge all that a store holds by the lines of the file; how many figures there were."""
    lines = [json.loads(line) for line in data.split(b"\n") if line.strip()]
    *body, end = [line.rstrip(b"\r\n") + b"\n" for line in data.rstrip(b"\r\n").split(b"\n")]
    assert end.strip(), data
    assert lines[-1]["sha256"] == hashlib.sha256(b"".join(body)).hexdigest(), data
    assert room == lines[0].get("room", ""), data
    stand = {line["key"]: line for line in lines[1:-1]}
    with sqlite3.connect(store.path) as connection:
        for table in TABLES:
            query = f"SELECT key, body FROM {table}"
            for key, text in connection.execute(query):
                assert json.loads(text) == stand.pop(key)["body"], (key, data)
    connection.close()
    assert {line["what"] for line in stand.values()} <= {"round"}, (stand, data)
    return sum(_check_figures(record, stand_all(lines), data) for record in held(store, data))


def stand_all(lines: list[dict[str, Any]]) -> set[float]:
    """All numbers that stand in the bodies of a file, and those that a field has by itself."""
    found = {0.0, 0.05, 0.1, 0.25, 0.5, 0.7, 1.0, 3.0, 20.0, 0.3, 0.2}
    for line in lines[1:-1]:
        found |= {value for _, value in _numbers("", line.get("body"))}
    return found


def held(store: Store, data: bytes) -> list[Setup | dict[str, Any] | JournalEntry | Record]:
    """All records of a store, as the program reads them."""
    found: list[Any] = []
    count = 0
    with sqlite3.connect(store.path) as connection:
        count = sum(
            connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in TABLES
        )
        ids = [id_ for (id_,) in connection.execute("SELECT id FROM round")]
        names = {name for (name,) in connection.execute("SELECT DISTINCT name FROM setup")}
    connection.close()
    for name in names:
        saved = store.setup_of(name)
        assert saved is not None, data
        found += [saved.setup, {"choices": saved.choices}]
    for round_id in (None, *ids):
        found += store.entries(round_id)
    for kind in (Trial, Struck, Preference, Mark):
        found += [one.record for one in store.kept(kind)]
    assert not store.passed_over, (store.passed_over, data)
    assert len(found) <= count + 2 * len(names)
    return found


def _check_figures(record: object, stand: set[float], data: bytes) -> int:
    count = 0
    for field, value in _numbers("", msgspec.to_builtins(record)):
        assert value in stand, (field, value, record, data)
        limit = LIMITS.get(field) or OF_UNIT.get(field.rpartition("_")[2])
        if limit:
            assert limit[0] <= value <= limit[1], (field, value, record, data)
            count += 1
    return count


def _numbers(field: str, value: object) -> Iterator[tuple[str, float]]:
    """All numbers within a value, each with the innermost field that has a limit."""
    match value:
        case bool():
            return
        case int() | float():
            yield field, float(value)
        case dict():
            for key, inner in value.items():
                is_named = key in LIMITS or key.rpartition("_")[2] in OF_UNIT
                yield from _numbers(key if is_named or not field else field, inner)
        case list() | tuple():
            for inner in value:
                yield from _numbers(field, inner)
