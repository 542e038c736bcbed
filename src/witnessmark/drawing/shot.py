"""The shot to take next, drawn: the cabinet from above, the corner, the beam and its wall.

The front wall is at the top, as in the plan, and the cabinet is to scale and turned as it stands.
Walls are moved near, so that the cabinet is large: a beam is as long as there is room for, and what
it reads is written beside it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping

from witnessmark.drawing.cabinet import cross
from witnessmark.drawing.strokes import Align, Box, Drawing, Ink, Label, Stroke
from witnessmark.geometry.frame import point_in_plan, side_frame
from witnessmark.lengths import format_length
from witnessmark.locate.sightlines import beam
from witnessmark.model import (
    BOX_POINTS,
    STRAIGHTEDGE_POINTS,
    AimedAt,
    Held,
    Mark,
    OneCabinet,
    Placement,
    PlanPoint,
    Room,
    RoomKnown,
    Setup,
    ShotKind,
    Side,
    TouchPoint,
    Wall,
)
from witnessmark.model.plan import between
from witnessmark.placing.expectation import on_target
from witnessmark.placing.guidance import Guidance, Task

_GAPS = {Wall.LEFT: 1.0, Wall.RIGHT: 1.0, Wall.FRONT: 0.55, Wall.BACK: 0.55}
"""Distance of a wall from the cabinet, as a part of the larger of width and depth; by eye, for
pictures that are wider than high."""
_STRAIGHT_ON = 0.55
"""Length of a beam to what is no wall, past the cabinet, in the same parts."""
_HEAD, _HEAD_DEG = 0.16, 25.0
"""Length of an arrow's head, in the same parts, and its angle to the beam."""
_RING = 0.045
"""Radius of the ring about a corner that is measured from, in the same parts."""
_METER = (0.2, 0.06)
"""Length and half width of the meter, in the same parts."""
_BAFFLE = 0.06
"""Distance of the second line along the baffle, as a part of the depth."""
_LETTERS = 0.13
"""Height of the letters that labels are kept clear for, in the same parts."""
_BREADTH = 0.6
"""Width of a letter for its height."""

PlanLine = tuple[PlanPoint, PlanPoint]


def shot_picture(
    cabinet: OneCabinet, standing: Placement, beams: Mapping[ShotKind, str]
) -> tuple[Drawing, Box]:
    """Return the drawing of a cabinet with the beams of some of its shots, and what to show of it.

    Args:
        cabinet: which one, of which setup.
        standing: where it stands, or is thought to.
        beams: the shots, which it has the touch points for, and what is written beside each, such
            as what it should read.
    """
    return _Picture(cabinet, standing, beams).drawn()


def beam_marks(setup: Setup, standing: Placement, kind: ShotKind) -> Drawing:
    """Return the ring and the beam of a shot at the scale of the room, to be laid over its plan."""
    start, end = _ends(setup, standing, kind)
    head_mm = min(0.04 * setup.room.width_mm, 0.5 * math.dist(start, end))
    return Drawing((_ring(start, 0.4 * head_mm), *_arrow(start, end, head_mm)))


def letters_mm(cabinet: OneCabinet) -> float:
    """Return how high the letters are, in plan, that the picture of this cabinet has room for."""
    return _LETTERS * max(cabinet.body.width_mm, cabinet.body.depth_mm)


def mark_picture(mark: Mark, side: Side) -> Drawing:
    """Return the picture of a cabinet as it stood, with the shots of it that the mark was made by.

    Its other touch points are named, too, and its feet are drawn.
    """
    cabinet, placement = OneCabinet(mark.setup, side), mark.poses.placements[side]
    beams = {shot.kind: "" for shot in mark.shots if shot.kind.cabinet is side}
    drawing, _ = shot_picture(cabinet, placement, beams)
    room, body = mark.setup.room, cabinet.body
    size = _RING * max(body.width_mm, body.depth_mm)
    middle = point_in_plan(room, side, placement, TouchPoint(0.0, body.depth_mm / 2))
    strokes, labels = list(drawing.strokes), list(drawing.labels)
    for name, point in body.body_points.items():
        if all(kind.point != name for kind in beams):
            at = point_in_plan(room, side, placement, point)
            strokes += cross(at, size)
            labels.append(Label(name, between(middle, at, 1.4), Ink.SEAT))
    for foot in body.feet.values():
        strokes.append(_ring(point_in_plan(room, side, placement, foot), size / 2))
    return Drawing(tuple(strokes), tuple(labels))


