"""The tables and numbers of a round file, as msgspec checks them."""

from __future__ import annotations

import json
import math
import re
from typing import Any, ClassVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.lengths import parse_length, perhaps_metres
from witnessmark.model import AimedAt, Held, Side, Wall
from witnessmark.model.limits import (
    AIR,
    CABINET_SIZE,
    DISTANCE,
    LENGTH,
    ON_PLAN,
    SCALE,
    TOE_IN,
    Limit,
)


class FileNumber(float):
    """A number of this file: its limits, how it is written, and what there is to say of it."""

    limit: ClassVar[Limit]
    written: ClassVar[str]
    note: str | None = None
    """On a length that is legal and looks like a slip."""


class Coordinate(FileNumber):
    """A length that may be negative, in millimetres."""

    limit = ON_PLAN
    written = 'a length of at most 100 m either way such as "0.42 m" or -35'
    decimal_metres: ClassVar[float] = 3.0
    """A bare decimal up to this may have been meant in metres: here, the reach of a cabinet."""
    whole_metres: ClassVar[int] = 0
    """A bare whole number up to this was meant in metres."""


class FloorCoordinate(Coordinate):
    """A coordinate of the floor, in millimetres."""

    decimal_metres = 20.0


class CornerCoordinate(Coordinate):
    """A coordinate of a room's corner: some are small, and in metres they would make no room."""

    decimal_metres = 0.0


class Distance(Coordinate):
    """A length in millimetres."""

    limit = LENGTH
    written = 'a length of 0 to 100 m such as "5.36 m" or 5360'


class Deviation(Distance):
    """A standard deviation or a tolerance in millimetres, which no one has of metres."""

    decimal_metres = 0.0


class FarDistance(Distance):
    """A distance across the room in millimetres."""

    decimal_metres = 100.0
    whole_metres = 20  # common practice, no source


class RoomSize(Distance):
    """Width, length or height of a room in millimetres."""

    limit = DISTANCE
    written = 'a length of 0.5 to 100 m such as "5.36 m" or 5360'


class Size(Distance):
    """Width or depth of a cabinet in millimetres."""

    limit = CABINET_SIZE
    written = 'a length of 20 mm to 3 m such as "262 mm" or 262'


class Degrees(FileNumber):
    """An angle."""

    limit = TOE_IN
    written = "a bare number of degrees from -90 to 90 such as 8.0"


class Celsius(FileNumber):
    """A temperature of the air."""

    limit = AIR
    written = "a bare number of degrees Celsius from -20 to 50 such as 21.5"


class PartsPerMillion(FileNumber):
    """A relative error."""

    limit = SCALE
    written = "a bare number of ppm from 0 to 100000 such as 50"


def number_from(wanted: type[FileNumber], value: object) -> FileNumber:
    """Read a value of the file as the kind of number that is wanted there, for msgspec.

    Raises:
        BadInput: when it is not one, or outside its limits.
    """
    number, note = math.nan, None
    if isinstance(value, str) and issubclass(wanted, Coordinate):
        number, note = parse_length(value, signed=wanted.limit.least < 0)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        if isinstance(value, int) and abs(value) >= _TOO_LARGE:
            raise BadInput(f"so large a number is not {wanted.written}")
        number = float(value)
    bare = _bare(value)
    if issubclass(wanted, RoomSize) and 0 < number <= _MOST_ROOM_METRES and bare:
        raise BadInput(f'{bare} is {bare} mm, and no room is so small; for metres write "{bare} m"')
    if wanted.limit.admits(number):
        checked = wanted(number)
        checked.note = _bare_note(wanted, bare) if bare else note
        return checked
    shown = printable(json.dumps(value, ensure_ascii=False, default=str))
    shown = shown if len(shown) <= 40 else shown[:39] + "…"
    raise BadInput(f"{shown} is not {wanted.written}{_metres_hint(wanted, value)}")


def _bare(value: object) -> str:
    """Return a bare number as it was written, without its sign; nothing for what has a unit."""
    text = value.strip() if isinstance(value, str) else repr(value)
    match = _BARE.fullmatch(text)
    return match[1] if match else ""


_MOST_ROOM_METRES = 100.0
_TOO_LARGE = 1e300
"""A whole number from here on may be none of a float, nor of the digits that Python writes."""
_BARE = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)")


def _bare_note(wanted: type[FileNumber], bare: str) -> str | None:
    """Return a note on a bare number, written as a text or not, that may be of metres."""
    if not issubclass(wanted, Coordinate):
        return None
    most = wanted.whole_metres if bare.isdigit() else wanted.decimal_metres
    return perhaps_metres(bare) if 0 < float(bare) <= most else None


