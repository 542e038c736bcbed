"""A round as a file: TOML or JSON text to a setup and its shots.

A length is a string with a unit, or a bare number of millimetres. A key that is not known is an
error, because a misspelt one would otherwise be left out without a word.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from typing import Any, TypeVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.geometry.observe import touch_point
from witnessmark.lengths import parse_length
from witnessmark.model import (
    Cabinet,
    Held,
    Meter,
    Pair,
    Placement,
    PlanPoint,
    Room,
    Seat,
    Setup,
    Shot,
    ShotKind,
    Side,
    Tolerance,
    TouchPoint,
)
from witnessmark.model.shot import AimedAt
from witnessmark.store.complaint import complaint

FORMAT = "witnessmark round 1"

T = TypeVar("T")


class Distance(float):
    """A length of 0 to 100 m, in millimetres."""


class Coordinate(float):
    """A length that may be negative, in millimetres."""


class Degrees(float):
    """An angle."""


_Corner = tuple[Coordinate, Coordinate]


class _Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A table of the file."""


class _CornersTable(_Table, frozen=True):
    front_left: _Corner
    front_right: _Corner
    back_right: _Corner
    back_left: _Corner


class _RoomTable(_Table, frozen=True):
    width: Distance | None = None
    length: Distance | None = None
    corners: _CornersTable | None = None
    height: Distance | None = None
    temperature: float = 20.0


class _PointTable(_Table, frozen=True):
    inward: Coordinate
    back: Coordinate


class _OneCabinetTable(_Table, frozen=True):
    width: Distance | None = None
    depth: Distance | None = None
    acoustic_height: Distance | None = None
    points: dict[str, _PointTable] = {}
    feet: dict[str, _PointTable] = {}


class _CabinetTable(_OneCabinetTable, frozen=True):
    left: _OneCabinetTable = _OneCabinetTable()
    right: _OneCabinetTable = _OneCabinetTable()


class _SeatTable(_Table, frozen=True):
    from_front: Distance | None = None
    from_left: Distance | None = None
    ear_height: Distance | None = None


class _MeterTable(_Table, frozen=True):
    repeatability: Distance = Distance(0.5)
    resolution: Distance = Distance(1.0)
    zero: Distance = Distance(0.7)
    scale_ppm: float = 0.0


class _ToleranceTable(_Table, frozen=True):
    position: Distance = Distance(3.0)
    toe_in: Degrees = Degrees(0.5)


class _PlacementTable(_Table, frozen=True):
    side: Distance
    setback: Distance
    toe_in: Degrees


class _TargetTable(_Table, frozen=True):
    left: _PlacementTable | None = None
    right: _PlacementTable | None = None


class _ShotTable(_Table, frozen=True):
    cabinet: Side
    point: str
    to: AimedAt
    held: Held
    reading: Distance


class _RoundTable(_Table, frozen=True):
    """The whole file."""

    format: str
    room: _RoomTable
    cabinet: _CabinetTable
    seat: _SeatTable = _SeatTable()
    meter: _MeterTable = _MeterTable()
    tolerance: _ToleranceTable = _ToleranceTable()
    target: _TargetTable = _TargetTable()
    shot: list[_ShotTable] = []


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
    notes = list(_length_notes(tables, ""))
    found = tables.get("format")
    if found != FORMAT:
        raise BadInput(f'format: this is not a round file; its first line is format = "{FORMAT}"')
    try:
        table = msgspec.convert(tables, _RoundTable, dec_hook=_convert)
    except msgspec.ValidationError as error:
        raise BadInput(complaint(error, _RoundTable)) from None
    setup = _setup(table)
    shots = tuple(_shot(setup, place, one) for place, one in enumerate(table.shot, start=1))
    return RoundFile(setup, shots, tuple(notes))


def _tables(text: str) -> dict[str, Any]:
    try:
        read = msgspec.json.decode if text.lstrip().startswith("{") else tomllib.loads
        tables: object = read(text)
    except (tomllib.TOMLDecodeError, msgspec.DecodeError) as error:
        raise BadInput(f"the file is neither TOML nor JSON: {error}") from None
    if not isinstance(tables, dict):
        raise BadInput("the file must hold tables: [room], [cabinet], [[shot]] and so on")
    return tables


