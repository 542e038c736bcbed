"""The part of a line that lies in a rectangle."""

from __future__ import annotations

from witnessmark.drawing.strokes import Box
from witnessmark.model import PlanPoint


def clipped(start: PlanPoint, end: PlanPoint, box: Box) -> tuple[PlanPoint, PlanPoint] | None:
    """The part of a line in a box, from its start on; None where there is none.

    By the way of Liang and Barsky, so that ends far away cost nothing.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    first, last = 0.0, 1.0
    for step, room in (
        (-dx, start[0] - box.left),
        (dx, box.right - start[0]),
        (-dy, start[1] - box.top),
        (dy, box.bottom - start[1]),
    ):
        if step == 0 and room < 0:
            return None
        if step < 0:
            first = max(first, room / step)
        elif step > 0:
            last = min(last, room / step)
    if first > last:
        return None
    return (
        (start[0] + first * dx, start[1] + first * dy),
        (start[0] + last * dx, start[1] + last * dy),
    )
