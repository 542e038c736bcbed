"""The ``[room]`` of a round file: walls, datum lines, what stands proud, what is kept clear."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.file_errors import printable
from witnessmark.geometry.plan_frame import Shift, in_plan_frame
from witnessmark.model import DatumLine, KeepClear, PlanPoint, Room, Wall, WallOffset
from witnessmark.model.limits import MOST_ZONES
from witnessmark.store.round_file.tables import (
    CornerPair,
    CornersTable,
    DatumTable,
    Distance,
    FloorPair,
    FromWallsTable,
    OffsetTable,
    RoomTable,
    ZoneTable,
)
from witnessmark.survey.datum import redrawn

_MOST_METRES = 100.0
"""Corners within this, mm, make no room, and were meant in metres."""


class RoomRead(NamedTuple):
    """A room as the file has it, in the plan frame, and what there is to say of it."""

    room: Room
    notes: tuple[str, ...]


def read_room(table: RoomTable) -> RoomRead:
    """Return the room that the table describes.

    Corners may be of any plan: they are moved into the plan frame, with the corners of what is kept
    clear; a rectangle to be kept clear is by distances from the walls and stays.

    Raises:
        BadInput: one sentence that names the key and says what would be right.
    """
    walls, shift = in_plan_frame(_walls(table))
    with _named():
        room = msgspec.structs.replace(
            walls,
            datum=tuple(one.wall if isinstance(one, DatumTable) else one for one in table.datum),
            offsets=tuple(_offset(one) for one in table.offsets),
            # one too many is enough for the room to refuse them all
            keep_clear=tuple(_zone(one, shift) for one in table.keep_clear[: MOST_ZONES + 1]),
        )
        for one in table.datum:
            if isinstance(one, DatumTable):
                room = redrawn(room, _line(one)).room
    return RoomRead(room, () if shift is None else (_shift_words(shift),))


def _shift_words(shift: Shift) -> str:
    x, y = shift.origin
    return (
        f"room.corners: all were moved by ({-x:g}, {-y:g}) mm and turned by {shift.turn_deg:.3f}°, "
        "so that front_left is (0, 0) and the front wall lies along x; seat and targets count from "
        "there"
    )


@contextmanager
def _named() -> Iterator[None]:
    """Tell what is wrong with a part of the room under the room's key."""
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
        return _room_of(table.corners, height)
    if table.width is None or table.length is None:
        name = "width" if table.width is None else "length"
        raise BadInput(f"room.{name} is missing; give it as {Distance.written}")
    return Room.rectangular(float(table.width), float(table.length), height)


def _room_of(table: CornersTable, height_mm: float | None) -> Room:
    given = (table.front_left, table.front_right, table.back_right, table.back_left)
    front_left, front_right, back_right, back_left = map(_plain, given)
    try:
        return Room(front_left, front_right, back_right, back_left, height_mm)
    except BadInput as error:
        if max(abs(value) for corner in given for value in corner) <= _MOST_METRES:
            raise BadInput(f'{error}; bare numbers are in mm, for metres write "5 m"') from None
        raise


def _offset(table: OffsetTable) -> WallOffset:
    return WallOffset(
        table.wall, float(table.proud), float(table.from_height), float(table.to_height)
    )


def _zone(table: ZoneTable, shift: Shift | None) -> KeepClear:
    if table.corners is not None and table.from_left is None and table.from_front is None:
        corners = tuple(_plain(corner) for corner in table.corners)
        return KeepClear(table.name, corners if shift is None else tuple(map(shift.moved, corners)))
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


def _plain(corner: CornerPair | FloorPair) -> PlanPoint:
    return float(corner[0]), float(corner[1])
