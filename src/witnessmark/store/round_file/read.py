"""A round as a file: TOML or JSON text to a setup and its shots.

A length is a string with a unit, or a bare number of millimetres, which is noted where metres may
have been meant. A key that is not known is an
error, because a misspelt one would otherwise be left out without a word.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, TypeVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import complaint, printable
from witnessmark.locate.bounds import outside
from witnessmark.locate.observe import touch_point
from witnessmark.model import (
    AimedAt,
    Cabinet,
    Meter,
    Pair,
    Placement,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tolerance,
    TouchPoint,
)
from witnessmark.nesting import check_nesting, digits_told, read_toml
from witnessmark.store.round_file.room import read_room
from witnessmark.store.round_file.tables import (
    CabinetTable,
    FileNumber,
    OneCabinetTable,
    PlacementTable,
    PointTable,
    RoundTable,
    ShotTable,
    Size,
    number_from,
)

FORMAT = "witnessmark round 1"

R = TypeVar("R", bound=msgspec.Struct)


class RoundFile(msgspec.Struct, frozen=True):
    """What a round file holds. ``notes`` are things to tell the person, each naming its key."""

    setup: Setup
    shots: tuple[Shot, ...]
    notes: tuple[str, ...]


def read_round(text: str) -> RoundFile:
    """Read a round from TOML, or from JSON where the text begins with a brace.

    Raises:
        BadInput: one sentence that names the key and says what would be right.
    """
    tables = _tables(text)
    if tables.get("format") != FORMAT:
        raise BadInput(f'format: this is not a round file; it begins with format = "{FORMAT}"')
    table = _read(tables, RoundTable)
    room, notes = read_room(table.room)
    setup = _setup(table, room)
    shots = tuple(_shot(setup, place, one) for place, one in enumerate(table.shot, start=1))
    return RoundFile(setup, shots, (*notes, *_length_notes(table, "")))


def _tables(text: str) -> dict[str, Any]:
    is_json = text.lstrip().startswith("{")
    kind = "JSON" if is_json else "TOML (JSON would begin with a brace)"
    try:
        return _json(text) if is_json else read_toml(text)
    except BadInput:
        raise
    except ValueError as error:
        words = printable(str(error))
        raise BadInput(f"the file cannot be read as {kind}: {words}") from None


def _json(text: str) -> dict[str, Any]:
    check_nesting(text)
    with digits_told():
        tables: dict[str, Any] = json.loads(text, object_pairs_hook=_each_key_once)
    # half a surrogate pair, which JSON lets pass, is no text for anything after this
    json.dumps(tables, ensure_ascii=False).encode()
    return tables


def _each_key_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    table: dict[str, Any] = {}
    for key, value in pairs:
        if key in table:
            raise BadInput(f"{printable(key)}: this key is twice in one table; leave one out")
        table[key] = value
    return table


def _read(tables: object, record: type[R], under: str = "") -> R:
    try:
        return msgspec.convert(tables, record, dec_hook=number_from)
    except msgspec.ValidationError as error:
        raise BadInput(complaint(error, record, under)) from None


def _length_notes(value: object, path: str) -> Iterator[str]:
    """Return notes on lengths that are legal but look like a slip."""
    if isinstance(value, FileNumber):
        if value.note:
            yield f"{path}: {value.note}"
    elif isinstance(value, msgspec.Struct):
        for key in value.__struct_fields__:
            yield from _length_notes(getattr(value, key), f"{path}.{key}" if path else key)
    elif isinstance(value, list | tuple):
        for place, item in enumerate(value, start=1):
            yield from _length_notes(item, f"{path} {place}")
    elif isinstance(value, dict):
        # the only tables whose keys are names are those of points
        for name, item in value.items():
            yield from _length_notes(_read(item, PointTable), f"{path}.{name}")


def _setup(table: RoundTable, room: Room) -> Setup:
    seat, meter, tolerance = table.seat, table.meter, table.tolerance
    setup = Setup(
        room=room,
        cabinets=Pair(
            _cabinet(table.cabinet, table.cabinet.left, "left"),
            _cabinet(table.cabinet, table.cabinet.right, "right"),
        ),
        seat=Seat(
            # a third of the length from the back wall, half the width: common practice, no source
            _or(seat.from_front, room.length_mm * 2 / 3),
            _or(seat.from_left, room.width_mm / 2),
            _maybe(seat.ear_height),
        ),
        meter=Meter(
            float(meter.repeatability),
            float(meter.resolution),
            float(meter.zero),
            float(meter.scale_ppm),
        ),
        tolerance=Tolerance(float(tolerance.position), float(tolerance.toe_in)),
        targets=Pair(_target(table.target.left), _target(table.target.right)),
        temperature_c=float(table.room.temperature),
    )
    for side in Side:
        target = setup.targets[side]
        wrong = target and outside(room, side, setup.cabinets[side], target)
        if wrong:
            slips = "".join(f"; {note}" for note in _length_notes(table.target, "target"))
            raise BadInput(f"target.{side}: {wrong}; give it a place in the room{slips}")
    return setup


def _cabinet(both: CabinetTable, own: OneCabinetTable, side: str) -> Cabinet:
    acoustic_height = both.acoustic_height if own.acoustic_height is None else own.acoustic_height
    points = _points(both.points, "cabinet.points") | _points(own.points, f"cabinet.{side}.points")
    feet = _points(both.feet, "cabinet.feet")
    return Cabinet(
        width_mm=_size(own.width, both.width, f"cabinet.width is missing for the {side} cabinet"),
        depth_mm=_size(own.depth, both.depth, f"cabinet.depth is missing for the {side} cabinet"),
        acoustic_height_mm=_maybe(acoustic_height),
        points=points,
        feet=_points(own.feet, f"cabinet.{side}.feet") or feet,
    )


def _size(own: Size | None, both: Size | None, missing: str) -> float:
    size = both if own is None else own
    if size is None:
        raise BadInput(f"{missing}; give it as {Size.written}")
    return float(size)


def _points(tables: dict[str, Any], where: str) -> dict[str, TouchPoint]:
    return {name: _point(table, where, name) for name, table in tables.items()}


def _point(table: object, where: str, name: str) -> TouchPoint:
    if not name.strip() or not name.isprintable():
        raise BadInput(
            f'{where}: "{printable(name)}" is not a name; write letters such as "plinth"'
        )
    point = _read(table, PointTable, f"{where}.{name}")
    return TouchPoint(float(point.inward), float(point.back), float(point.height))


def _target(table: PlacementTable | None) -> Placement | None:
    if table is None:
        return None
    return Placement(float(table.side), float(table.setback), float(table.toe_in))


def _shot(setup: Setup, place: int, table: ShotTable) -> Shot:
    kind = ShotKind(table.cabinet, table.point, table.to, table.held, _maybe(table.height))
    try:
        touch_point(setup, kind)
        if kind.to is AimedAt.CABINET:
            touch_point(setup, msgspec.structs.replace(kind, cabinet=kind.cabinet.other))
    except BadInput as error:
        raise BadInput(f"shot {place}.{printable(str(error))}") from None
    return Shot(kind, float(table.reading))


def _maybe(value: float | None) -> float | None:
    return None if value is None else float(value)


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else float(value)
