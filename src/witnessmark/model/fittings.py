"""What stands proud of a wall, and what floor is to be kept clear."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import ClassVar, Self

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import FITTING_HEIGHT, MOST_CORNERS, ON_PLAN, PROUD, Limit
from witnessmark.model.plan import PlanPoint, Wall, edges_cross


class WallOffset(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A skirting board, radiator or panel: how far it stands proud of a wall, between two heights.

    Raises:
        BadInput: when it does not stand proud, or its heights leave nothing between them.
    """

    wall: Wall
    proud_mm: float
    from_height_mm: float
    to_height_mm: float

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "proud_mm": PROUD,
        "from_height_mm": FITTING_HEIGHT,
        "to_height_mm": FITTING_HEIGHT,
    }

    def __post_init__(self) -> None:
        if not PROUD.admits(self.proud_mm):
            raise BadInput(
                f"offsets: {self.proud_mm:g} mm out from the {self.wall} wall must lie above 0, "
                "to 2 m"
            )
        if not (
            FITTING_HEIGHT.admits(self.from_height_mm)
            and FITTING_HEIGHT.admits(self.to_height_mm)
            and self.from_height_mm < self.to_height_mm
        ):
            raise BadInput(
                f"offsets: what sticks out from the {self.wall} wall from "
                f"{self.from_height_mm:g} mm to {self.to_height_mm:g} mm must reach from a "
                "height of 0 or more to a greater one, up to 20 m"
            )

    def reaches(self, height_mm: float) -> bool:
        """Return whether a level beam at this height above the floor meets it."""
        return self.from_height_mm <= height_mm <= self.to_height_mm


class KeepClear(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Floor where nothing may stand: a door's swing, a hearth, a walkway.

    ``corners`` go round it in either direction; their outline may be bent but must not cross
    itself.

    Raises:
        BadInput: when it has no name, too many corners, or they enclose no floor.
    """

    name: str
    corners: tuple[PlanPoint, ...]

    LIMITS: ClassVar[Mapping[str, Limit]] = {"corners": ON_PLAN}

    def __post_init__(self) -> None:
        if not self.name.strip() or not self.name.isprintable():
            raise BadInput('keep_clear: every zone needs a name such as "door swing"')
        if not all(ON_PLAN.admits(value) for corner in self.corners for value in corner):
            raise BadInput(f'keep_clear: a corner of "{self.name}" is more than 100 m away')
        if len(self.corners) > MOST_CORNERS:
            raise BadInput(
                f'keep_clear: "{self.name}" has {len(self.corners)} corners; give {MOST_CORNERS} '
                "at most"
            )
        if len(set(self.corners)) < 3 or self.area_mm2 < 100:
            raise BadInput(
                f'keep_clear: "{self.name}" encloses no floor; give three or more corners that go '
                "round it"
            )
        if self._crosses_itself():
            raise BadInput(
                f'keep_clear: the outline of "{self.name}" crosses itself; give its corners in '
                "the order in which they go round it"
            )

    @classmethod
    def rectangle(
        cls, name: str, from_left_mm: tuple[float, float], from_front_mm: tuple[float, float]
    ) -> Self:
        """Return a zone between two distances each from the left and the front of the plan."""
        (x0, x1), (y0, y1) = from_left_mm, from_front_mm
        return cls(name, ((x0, y0), (x1, y0), (x1, y1), (x0, y1)))

    @property
    def edges(self) -> tuple[tuple[PlanPoint, PlanPoint], ...]:
        """Each corner with the next, the last with the first."""
        return tuple(zip(self.corners, self.corners[1:] + self.corners[:1], strict=True))

    @property
    def area_mm2(self) -> float:
        """Area that the outline encloses."""
        return abs(math.fsum(_cross(*edge) for edge in self.edges)) / 2

    @property
    def reach_mm(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """How far it reaches, from and to: from the plan's left and from its front."""
        across, down = [x for x, _ in self.corners], [y for _, y in self.corners]
        return (min(across), max(across)), (min(down), max(down))

    def _crosses_itself(self) -> bool:
        # from left to right, so that few edges are held against each other: a file may have
        # thousands of such zones
        boxes = sorted(
            (min(x0, x1), max(x0, x1), min(y0, y1), max(y0, y1), ((x0, y0), (x1, y1)))
            for (x0, y0), (x1, y1) in self.edges
        )
        for place, (_, right, top, bottom, edge) in enumerate(boxes, start=1):
            for left, _, other_top, other_bottom, other in boxes[place:]:
                if left > right:
                    break
                if other_top <= bottom and top <= other_bottom and edges_cross(edge, other):
                    return True
        return False


def _cross(first: PlanPoint, second: PlanPoint) -> float:
    return first[0] * second[1] - first[1] * second[0]
