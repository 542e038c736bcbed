"""The plan of a room with its pair."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from witnessmark.acoustics.scene import Scene, bounces
from witnessmark.drawing.room import inward, room_labels, room_strokes
from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.geometry.frame import footprint, reference_in_plan, side_frame
from witnessmark.layout.footprint import Band
from witnessmark.locate.aim import axes_meet
from witnessmark.model import (
    Cabinet,
    Pair,
    Placement,
    PlanPoint,
    Room,
    Seat,
    Side,
    Wall,
)
from witnessmark.model.plan import between

_LEG_SHARE = 0.06
"""Part of the room's width that a mark reaches along the path, to the cabinet and to the seat."""
_ASIDE_SHARE = 0.15
"""Part of the room's width by which a name stands off the wall."""
_SIDE_WALLS = (Wall.LEFT, Wall.RIGHT)


def bounce_marks(scene: Scene) -> Iterator[tuple[Stroke, Label]]:
    """Yield the bend of each path by way of a side wall, and whose it is; none where no wall is.

    That of the farther wall, which comes later, is spare.
    """
    width = scene.room.width_mm
    for side, placement in scene.standing.items():
        source = reference_in_plan(scene.room, side, placement)
        found = bounces(scene, side, placement)
        for wall in _SIDE_WALLS:
            if wall in found:
                at = found[wall].at_mm
                leg = _LEG_SHARE * width
                path = (_toward(at, source, leg), at, _toward(at, scene.seat.plan, leg))
                name = inward(scene.room, wall, at, _ASIDE_SHARE * width)
                yield (
                    Stroke(path, Ink.BOUNCE, is_spare=wall != Wall.beside(side)),
                    Label(f"from {side[0].upper()}", name, Ink.BOUNCE, is_spare=True),
                )


def _toward(start: PlanPoint, end: PlanPoint, by_mm: float) -> PlanPoint:
    """Return the point a distance from one toward another, at most at the other."""
    return between(start, end, by_mm / max(by_mm, math.dist(start, end)))


_HEAD_MM = 130.0
_CROSS_MM = 60.0
"""Half the length of a bar of a station's cross."""
_NUMBER_MM = 300.0
"""Distance from the middle of a lane to a station's number, mm, so that it clears the cross."""
_BAFFLE_SHARE = 0.16
_NOBODY: Pair[Placement | None] = Pair(None, None)


def plan_drawing(
    room: Room,
    *,
    seat: Seat | None = None,
    cabinets: Pair[Cabinet] | None = None,
    targets: Pair[Placement | None] = _NOBODY,
    measured: Pair[Placement | None] = _NOBODY,
    lanes: Pair[Band] | None = None,
    stations_mm: Sequence[float] = (),
) -> Drawing:
    """Draw all that is known, in plan; ``stations_mm`` are setbacks, numbered from 1 in order."""
    reach = seat.from_front_mm if seat else room.length_mm
    strokes, labels = list(room_strokes(room)), list(room_labels(room))
    if lanes:
        strokes += _lane_strokes(room, lanes, reach, stations_mm)
        labels += _station_numbers(room, lanes, stations_mm)
    if seat:
        strokes.append(_head(seat))
        labels.append(Label("seat", (seat.from_left_mm, seat.from_front_mm + 350), Ink.SEAT))
    if cabinets:
        shown = Pair(*(measured[side] or targets[side] for side in Side))
        if seat:
            for stroke, label in bounce_marks(_scene(room, seat, cabinets, shown)):
                strokes.append(stroke)
                labels.append(label)
        strokes += pair_strokes(room, cabinets, targets, _meeting(room, targets), reach, Ink.TARGET)
        strokes += pair_strokes(
            room, cabinets, measured, _meeting(room, shown), reach, Ink.MEASURED
        )
        labels += pair_letters(room, cabinets, shown, measured)
    return Drawing(tuple(strokes), tuple(labels))


def pair_strokes(
    room: Room,
    cabinets: Pair[Cabinet],
    placements: Pair[Placement | None],
    meet: PlanPoint | None,
    reach: float,
    ink: Ink,
) -> Iterator[Stroke]:
    """Yield the cabinets that have a placement, and their axes to where these ``meet``."""
    for side in Side:
        if place := placements[side]:
            yield from _cabinet(room, side, cabinets[side], place, meet, reach, ink)


def pair_letters(
    room: Room,
    cabinets: Pair[Cabinet],
    shown: Pair[Placement | None],
    measured: Pair[Placement | None],
) -> Iterator[Label]:
    """Yield the letter of each cabinet that is shown."""
    for side in Side:
        if place := shown[side]:
            ink = Ink.MEASURED if measured[side] else Ink.TARGET
            yield _letter(room, side, cabinets[side], place, ink)


