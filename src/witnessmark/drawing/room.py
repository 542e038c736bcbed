"""The bare room in plan: its walls, lines in place of walls, and what takes up its floor."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.drawing.strokes import Ink, Label, Stroke
from witnessmark.model import KeepClear, PlanPoint, Room, Wall
from witnessmark.model.plan import between

_LEAST_PROUD = 0.03
"""Part of the room's width by which even a skirting board is drawn to stand proud, to be seen."""
_LONGEST_NAME = 12


def room_strokes(room: Room) -> Iterator[Stroke]:
    """Yield the sides, what stands proud of them, and floor to be kept clear, crossed out."""
    for zone in room.keep_clear:
        yield from _zone_strokes(zone)
    for wall in Wall:
        yield side_stroke(room, wall, Ink.DATUM if wall in room.datum else Ink.WALL)
    for wall, proud_mm in dict.fromkeys((one.wall, one.proud_mm) for one in room.offsets):
        yield _face(room, wall, max(proud_mm, _LEAST_PROUD * room.width_mm))


def room_labels(room: Room) -> Iterator[Label]:
    """Yield the front's name, a word on every line, the names of the zones."""
    for wall in Wall:
        if wall is Wall.FRONT or wall in room.datum:
            name = f" {wall} {'line' if wall in room.datum else 'wall'} "
            ink = Ink.DATUM if wall in room.datum else Ink.WALL
            yield Label(
                name if wall in (Wall.FRONT, Wall.BACK) else "line", middle(room, wall), ink
            )
    for zone in room.keep_clear:
        yield Label(_short(zone.name), _middle_of(zone), Ink.KEEP_CLEAR)


def side_stroke(room: Room, wall: Wall, ink: Ink) -> Stroke:
    """Return one side from corner to corner."""
    return Stroke(room.wall(wall), ink)


def middle(room: Room, wall: Wall) -> PlanPoint:
    """Return the middle of a side."""
    return between(*room.wall(wall))


def _zone_strokes(zone: KeepClear) -> Iterator[Stroke]:
    """The outline, and a line from each corner to the middle."""
    inside = _middle_of(zone)
    yield Stroke((*zone.corners, zone.corners[0]), Ink.KEEP_CLEAR)
    for corner in zone.corners:
        yield Stroke((corner, inside), Ink.KEEP_CLEAR)


def inward(room: Room, wall: Wall, at: PlanPoint, by_mm: float) -> PlanPoint:
    """Return the point so far into the room from one at a wall, square to that."""
    (x0, y0), (x1, y1) = room.wall(wall)
    share = by_mm / room.side_length_mm(wall)
    return at[0] + share * (y0 - y1), at[1] + share * (x1 - x0)


def _face(room: Room, wall: Wall, proud_mm: float) -> Stroke:
    """The face of what stands proud, along the whole wall."""
    start, end = (inward(room, wall, corner, proud_mm) for corner in room.wall(wall))
    return Stroke((start, end), Ink.PROUD)


def _middle_of(zone: KeepClear) -> PlanPoint:
    across, down = [x for x, _ in zone.corners], [y for _, y in zone.corners]
    return (min(across) + max(across)) / 2, (min(down) + max(down)) / 2


def _short(name: str) -> str:
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"
