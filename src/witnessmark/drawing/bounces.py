"""Where the side walls reflect the cabinets to the seat first, marked on them."""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.acoustics.bounces import bounces
from witnessmark.acoustics.scene import Scene
from witnessmark.drawing.room import between, inward
from witnessmark.drawing.strokes import Ink, Label, Stroke
from witnessmark.geometry.frame import reference_in_plan
from witnessmark.model import PlanPoint, Wall

_LEG_SHARE = 0.06
"""Part of the room's width that a mark reaches along the path, to the cabinet and to the seat."""
_ASIDE_SHARE = 0.15
"""Part of the room's width by which a name stands off the wall."""
_SIDE_WALLS = (Wall.LEFT, Wall.RIGHT)


def bounce_marks(scene: Scene) -> Iterator[tuple[Stroke, Label]]:
    """The bend of each path by way of a side wall, and whose it is; none where no wall is.

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
    """So far from one point toward another, and no farther than that."""
    return between(start, end, by_mm / max(by_mm, math.dist(start, end)))