def asked_picture(now: Guidance) -> tuple[Drawing, Box] | None:
    """Return the picture of the shot that is asked for, with what it should read.

    That is the one watched while the cabinet is moved, or the next one; None when all is done.
    """
    kind = asked_shot(now)
    if kind is None:
        return None
    watch = now.watch
    if watch is not None and watch.kind == kind:
        wanted_mm: float | None = watch.stop_mm
    else:
        wanted_mm = on_target(now.setup, kind)
    reads = "" if wanted_mm is None else format_length(wanted_mm, now.setup.units)
    return shot_picture(now.work.cabinet, now.work.belief, {kind: reads})


def asked_marks(now: Guidance) -> Drawing:
    """Return the marks of the shot that is asked for, for the plan of a room that is known.

    Empty when all is done.
    """
    kind = asked_shot(now)
    if kind is None or now.setup.known_of_room is not RoomKnown.WHOLE:
        return Drawing()
    return beam_marks(now.setup, now.work.belief, kind)


def asked_shot(now: Guidance) -> ShotKind | None:
    """Return the shot that is watched, or the one to take next; None when all is done."""
    if now.held is not None:
        return now.held.kind
    return None if now.task is Task.NOTHING else now.prompt.kind


class _Picture:
    """Everything about one picture; lengths are in plan, mm."""

    def __init__(
        self, cabinet: OneCabinet, standing: Placement, beams: Mapping[ShotKind, str]
    ) -> None:
        self.setup, self.side, self.body = cabinet.setup, cabinet.side, cabinet.body
        self.standing, self.beams = standing, beams
        self.size = max(self.body.width_mm, self.body.depth_mm)
        self.letters = letters_mm(cabinet)
        points = self.body.touch_points
        self.points = {
            name: point_in_plan(self.setup.room, self.side, standing, point)
            for name, point in points.items()
        }
        front_inner, front_outer, rear_inner, rear_outer = (
            self.points[name] for name in BOX_POINTS
        )
        self.corners = (front_inner, front_outer, rear_outer, rear_inner)
        self.middle = between(between(front_inner, rear_outer), between(front_outer, rear_inner))
        self.walls = {wall: self._moved(wall) for wall in self._walls()}

    def drawn(self) -> tuple[Drawing, Box]:
        strokes = [*self._cabinet(), *self._wall_strokes()]
        labels = [*self._wall_labels(), self._baffle_label()]
        for point in dict.fromkeys(kind.point for kind in self.beams):
            strokes.append(_ring(self.points[point], _RING * self.size))
            labels.append(self._corner_label(point))
        for kind, words in self.beams.items():
            legs = self._legs(kind)
            strokes += self._meter(*legs[0])
            for leg in legs:
                strokes += _arrow(*leg, _HEAD * self.size)
            if words:
                labels.append(self._reading_label(words, *legs[-1]))
            if kind.held is Held.SPOT:
                strokes += cross(legs[0][1], _RING * self.size)
        drawing = Drawing(tuple(strokes), tuple(labels))
        return drawing, self._shown(drawing)

    # -- the walls, moved near

    def _walls(self) -> Iterator[Wall]:
        for kind in self.beams:
            if kind.held is Held.SPOT:
                yield Wall.BACK
            if kind.held is not Held.POINT:
                yield Wall(kind.to.value)

    def _moved(self, wall: Wall) -> PlanLine:
        """A side of the room, brought near to the cabinet where it is far."""
        start, end = self.setup.room.wall(wall)
        inward = _inward(self.setup.room, wall)
        nearest = min(_along(inward, start, corner) for corner in self.corners)
        shift = max(nearest - _GAPS[wall] * self.size, 0.0)
        return _moved_by(start, inward, shift), _moved_by(end, inward, shift)

    def _wall_strokes(self) -> Iterator[Stroke]:
        for wall in self.walls:
            ink = Ink.DATUM if wall in self.setup.room.datum else Ink.WALL
            yield Stroke(self._seen_of(wall), ink)

    def _seen_of(self, wall: Wall) -> PlanLine:
        """The part of a wall that is drawn: beside the cabinet, and to the next wall drawn."""
        start, end = self.walls[wall]
        way = _unit(start, end)
        places = [_along(way, start, corner) for corner in self.corners]
        first, last = min(places) - 0.3 * self.size, max(places) + 0.3 * self.size
        for other, line in self.walls.items():
            if other not in (wall, wall.opposite):
                place = _along(way, start, _crossing((start, end), line))
                first, last = (place, last) if place < (first + last) / 2 else (first, place)
        return _moved_by(start, way, first), _moved_by(start, way, last)

    def _wall_labels(self) -> Iterator[Label]:
        for wall in self.walls:
            ink = Ink.DATUM if wall in self.setup.room.datum else Ink.WALL
            name = self.setup.room.side_name(wall)
            if wall in (Wall.LEFT, Wall.RIGHT):
                x, y = min(self._seen_of(wall), key=lambda end: end[1])
                align = Align.START if wall is Wall.LEFT else Align.END
                yield Label(name, (x, y - 0.5 * self.letters), ink, align=align)
                continue
            (x, y), align = max(self._seen_of(wall)), Align.START
            if self._mean_x() > self.middle[0]:
                (x, y), align = min(self._seen_of(wall)), Align.END
            step = self.letters * (0.3 if align is Align.START else -0.3)
            yield Label(name, (x + step, y), ink, align=align)

    def _mean_x(self) -> float:
        """Return where the corners are, from left to right, that are measured from."""
        across = [self.points[kind.point][0] for kind in self.beams]
        return sum(across) / len(across)

    # -- the cabinet

    def _cabinet(self) -> Iterator[Stroke]:
        front_inner, front_outer, rear_outer, rear_inner = self.corners
        yield Stroke((*self.corners, front_inner), Ink.MEASURED)
        yield Stroke(
            (
                between(front_inner, rear_inner, _BAFFLE),
                between(front_outer, rear_outer, _BAFFLE),
            ),
            Ink.MEASURED,
        )
        if any(kind.point in STRAIGHTEDGE_POINTS for kind in self.beams):
            inner, outer = (self.points[name] for name in STRAIGHTEDGE_POINTS)
            yield Stroke((inner, outer), Ink.TARGET)

    def _baffle_label(self) -> Label:
        front = between(self.corners[0], self.corners[1])
        return Label("baffle", between(front, self.middle, 0.35), Ink.MEASURED)

    def _corner_label(self, point: str) -> Label:
        """The name of a corner, where none of its beams runs: beside it, or above or below it."""
        x, y = self.points[point]
        name = point.removeprefix("straightedge-") if point in STRAIGHTEDGE_POINTS else point
        upright = any(
            _is_upright(*self._legs(kind)[0]) for kind in self.beams if kind.point == point
        )
        is_right = x > self.middle[0]
        if upright:
            at = (x + (0.8 if is_right else -0.8) * self.letters, y)
            return Label(name, at, Ink.BEAM, align=Align.START if is_right else Align.END)
        at = (x, y + (2.0 if y > self.middle[1] else -2.0) * self.letters)
        return Label(name, at, Ink.BEAM, align=Align.END if is_right else Align.START)

    # -- the beams

    def _legs(self, kind: ShotKind) -> tuple[PlanLine, ...]:
        """From the meter to what it meets; of a spot shot, from its dot to the side wall too."""
        start, far = _ends(self.setup, self.standing, kind)
        if kind.held is Held.POINT:
            longest = _STRAIGHT_ON * self.size + self._reach(start, far)
            share = min(1.0, longest / (math.dist(start, far) or 1.0))
            return ((start, between(start, far, share)),)
        met = Wall.BACK if kind.held is Held.SPOT else Wall(kind.to.value)
        end = _crossing((start, far), self.walls[met])
        if kind.held is not Held.SPOT:
            return ((start, end),)
        foot = _foot(end, self.walls[Wall(kind.to.value)])
        return (start, end), (end, foot)

    def _reach(self, start: PlanPoint, far: PlanPoint) -> float:
        """Return how far the cabinet reaches along a beam from one of its points."""
        way = _unit(start, far)
        return max(0.0, *(_along(way, start, corner) for corner in self.corners))

    def _meter(self, start: PlanPoint, end: PlanPoint) -> Iterator[Stroke]:
        """The meter, its rear at the corner."""
        length, half = (part * self.size for part in _METER)
        way = _unit(start, end)
        across = (-way[1] * half, way[0] * half)
        front = _moved_by(start, way, length)
        box = [
            (start[0] + across[0], start[1] + across[1]),
            (front[0] + across[0], front[1] + across[1]),
            (front[0] - across[0], front[1] - across[1]),
            (start[0] - across[0], start[1] - across[1]),
        ]
        yield Stroke((*box, box[0]), Ink.BEAM)

    def _reading_label(self, words: str, start: PlanPoint, end: PlanPoint) -> Label:
        """What a beam reads, beside it: above one across, on the inner side of one up or down."""
        x, y = between(start, end, 0.6)
        if _is_upright(start, end):
            is_right = start[0] > self.middle[0]
            step, align = (-0.8, Align.END) if is_right else (0.8, Align.START)
            return Label(words, (x + step * self.letters, y), Ink.BEAM, align=align)
        return Label(words, (x, y - 2.0 * self.letters), Ink.BEAM, is_spare=True)

    # -- what is shown

    def _shown(self, drawing: Drawing) -> Box:
        """Everything, with the letters of the labels."""
        box = drawing.box
        left, right = box.left, box.right
        for label in drawing.labels:
            width = _BREADTH * self.letters * len(label.text)
            begins = label.at[0] - label.align.before * width
            left, right = min(left, begins), max(right, begins + width)
        return Box(left, box.top, right, box.bottom)


