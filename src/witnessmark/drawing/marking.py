"""What is marked out on the floor with a tape: the points of both cabinets, by short names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.drawing.cabinet import cross
from witnessmark.drawing.strokes import Drawing, Ink, Label, Stroke
from witnessmark.geometry.frame import FramePoint, point_in_plan, reference_in_plan, side_frame
from witnessmark.layout.footprint import Band
from witnessmark.layout.start import Station
from witnessmark.lengths import Units, format_length
from witnessmark.model import Cabinet, Pair, Placement, PlanPoint, Room, Seat, Side, Wall
from witnessmark.model.plan import between

_CROSS_MM = 30.0
_BESIDE_MM = 110.0
"""Distance of a station's number from its lane, mm in the room; chosen by eye."""
_BESIDE = 1.5
"""How many times as far from the middle of the cabinet as its point a name stands."""
_NEAR_THE_WALL = 0.35
"""Where along a tape its length is written, as a part of the way from the wall."""


def mark_names(cabinet: Cabinet, side: Side) -> dict[str, str]:
    """Return a short name for every point of a cabinet, by the point's own, as ``L1`` or ``L2``."""
    return {
        point: f"{side[0].upper()}{number}" for number, point in enumerate(cabinet.body_points, 1)
    }


def marking(
    room: Room,
    cabinets: Pair[Cabinet],
    placements: Pair[Placement | None],
    units: Units,
    seat: Seat | None = None,
) -> Drawing:
    """Draw crosses at the points of the cabinets with their names, and the tapes from the walls.

    The tapes that are drawn are those to the middle of each baffle, and to the seat, with their
    lengths in ``units``. It is laid over the plan of the room.
    """
    strokes: list[Stroke] = []
    labels: list[Label] = []
    tapes = [] if seat is None else list(_seat_tapes(seat))
    for side in Side:
        placement = placements[side]
        if placement is None:
            continue
        tapes += _cabinet_tapes(room, side, placement)
        middle = _middle(room, side, cabinets[side], placement)
        names = mark_names(cabinets[side], side)
        for point, touch in cabinets[side].body_points.items():
            at = point_in_plan(room, side, placement, touch)
            strokes += cross(at, _CROSS_MM)
            labels.append(Label(names[point], between(middle, at, _BESIDE), Ink.SEAT))
    strokes += (Stroke(ends, Ink.TAKEN) for ends, _ in tapes)
    labels += (
        Label(format_length(length, units), between(*ends, _NEAR_THE_WALL), Ink.TAKEN)
        for ends, length in tapes
    )
    return Drawing(tuple(strokes), tuple(labels))


def station_numbers(room: Room, lanes: Pair[Band], stations: Sequence[Station]) -> Drawing:
    """Return the number of every station, beside the inner edge of both lanes."""
    labels = (
        Label(
            str(one.number),
            reference_in_plan(
                room, side, Placement(lanes[side].inner_mm + _BESIDE_MM, one.setback_mm, 0.0)
            ),
            Ink.STATION,
        )
        for side in Side
        for one in stations
    )
    return Drawing((), tuple(labels))


def over(below: Drawing, above: Drawing) -> Drawing:
    """Join two drawings of one plan."""
    return Drawing(below.strokes + above.strokes, below.labels + above.labels)


Tape = tuple[tuple[PlanPoint, PlanPoint], float]
"""The two ends, from the wall on, and the length, mm."""


def _cabinet_tapes(room: Room, side: Side, placement: Placement) -> Iterator[Tape]:
    """From the own side wall and from the front wall, each square to it."""
    frame = side_frame(room, side)
    point = frame.reference(placement)
    for wall in (Wall.beside(side), Wall.FRONT):
        line = frame.walls[wall]
        length = line.distance_mm(point)
        foot: FramePoint = (
            point[0] - length * line.normal_along,
            point[1] - length * line.normal_out,
        )
        yield (frame.to_plan(foot), frame.to_plan(point)), length


def _seat_tapes(seat: Seat) -> Iterator[Tape]:
    x, y = seat.plan
    yield ((0.0, y), (x, y)), x
    yield ((x, 0.0), (x, y)), y


def _middle(room: Room, side: Side, cabinet: Cabinet, placement: Placement) -> PlanPoint:
    """The middle of the box."""
    inner, outer = (
        point_in_plan(room, side, placement, cabinet.body_points[name])
        for name in ("rear-inner", "rear-outer")
    )
    return between(reference_in_plan(room, side, placement), between(inner, outer))
