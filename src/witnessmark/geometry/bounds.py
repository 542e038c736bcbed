"""Whether a cabinet stands in its room at all."""

from __future__ import annotations

from witnessmark.geometry.frame import side_frame
from witnessmark.lengths import Units, format_length
from witnessmark.model import Cabinet, Placement, Room, Side, Wall

HARDLY_MM = 1.0
"""A point so little beyond a wall may be against it, by a hand that measured the wall."""


def outside(
    room: Room, side: Side, cabinet: Cabinet, placement: Placement, units: Units = Units.MM
) -> str | None:
    """What is wrong with a placement outside the room, in words; None for one inside.

    The lower corners and feet count. A datum line may be stood over: nothing is there.
    """
    frame = side_frame(room, side)
    points = cabinet.body_points | cabinet.standing_points
    beyond = [
        (-frame.walls[wall].distance_mm(frame.point(placement, point)), name, wall)
        for wall in Wall
        if wall not in room.datum
        for name, point in points.items()
    ]
    farthest, name, wall = max(beyond, default=(0.0, "", Wall.FRONT))
    if farthest <= HARDLY_MM:
        return None
    return (
        f"the {side} cabinet would stand outside the room, its {name} "
        f"{format_length(farthest, units)} beyond the {wall} wall"
    )
