"""The pair near the walls that they were measured from, where nobody measured the whole room.

The room that stands in for it in the arithmetic is never drawn: between the cabinets, and behind
the seat, nobody knows what there is.
"""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.drawing.plan import pair_letters, pair_strokes
from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.model import Pair, Placement, Room, RoomKnown, Setup, Side
from witnessmark.model.limits import ROOM_SIDE

_APART = 2.0
"""Free width between two cabinets whose distance nobody knows, and depth before them, in parts of
the larger of a cabinet's width and depth; by eye."""


def near_room(setup: Setup, placements: Pair[Placement | None]) -> Room:
    """Return a room to draw these placements in, with the width of the true one where it is known.

    Its corners at the front are true ones, seen from the cabinet at that side.
    """
    size = _size(setup)
    known = [placement for placement in placements if placement is not None]
    width = setup.room.width_mm
    if setup.known_of_room is RoomKnown.NOTHING:
        beside = sum(placement.side_mm for placement in known)
        width = beside + size * (_APART + len(Side) - len(known))
    length = max((placement.setback_mm for placement in known), default=0.0) + _APART * size
    return Room.rectangular(max(width, ROOM_SIDE.least), max(length, ROOM_SIDE.least))


def near_plan(setup: Setup, measured: Pair[Placement | None]) -> Drawing:
    """Draw the cabinets that are measured or have a target, and the walls that are near them.

    What is not known of the front wall is dotted. Nothing is drawn where no cabinet is known.
    """
    shown = Pair(*(measured[side] or setup.targets[side] for side in Side))
    if not any(shown):
        return Drawing()
    room, cabinets = near_room(setup, shown), setup.cabinets
    reach = room.length_mm
    strokes = (
        *_walls(room, setup, shown),
        *pair_strokes(room, cabinets, setup.targets, None, reach, Ink.TARGET),
        *pair_strokes(room, cabinets, measured, None, reach, Ink.MEASURED),
    )
    # where it hides nothing of what is not known
    middle = room.width_mm / (2 if setup.known_of_room is RoomKnown.WIDTH else 4)
    name = Label(" front wall ", (middle, 0.0), Ink.WALL)
    return Drawing(strokes, (name, *pair_letters(room, cabinets, shown, measured)))


def _walls(room: Room, setup: Setup, shown: Pair[Placement | None]) -> Iterator[Stroke]:
    """The side walls of those that are shown, and the front wall as far as it is known."""
    width, length = room.width_mm, room.length_mm
    is_known = setup.known_of_room is RoomKnown.WIDTH
    ends = []
    for side, corner, inward in ((Side.LEFT, 0.0, 1.0), (Side.RIGHT, width, -1.0)):
        placement = shown[side]
        if placement is not None or is_known:
            yield Stroke(((corner, 0.0), (corner, length)), Ink.WALL)
        reach = 0.0 if placement is None else placement.side_mm + _size(setup) / 2
        ends.append(corner + inward * min(reach, width / 2))
    left, right = (width / 2, width / 2) if is_known else ends
    yield Stroke(((0.0, 0.0), (left, 0.0)), Ink.WALL)
    yield Stroke(((left, 0.0), (right, 0.0)), Ink.GUESSED)
    yield Stroke(((right, 0.0), (width, 0.0)), Ink.WALL)


def _size(setup: Setup) -> float:
    return max(max(cabinet.width_mm, cabinet.depth_mm) for cabinet in setup.cabinets)
