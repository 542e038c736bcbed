"""The ``[room]`` of a round file: walls, datum lines, what stands proud, what is kept clear."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import msgspec

from witnessmark.complaint import printable
from witnessmark.errors import BadInput
from witnessmark.geometry.datum import with_datum
from witnessmark.model import DatumLine, KeepClear, PlanPoint, Room, Wall, WallOffset
from witnessmark.store.roundtables import (
    Corner,
    DatumTable,
    Distance,
    FromWallsTable,
    OffsetTable,
    RoomTable,
    ZoneTable,
)


def read_room(table: RoomTable) -> Room:
    """The room that the table describes.

    Raises:
        BadInput: one sentence that names the key and says what would be right.
    """
    walls = _walls(table)
    with _named():
        room = msgspec.structs.replace(
            walls,
            datum=tuple(one.wall if isinstance(one, DatumTable) else one for one in table.datum),
            offsets=tuple(_offset(one) for one in table.offsets),
            keep_clear=tuple(_zone(one) for one in table.keep_clear),
        )
        for one in table.datum:
            if isinstance(one, DatumTable):
                room = with_datum(room, _line(one))
    return room


@contextmanager
def _named() -> Iterator[None]:
    """What is wrong with a part of the room, under the room's key."""
    try:
        yield
    except BadInput as error:
        words = printable(str(error))
        raise BadInput(words if words.startswith("room") else f"room.{words}") from None


def _walls(table: RoomTable) -> Room:
    height = None if table.height is None else float(table.height)
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
    if table.width is None or table.length is None:
        name = "width" if table.width is None else "length"
        raise BadInput(f"room.{name} is missing; give it as {Distance.written}")
    return Room.rectangular(float(table.width), float(table.length), height)


def _offset(table: OffsetTable) -> WallOffset:
    return WallOffset(
        table.wall, float(table.proud), float(table.from_height), float(table.to_height)
    )


def _zone(table: ZoneTable) -> KeepClear:
    if table.corners is not None and table.from_left is None and table.from_front is None:
        return KeepClear(table.name, tuple(_plain(corner) for corner in table.corners))
    if table.corners is None and table.from_left is not None and table.from_front is not None:
        return KeepClear.rectangle(table.name, _plain(table.from_left), _plain(table.from_front))
    raise BadInput(
        f'keep_clear: give "{table.name}" either corners or both from_left and from_front, two '
        "lengths each"
    )


def _line(table: DatumTable) -> DatumLine:
    return DatumLine(table.wall, _distances(table.first), _distances(table.second))


def _distances(table: FromWallsTable) -> dict[Wall, float]:
    given = {wall: getattr(table, wall.value) for wall in Wall}
    return {wall: float(mm) for wall, mm in given.items() if mm is not None}


def _plain(corner: Corner) -> PlanPoint:
    return float(corner[0]), float(corner[1])
