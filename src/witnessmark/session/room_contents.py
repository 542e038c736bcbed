"""What is in a room: entries added, changed and taken out, and the answers that make one."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple, TypeVar

import msgspec

from witnessmark.errors import BadInput
from witnessmark.layout.footprint import shared_mm2
from witnessmark.lengths import Units, format_length
from witnessmark.model import DatumLine, KeepClear, Room, RoomItem, Seat, Wall, WallOffset
from witnessmark.survey.datum import line_of, neighbours, redrawn

T = TypeVar("T")
_NO_WALLS: Mapping[Wall, DatumLine] = MappingProxyType({})


class RoomContents(NamedTuple):
    """The room with what is in it, and the seat, which stays where it is whatever happens.

    ``walls`` says where walls were before lines took their place, so that they can come back.
    """

    room: Room
    seat: Seat | None
    walls: Mapping[Wall, DatumLine] = _NO_WALLS

    @property
    def entries(self) -> tuple[RoomItem, ...]:
        """Lines, then what stands proud, then zones."""
        room = self.room
        return (*(line_of(room, wall) for wall in room.datum), *room.offsets, *room.keep_clear)

    def with_entry(self, entry: RoomItem, units: Units) -> RoomContents:
        """Return the same with one entry more.

        Raises:
            BadInput: when it makes no sense in this room.
        """
        room = self.room
        match entry:
            case DatumLine(wall=wall):
                walls = {wall: line_of(room, wall), **self.walls}
                return self._redrawn(entry, units)._replace(walls=walls)
            case WallOffset():
                room = msgspec.structs.replace(room, offsets=(*room.offsets, entry))
            case KeepClear():
                _check_zone(entry, room)
                room = msgspec.structs.replace(room, keep_clear=(*room.keep_clear, entry))
        return self._replace(room=room)

    def without(self, place: int, units: Units) -> RoomContents:
        """Return the same without the entry at a place; a wall comes back where it was, if known.

        Raises:
            BadInput: when the wall that comes back closes no room any more.
        """
        room, entry = self.room, self.entries[place]
        match entry:
            case DatumLine(wall=wall):
                was = self.walls.get(wall)
                bare = self if was is None else self._redrawn(was, units)
                datum = tuple(other for other in room.datum if other is not wall)
                walls = {other: line for other, line in self.walls.items() if other is not wall}
                room = msgspec.structs.replace(bare.room, datum=datum)
                return RoomContents(room, bare.seat, walls)
            case WallOffset():
                left = _without(room.offsets, place - len(room.datum))
                room = msgspec.structs.replace(room, offsets=left)
            case KeepClear():
                at = place - len(room.datum) - len(room.offsets)
                room = msgspec.structs.replace(room, keep_clear=_without(room.keep_clear, at))
        return self._replace(room=room)

    def _redrawn(self, line: DatumLine, units: Units) -> RoomContents:
        room, shift = redrawn(self.room, line, units)
        if self.seat is None:
            return self._replace(room=room)
        across, down = shift.moved(self.seat.plan)
        seat = msgspec.structs.replace(self.seat, from_front_mm=down, from_left_mm=across)
        return self._replace(room=room, seat=seat)


def _check_zone(zone: KeepClear, room: Room) -> None:
    if shared_mm2(zone, room.corners) == 0:
        raise BadInput(f'keep_clear: "{zone.name}" lies outside the room; check its distances')


def _without(entries: tuple[T, ...], place: int) -> tuple[T, ...]:
    return entries[:place] + entries[place + 1 :]


class LineAnswers(msgspec.Struct, frozen=True):
    """Where the ends of a line are: from the side across, and from the one beside, or up to it."""

    side: Wall
    first_across_mm: float
    second_across_mm: float
    first_beside_mm: float | None = None
    second_beside_mm: float | None = None

    @property
    def line(self) -> DatumLine:
        """The line."""
        first, second = neighbours(self.side)
        return DatumLine(
            self.side,
            self._end(self.first_across_mm, first, self.first_beside_mm),
            self._end(self.second_across_mm, second, self.second_beside_mm),
        )

    def _end(self, across_mm: float, beside: Wall, beside_mm: float | None) -> dict[Wall, float]:
        across = {self.side.opposite: across_mm}
        return across if beside_mm is None else {**across, beside: beside_mm}


class ZoneAnswers(msgspec.Struct, frozen=True):
    """Floor to be kept clear: its name, and a rectangle along the walls."""

    zone: str
    left_near_mm: float
    left_far_mm: float
    front_near_mm: float
    front_far_mm: float

    def keep_clear(self, units: Units) -> KeepClear:
        """Return the floor.

        Raises:
            BadInput: when it is none, with lengths in ``units``.
        """
        left = (self.left_near_mm, self.left_far_mm)
        front = (self.front_near_mm, self.front_far_mm)
        for side, (near, far) in (("left", left), ("front", front)):
            if near == far:
                both = format_length(near, units)
                raise BadInput(f"both edges are {both} from the {side}; give two that differ")
        return KeepClear.rectangle(self.zone, left, front)


Answers = LineAnswers | WallOffset | ZoneAnswers


def answers_for(entry: RoomItem) -> Answers:
    """Return the answers that make an entry; a zone is shown as the rectangle round it."""
    match entry:
        case DatumLine(wall=wall):
            across = wall.opposite
            return LineAnswers(wall, entry.first[across], entry.second[across])
        case WallOffset():
            return entry
        case KeepClear():
            left, front = entry.reach_mm
            return ZoneAnswers(entry.name, *left, *front)


def entry_from(answers: Answers, units: Units) -> RoomItem:
    """Return the entry that answers make.

    Raises:
        BadInput: when they do not fit together, with lengths in ``units``.
    """
    match answers:
        case LineAnswers():
            return answers.line
        case WallOffset():
            return answers
        case ZoneAnswers():
            return answers.keep_clear(units)


LINE, PROUD, ZONE = "line", "proud", "zone"


def kind_of(entry: RoomItem) -> str:
    """Return the kind of an entry."""
    match entry:
        case DatumLine():
            return LINE
        case WallOffset():
            return PROUD
        case KeepClear():
            return ZONE
