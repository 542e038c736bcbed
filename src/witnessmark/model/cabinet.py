"""One cabinet: its size, the points that a meter can be held to, its feet, and where it stands."""

from __future__ import annotations

from typing import Self

import msgspec

from witnessmark.errors import BadInput

BOX_POINTS = ("front-inner", "front-outer", "rear-inner", "rear-outer")
"""The touch points that every box has: the four lower corners."""


class TouchPoint(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A point of a cabinet, mm from the reference point (middle of the baffle's lower edge).

    ``inward_mm`` is positive toward the other cabinet, ``back_mm`` positive from the baffle to the
    rear.
    """

    inward_mm: float
    back_mm: float


class Cabinet(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The size of one cabinet, mm, its own touch points and where its feet are.

    The acoustic height is that of the point on the baffle to which the listener's path is counted.
    Without ``feet`` the four lower corners are taken.

    Raises:
        BadInput: when a size is not positive.
    """

    width_mm: float
    depth_mm: float
    acoustic_height_mm: float | None = None
    points: dict[str, TouchPoint] = {}
    feet: dict[str, TouchPoint] = {}

    def __post_init__(self) -> None:
        for name, value in (("width", self.width_mm), ("depth", self.depth_mm)):
            if not 20 <= value <= 3000:
                raise BadInput(f"cabinet.{name}: {value:g} mm must lie between 20 mm and 3 m")

    def __hash__(self) -> int:
        # the dicts have no hash; cabinets that differ in them alone are told apart by ==
        return hash((self.width_mm, self.depth_mm))

    @property
    def touch_points(self) -> dict[str, TouchPoint]:
        """Every point a meter can be held to, by name: the box's four and the cabinet's own."""
        half = self.width_mm / 2
        corners = {
            "front-inner": TouchPoint(half, 0.0),
            "front-outer": TouchPoint(-half, 0.0),
            "rear-inner": TouchPoint(half, self.depth_mm),
            "rear-outer": TouchPoint(-half, self.depth_mm),
        }
        return corners | self.points

    @property
    def standing_points(self) -> dict[str, TouchPoint]:
        """Where the cabinet meets the floor, by name."""
        if self.feet:
            return self.feet
        points = self.touch_points
        return {name: points[name] for name in BOX_POINTS}


class Placement(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Where a cabinet's reference point stands in its side frame, and how it is turned.

    ``side_mm`` is measured from the cabinet's own side wall inward, ``setback_mm`` from the front
    wall; ``toe_in_deg`` is positive when the baffle turns toward the other cabinet, 0 when it faces
    straight away from the front wall.
    """

    side_mm: float
    setback_mm: float
    toe_in_deg: float

    def minus(self, other: Self) -> Placement:
        """This placement less ``other``, quantity by quantity."""
        return Placement(
            self.side_mm - other.side_mm,
            self.setback_mm - other.setback_mm,
            self.toe_in_deg - other.toe_in_deg,
        )