def _ends(setup: Setup, standing: Placement, kind: ShotKind) -> PlanLine:
    """Both ends of a beam in plan, from the cabinet on."""
    side, room = kind.cabinet, setup.room
    if kind.to is AimedAt.CABINET:
        other = OneCabinet(setup, side.other)
        points = (setup.cabinets[one].touch_points[kind.point] for one in (side, side.other))
        own, far = points
        return (
            point_in_plan(room, side, standing, own),
            point_in_plan(room, side.other, other.likely_placement(), far),
        )
    frame = side_frame(room, side)
    start, end = beam(setup, {side: standing}, kind)
    return frame.to_plan(start), frame.to_plan(end)


def _arrow(start: PlanPoint, end: PlanPoint, head_mm: float) -> Iterator[Stroke]:
    """A beam, with a head at its end."""
    yield Stroke((start, end), Ink.BEAM)
    back = math.atan2(start[1] - end[1], start[0] - end[0])
    turn = math.radians(_HEAD_DEG)
    one, other = (
        (end[0] + head_mm * math.cos(back + by), end[1] + head_mm * math.sin(back + by))
        for by in (turn, -turn)
    )
    yield Stroke((one, end, other), Ink.BEAM)


def _ring(at: PlanPoint, radius_mm: float) -> Stroke:
    turns: Iterable[float] = (turn * math.tau / 12 for turn in range(13))
    return Stroke(
        tuple(
            (at[0] + radius_mm * math.cos(turn), at[1] + radius_mm * math.sin(turn))
            for turn in turns
        ),
        Ink.BEAM,
    )


