"""The tables and numbers of a round file, as msgspec checks them."""

from __future__ import annotations

import json
import math
from typing import Any, ClassVar

import msgspec

from witnessmark.complaint import printable
from witnessmark.errors import BadInput
from witnessmark.lengths import Length, parse_length
from witnessmark.model import AimedAt, Held, Side, Wall


class Number(float):
    """A number of this file: its limits, and how it is written."""

    least: ClassVar[float]
    most: ClassVar[float]
    written: ClassVar[str]


class Coordinate(Number):
    """A length that may be negative, in millimetres."""

    least, most = -100_000.0, 100_000.0
    written = 'a length of at most 100 m either way such as "0.42 m" or -35'


class Distance(Coordinate):
    """A length in millimetres."""

    least = 0.0
    written = 'a length of 0 to 100 m such as "5.36 m" or 5360'


class Size(Distance):
    """Width or depth of a cabinet in millimetres."""

    least, most = 20.0, 3000.0
    written = 'a length of 20 mm to 3 m such as "262 mm" or 262'


class Degrees(Number):
    """An angle."""

    least, most = -89.0, 89.0
    written = "a bare number of degrees from -89 to 89 such as 8.0"


class Celsius(Number):
    """A temperature of the air."""

    least, most = -20.0, 50.0
    written = "a bare number of degrees Celsius from -20 to 50 such as 21.5"


class PartsPerMillion(Number):
    """A relative error."""

    least, most = 0.0, 100_000.0
    written = "a bare number of ppm from 0 to 100000 such as 50"


def signed_length(text: str) -> Length:
    """The length that a person wrote, with a minus where it is negative.

    Raises:
        LengthError: when the text is not a length.
    """
    unsigned = text.strip().removeprefix("-")
    length = parse_length(unsigned)
    return length if unsigned == text.strip() else length._replace(mm=-length.mm)


def number_from(wanted: type[Number], value: object) -> Number:
    """Hook of msgspec: a value of the file as the kind of number that is wanted there.

    Raises:
        BadInput: when it is not one, or outside its limits.
    """
    if isinstance(value, str) and issubclass(wanted, Coordinate):
        number = (parse_length if wanted.least >= 0 else signed_length)(value).mm
    elif isinstance(value, int | float) and not isinstance(value, bool):
        # a whole number may be too large for a float
        number = float(value) if abs(value) < 1e300 else math.inf
    else:
        number = math.nan
    if wanted.least <= number <= wanted.most:
        return wanted(number)
    shown = printable(json.dumps(value, ensure_ascii=False, default=str))
    raise BadInput(f"{shown if len(shown) <= 40 else shown[:39] + '…'} is not {wanted.written}")


Corner = tuple[Coordinate, Coordinate]


class Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A table of the file."""


class CornersTable(Table, frozen=True):
    """``room.corners``: plan position of each, going round the room."""

    front_left: Corner
    front_right: Corner
    back_right: Corner
    back_left: Corner


class FromWallsTable(Table, frozen=True):
    """``room.datum N.first`` or ``second``: how far an end of a line is from other sides."""

    front: Distance | None = None
    back: Distance | None = None
    left: Distance | None = None
    right: Distance | None = None


class DatumTable(Table, frozen=True):
    """One of ``room.datum``: a line in place of a wall, from the distances of its two ends."""

    wall: Wall
    first: FromWallsTable
    second: FromWallsTable


class OffsetTable(Table, frozen=True):
    """One of ``room.offsets``: what stands proud of a wall, between two heights."""

    wall: Wall
    proud: Distance
    to_height: Distance
    from_height: Distance = Distance(0.0)


class ZoneTable(Table, frozen=True):
    """One of ``room.keep_clear``: floor by its corners, or a rectangle by two distances each."""

    name: str
    corners: list[Corner] | None = None
    from_left: tuple[Coordinate, Coordinate] | None = None
    from_front: tuple[Coordinate, Coordinate] | None = None


class RoomTable(Table, frozen=True):
    """``[room]``: width and length of a square one, or corners."""

    width: Distance | None = None
    length: Distance | None = None
    corners: CornersTable | None = None
    height: Distance | None = None
    temperature: Celsius = Celsius(20.0)
    datum: list[Wall | DatumTable] = []
    """Sides with a line instead of a wall; a bare name where width or corners tell its place."""
    offsets: list[OffsetTable] = []
    keep_clear: list[ZoneTable] = []


class PointTable(Table, frozen=True):
    """A touch point or a foot of a cabinet."""

    inward: Coordinate
    back: Coordinate
    height: Distance = Distance(0.0)


class OneCabinetTable(Table, frozen=True):
    """``[cabinet.left]`` or ``[cabinet.right]``: what differs from ``[cabinet]``."""

    width: Size | None = None
    depth: Size | None = None
    acoustic_height: Distance | None = None
    points: dict[str, Any] = {}
    """Point tables by name, which are read one by one so that a complaint tells the name."""
    feet: dict[str, Any] = {}


class CabinetTable(OneCabinetTable, frozen=True):
    """``[cabinet]``: what holds for both."""

    left: OneCabinetTable = OneCabinetTable()
    right: OneCabinetTable = OneCabinetTable()


class SeatTable(Table, frozen=True):
    """``[seat]``."""

    from_front: Distance | None = None
    from_left: Distance | None = None
    ear_height: Distance | None = None


class MeterTable(Table, frozen=True):
    """``[meter]``: standard deviations."""

    repeatability: Distance = Distance(0.5)
    resolution: Distance = Distance(1.0)
    zero: Distance = Distance(0.7)
    scale_ppm: PartsPerMillion = PartsPerMillion(0.0)


class ToleranceTable(Table, frozen=True):
    """``[tolerance]``."""

    position: Distance = Distance(3.0)
    toe_in: Degrees = Degrees(0.5)


class PlacementTable(Table, frozen=True):
    """``[target.left]`` or ``[target.right]``."""

    side: Distance
    setback: Distance
    toe_in: Degrees


class TargetTable(Table, frozen=True):
    """``[target]``."""

    left: PlacementTable | None = None
    right: PlacementTable | None = None


class ShotTable(Table, frozen=True):
    """One ``[[shot]]``."""

    cabinet: Side
    point: str
    to: AimedAt
    held: Held
    reading: Distance
    height: Distance | None = None


class RoundTable(Table, frozen=True):
    """The whole file."""

    format: str
    room: RoomTable
    cabinet: CabinetTable
    seat: SeatTable = SeatTable()
    meter: MeterTable = MeterTable()
    tolerance: ToleranceTable = ToleranceTable()
    target: TargetTable = TargetTable()
    shot: list[ShotTable] = []