def _length_notes(value: object, path: str) -> Iterator[str]:
    """What there is to say of lengths that are legal but look like a slip."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _length_notes(item, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list):
        for place, item in enumerate(value, start=1):
            yield from _length_notes(item, f"{path} {place}")
    elif isinstance(value, str):
        try:
            note = parse_length(value).note
        except BadInput:
            return
        if note:
            yield f"{path}: {note}"


def _convert(wanted: type[T], value: object) -> T:
    """Hook of msgspec for the kinds of number that this file has of its own."""
    if isinstance(value, str) and wanted is not Degrees:
        return wanted(parse_length(value).mm)  # type: ignore[call-arg]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        what = "a number of degrees" if wanted is Degrees else 'a length such as "4.98 m" or 4980'
        raise BadInput(f"{_shown(value)} is not {what}")
    if wanted is Distance and not 0 <= value <= 100_000:
        raise BadInput(f"{value:g} mm is not a length between 0 and 100 m")
    if wanted is Degrees and not -90 < value < 90:
        raise BadInput(f"{value:g} is not an angle between -90 and 90 degrees")
    return wanted(value)  # type: ignore[call-arg]


def _shown(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else repr(value)


def _setup(table: _RoundTable) -> Setup:
    room = _room(table.room)
    seat, meter, tolerance = table.seat, table.meter, table.tolerance
    return Setup(
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
            float(meter.repeatability), float(meter.resolution), float(meter.zero), meter.scale_ppm
        ),
        tolerance=Tolerance(float(tolerance.position), float(tolerance.toe_in)),
        targets=Pair(_target(table.target.left), _target(table.target.right)),
        temperature_c=table.room.temperature,
    )


def _room(table: _RoomTable) -> Room:
    height = _maybe(table.height)
    if table.corners is not None:
        if table.width is not None or table.length is not None:
            raise BadInput("room: give either width and length or corners, not both")
        corners = table.corners
        return Room(
            front_left=_plain(corners.front_left),
            front_right=_plain(corners.front_right),
            back_right=_plain(corners.back_right),
            back_left=_plain(corners.back_left),
            height_mm=height,
        )
    for name in ("width", "length"):
        if getattr(table, name) is None:
            raise BadInput(f'room.{name} is missing; give it as a length such as "4.98 m"')
    return Room.rectangular(_or(table.width, 0.0), _or(table.length, 0.0), height)


def _cabinet(both: _CabinetTable, own: _OneCabinetTable, side: str) -> Cabinet:
    width, depth = own.width or both.width, own.depth or both.depth
    for name, value in (("width", width), ("depth", depth)):
        if value is None:
            raise BadInput(
                f"cabinet.{name} is missing for the {side} cabinet; "
                'give it as a length such as "262 mm"'
            )
    return Cabinet(
        width_mm=_or(width, 0.0),
        depth_mm=_or(depth, 0.0),
        acoustic_height_mm=_maybe(own.acoustic_height or both.acoustic_height),
        points=_points(both.points | own.points),
        feet=_points(own.feet or both.feet),
    )


def _points(tables: dict[str, _PointTable]) -> dict[str, TouchPoint]:
    return {
        name: TouchPoint(float(point.inward), float(point.back)) for name, point in tables.items()
    }


def _target(table: _PlacementTable | None) -> Placement | None:
    if table is None:
        return None
    return Placement(float(table.side), float(table.setback), float(table.toe_in))


def _shot(setup: Setup, place: int, table: _ShotTable) -> Shot:
    kind = ShotKind(table.cabinet, table.point, table.to, table.held)
    try:
        touch_point(setup, kind)
    except BadInput as error:
        raise BadInput(f"shot {place}.{error}") from None
    return Shot(kind, float(table.reading))


def _plain(corner: _Corner) -> PlanPoint:
    return float(corner[0]), float(corner[1])


def _maybe(value: float | None) -> float | None:
    return None if value is None else float(value)


def _or(value: float | None, otherwise: float) -> float:
    return otherwise if value is None else float(value)