def _metres_hint(wanted: type[FileNumber], value: object) -> str:
    """Return what to write instead, where a number out of limits is within them as metres."""
    bare = _bare(value)
    if not bare or float(bare) == 0 or not issubclass(wanted, Coordinate):
        return ""
    fits = wanted.limit.admits(float(bare) * 1000)
    return f'; {bare} is in mm, for metres write "{bare} m"' if fits else ""


CornerPair = tuple[CornerCoordinate, CornerCoordinate]
FloorPair = tuple[FloorCoordinate, FloorCoordinate]


class FileTable(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A table of the file."""


class CornersTable(FileTable, frozen=True):
    """``room.corners``: plan position of each, going round the room."""

    front_left: CornerPair
    front_right: CornerPair
    back_right: CornerPair
    back_left: CornerPair


class FromWallsTable(FileTable, frozen=True):
    """``room.datum N.first`` or ``second``: how far an end of a line is from other sides."""

    front: FarDistance | None = None
    back: FarDistance | None = None
    left: FarDistance | None = None
    right: FarDistance | None = None


class DatumTable(FileTable, frozen=True):
    """One of ``room.datum``: a line in place of a wall, from the distances of its two ends."""

    wall: Wall
    first: FromWallsTable
    second: FromWallsTable


class OffsetTable(FileTable, frozen=True):
    """One of ``room.offsets``: what stands proud of a wall, between two heights."""

    wall: Wall
    proud: Distance
    to_height: Distance
    from_height: Distance = Distance(0.0)


class ZoneTable(FileTable, frozen=True):
    """One of ``room.keep_clear``: floor by its corners, or a rectangle by two distances each."""

    name: str
    corners: list[FloorPair] | None = None
    from_left: FloorPair | None = None
    from_front: FloorPair | None = None


class RoomTable(FileTable, frozen=True):
    """``[room]``: width and length of a square one, or corners."""

    width: RoomSize | None = None
    length: RoomSize | None = None
    corners: CornersTable | None = None
    height: RoomSize | None = None
    temperature: Celsius = Celsius(20.0)
    datum: list[Wall | DatumTable] = []
    """Sides with a line instead of a wall; a bare name where width or corners tell its place."""
    offsets: list[OffsetTable] = []
    keep_clear: list[ZoneTable] = []


class PointTable(FileTable, frozen=True):
    """A touch point or a foot of a cabinet."""

    inward: Coordinate
    back: Coordinate
    height: Distance = Distance(0.0)


class OneCabinetTable(FileTable, frozen=True):
    """``[cabinet.left]`` or ``[cabinet.right]``: what differs from ``[cabinet]``."""

    width: Size | None = None
    depth: Size | None = None
    acoustic_height: FarDistance | None = None
    points: dict[str, Any] = {}
    """Point tables by name, which are read one by one so that a complaint tells the name."""
    feet: dict[str, Any] = {}


class CabinetTable(OneCabinetTable, frozen=True):
    """``[cabinet]``: what holds for both."""

    left: OneCabinetTable = OneCabinetTable()
    right: OneCabinetTable = OneCabinetTable()


class SeatTable(FileTable, frozen=True):
    """``[seat]``."""

    from_front: FarDistance | None = None
    from_left: FarDistance | None = None
    ear_height: FarDistance | None = None


class MeterTable(FileTable, frozen=True):
    """``[meter]``: standard deviations."""

    repeatability: Deviation = Deviation(0.5)
    resolution: Deviation = Deviation(1.0)
    zero: Deviation = Deviation(0.7)
    scale_ppm: PartsPerMillion = PartsPerMillion(0.0)


class ToleranceTable(FileTable, frozen=True):
    """``[tolerance]``."""

    position: Deviation = Deviation(3.0)
    toe_in: Degrees = Degrees(0.5)


class PlacementTable(FileTable, frozen=True):
    """``[target.left]`` or ``[target.right]``."""

    side: FarDistance
    setback: FarDistance
    toe_in: Degrees


class TargetTable(FileTable, frozen=True):
    """``[target]``."""

    left: PlacementTable | None = None
    right: PlacementTable | None = None


class ShotTable(FileTable, frozen=True):
    """One ``[[shot]]``."""

    cabinet: Side
    point: str
    to: AimedAt
    held: Held
    reading: FarDistance
    height: Distance | None = None


class RoundTable(FileTable, frozen=True):
    """The whole file."""

    format: str
    room: RoomTable
    cabinet: CabinetTable
    seat: SeatTable = SeatTable()
    meter: MeterTable = MeterTable()
    tolerance: ToleranceTable = ToleranceTable()
    target: TargetTable = TargetTable()
    shot: list[ShotTable] = []