def _is_upright(start: PlanPoint, end: PlanPoint) -> bool:
    """Return whether a line on the page goes rather up or down than across."""
    return abs(end[1] - start[1]) > abs(end[0] - start[0])


def _inward(room: Room, wall: Wall) -> PlanPoint:
    """The unit normal of a wall, into the room."""
    (x0, y0), (x1, y1) = room.wall(wall)
    length = room.side_length_mm(wall)
    return (y0 - y1) / length, (x1 - x0) / length


def _unit(start: PlanPoint, end: PlanPoint) -> PlanPoint:
    length = math.dist(start, end) or 1.0
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def _along(way: PlanPoint, start: PlanPoint, point: PlanPoint) -> float:
    """Return how far a point is from another along a unit vector."""
    return (point[0] - start[0]) * way[0] + (point[1] - start[1]) * way[1]


def _moved_by(point: PlanPoint, way: PlanPoint, by_mm: float) -> PlanPoint:
    return point[0] + by_mm * way[0], point[1] + by_mm * way[1]


def _foot(point: PlanPoint, line: PlanLine) -> PlanPoint:
    """The foot of the perpendicular from a point to a line."""
    way = _unit(*line)
    return _moved_by(line[0], way, _along(way, line[0], point))


def _crossing(one: PlanLine, other: PlanLine) -> PlanPoint:
    """Return where two lines meet; the end of the first where they are parallel."""
    (ax, ay), (bx, by) = one
    (cx, cy), (dx, dy) = other
    turn = (bx - ax) * (dy - cy) - (by - ay) * (dx - cx)
    if turn == 0:
        return one[1]
    share = ((cx - ax) * (dy - cy) - (cy - ay) * (dx - cx)) / turn
    return between(*one, share)