def _scene(
    room: Room, seat: Seat, cabinets: Pair[Cabinet], placements: Pair[Placement | None]
) -> Scene:
    heights = (cabinet.acoustic_height_mm for cabinet in cabinets)
    return Scene(room, seat, Pair(*heights), placements)


def _meeting(room: Room, placements: Pair[Placement | None]) -> PlanPoint | None:
    """Return where the two axes cross within the room."""
    left, right = placements.left, placements.right
    meet = axes_meet(room, Pair(left, right)) if left and right else None
    if meet is None:
        return None
    frame = side_frame(room, Side.LEFT)
    at = frame.from_plan(meet)
    return meet if all(wall.distance_mm(at) >= 0 for wall in frame.walls.values()) else None


def _lane_strokes(
    room: Room, lanes: Pair[Band], reach: float, stations_mm: Sequence[float]
) -> Iterator[Stroke]:
    """The middle line of each lane, and a small cross at every station on it."""
    for side in Side:
        middle = lanes[side].middle_mm
        ends = (_in_lane(room, side, middle, setback) for setback in (0.0, reach))
        yield Stroke(tuple(ends), Ink.LANE)
        for setback in stations_mm:
            for across, along in ((_CROSS_MM, 0.0), (0.0, _CROSS_MM)):
                bar = (
                    _in_lane(room, side, middle + sign * across, setback + sign * along)
                    for sign in (-1, 1)
                )
                yield Stroke(tuple(bar), Ink.STATION)


def _station_numbers(
    room: Room, lanes: Pair[Band], stations_mm: Sequence[float]
) -> Iterator[Label]:
    """The number of each station, on the outer side of its cross."""
    for side in Side:
        beside = lanes[side].middle_mm - _NUMBER_MM
        for number, setback in enumerate(stations_mm, 1):
            yield Label(
                str(number), _in_lane(room, side, beside, setback), Ink.STATION, is_spare=True
            )


def _in_lane(room: Room, side: Side, side_mm: float, setback_mm: float) -> PlanPoint:
    return reference_in_plan(room, side, Placement(side_mm, setback_mm, 0.0))


def _cabinet(
    room: Room,
    side: Side,
    cabinet: Cabinet,
    placement: Placement,
    meet: PlanPoint | None,
    reach: float,
    ink: Ink,
) -> Iterator[Stroke]:
    """The outline, a second line along the baffle, and the axis.

    That runs as far as where it meets the other's, or to the seat's line where it does not.
    """
    corners = footprint(room, side, cabinet, placement)
    front_inner, front_outer, rear_outer, rear_inner = corners
    yield Stroke((*corners, front_inner), ink)
    inset = (
        between(front_inner, rear_inner, _BAFFLE_SHARE),
        between(front_outer, rear_outer, _BAFFLE_SHARE),
    )
    yield Stroke(inset, Ink.MEASURED if ink is Ink.MEASURED else Ink.TARGET_BAFFLE)
    baffle, rear = between(front_inner, front_outer), between(rear_inner, rear_outer)
    forward = max(reach - placement.setback_mm, cabinet.depth_mm)
    ratio = forward / cabinet.depth_mm / max(0.2, math.cos(math.radians(placement.toe_in_deg)))
    tip = meet or between(baffle, rear, -ratio)
    yield Stroke((baffle, tip), Ink.MEASURED_AIM if ink is Ink.MEASURED else Ink.TARGET_AIM)


def _letter(room: Room, side: Side, cabinet: Cabinet, placement: Placement, ink: Ink) -> Label:
    """The cabinet's letter, on its outer side, where it hides nothing."""
    _, front_outer, rear_outer, rear_inner = footprint(room, side, cabinet, placement)
    outside = between(rear_outer, rear_inner, -0.9)
    at = between(outside, between(outside, front_outer, 1.0), 0.4)
    return Label(side.value[0].upper(), at, ink)


def _head(seat: Seat) -> Stroke:
    """A head seen from above: a ring, with the nose toward the front wall."""
    x, y = seat.plan
    ring = [
        (
            x + _HEAD_MM * math.sin(turn * math.tau / 16),
            y - _HEAD_MM * math.cos(turn * math.tau / 16),
        )
        for turn in range(17)
    ]
    nose = (x, y - 1.9 * _HEAD_MM)
    return Stroke((nose, *ring, nose), Ink.SEAT)
