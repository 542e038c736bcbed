"""The plan of a round under way."""

from __future__ import annotations

from typing import TYPE_CHECKING

from witnessmark.drawing.near_walls import near_plan
from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box, Drawing
from witnessmark.model import Pair, Placement, RoomKnown, Setup

if TYPE_CHECKING:
    from witnessmark.placing.guidance import CabinetStatus

_BEHIND_THE_SEAT_MM = 600.0


def standing_plan(setup: Setup, cabinets: Pair[CabinetStatus]) -> tuple[Drawing, Box]:
    """Draw room, seat, targets and known cabinets; return that and the part of it that matters.

    Of a room that nobody measured, only what is known is drawn: nothing before the first cabinet.
    """
    measured = Pair(_measured(cabinets.left), _measured(cabinets.right))
    if setup.known_of_room is not RoomKnown.WHOLE:
        near = near_plan(setup, measured)
        return near, near.box
    drawing = plan_drawing(
        setup.room,
        seat=setup.seat,
        cabinets=setup.cabinets,
        targets=setup.targets,
        measured=measured,
    )
    return drawing, _as_far_as_the_seat(setup)


def _as_far_as_the_seat(setup: Setup) -> Box:
    """Return the part of the room in which everything happens."""
    corners = setup.room.corners
    across, down = [x for x, _ in corners], [y for _, y in corners]
    behind_the_seat = setup.seat.from_front_mm + _BEHIND_THE_SEAT_MM
    return Box(min(across), min(down), max(across), min(max(down), behind_the_seat))


def _measured(status: CabinetStatus) -> Placement | None:
    return status.appraisal.measured if status.appraisal else None
