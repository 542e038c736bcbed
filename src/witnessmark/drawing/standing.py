"""The plan of a round under way: where the pair is to stand, and where it was measured."""

from __future__ import annotations

from witnessmark.drawing.plan import plan_drawing
from witnessmark.drawing.strokes import Box, Drawing
from witnessmark.model import Pair, Placement, Setup
from witnessmark.placing.guidance import CabinetStatus

_BEHIND_THE_SEAT_MM = 600.0


def standing_plan(setup: Setup, cabinets: Pair[CabinetStatus]) -> tuple[Drawing, Box]:
    """Room, seat, targets and where each cabinet is known to stand, and the part that matters."""
    drawing = plan_drawing(
        setup.room,
        seat=setup.seat,
        cabinets=setup.cabinets,
        targets=setup.targets,
        measured=Pair(_measured(cabinets.left), _measured(cabinets.right)),
    )
    return drawing, _as_far_as_the_seat(setup)


def _as_far_as_the_seat(setup: Setup) -> Box:
    """The part of the room in which everything happens."""
    corners = setup.room.corners
    across, down = [x for x, _ in corners], [y for _, y in corners]
    behind_the_seat = setup.seat.from_front_mm + _BEHIND_THE_SEAT_MM
    return Box(min(across), min(down), max(across), min(max(down), behind_the_seat))


def _measured(status: CabinetStatus) -> Placement | None:
    return status.appraisal.measured if status.appraisal else None
