"""One cabinet: its size, the points that a meter can be held to, its feet, and where it stands."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Self

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import (
    ACOUSTIC_HEIGHT,
    CABINET_SIZE,
    FROM_BAFFLE,
    METER_HEIGHT,
    STRAIGHTEDGE,
    TOE_IN,
    Limit,
)
from witnessmark.model.thread import pitch_mm

BOX_POINTS = ("front-inner", "front-outer", "rear-inner", "rear-outer")
"""The touch points that every box has: the four lower corners."""
STRAIGHTEDGE_POINTS = ("straightedge-inner", "straightedge-outer")
"""The touch points that a straightedge across the baffle adds: its two ends."""
STRAIGHTEDGE_REACH_MM = 30.0
"""Length of straightedge past each side, mm, so that a beam passes beside the cabinet."""


class TouchPoint(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A point of a cabinet, mm from the reference point (middle of the baffle's lower edge).

    ``inward_mm`` is positive toward the other cabinet, ``back_mm`` positive from the baffle to the
    rear, ``height_mm`` that above the floor.
    """

    inward_mm: float
    back_mm: float
    height_mm: float = 0.0

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "inward_mm": FROM_BAFFLE,
        "back_mm": FROM_BAFFLE,
        "height_mm": METER_HEIGHT,
    }


class Cabinet(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The size of one cabinet, mm, its own touch points and where its feet are.

    The acoustic height is that of the point on the baffle to which the listener's path is counted.
    Without ``feet`` the four lower corners are taken; ``thread`` is that of their spikes, such as
    ``M8`` or ``1/4-20``. A box that tapers names its ``rear-inner`` and ``rear-outer`` where they
    are. ``straightedge_mm`` is the length of a straightedge that is held across the baffle,
    centred, so that its ends are touch points too.

    Raises:
        BadInput: when a size is not positive, the thread is not known, or the straightedge does not
            reach past the baffle on both sides.
    """

    width_mm: float
    depth_mm: float
    acoustic_height_mm: float | None = None
    points: dict[str, TouchPoint] = {}
    feet: dict[str, TouchPoint] = {}
    thread: str | None = None
    straightedge_mm: float | None = None

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "width_mm": CABINET_SIZE,
        "depth_mm": CABINET_SIZE,
        "acoustic_height_mm": ACOUSTIC_HEIGHT,
        "straightedge_mm": STRAIGHTEDGE,
    }

    def __post_init__(self) -> None:
        CABINET_SIZE.check("cabinet.width", self.width_mm)
        CABINET_SIZE.check("cabinet.depth", self.depth_mm)
        if self.thread is not None:
            pitch_mm(self.thread)
        if self.straightedge_mm is not None:
            least = self.width_mm + 2 * STRAIGHTEDGE_REACH_MM
            if not least <= self.straightedge_mm <= STRAIGHTEDGE.most:
                raise BadInput(
                    f"cabinet.straightedge: {self.straightedge_mm:g} mm must lie between "
                    f"{least:g} mm, to reach past the baffle on both sides, and 4 m"
                )

    def __hash__(self) -> int:
        # the dicts have no hash; cabinets that differ in them alone are told apart by ==
        return hash((self.width_mm, self.depth_mm))

    @property
    def body_points(self) -> dict[str, TouchPoint]:
        """The touch points that are part of the cabinet: the box's four and the cabinet's own."""
        half = self.width_mm / 2
        corners = {
            "front-inner": TouchPoint(half, 0.0),
            "front-outer": TouchPoint(-half, 0.0),
            "rear-inner": TouchPoint(half, self.depth_mm),
            "rear-outer": TouchPoint(-half, self.depth_mm),
        }
        return corners | self.points

    @property
    def touch_points(self) -> dict[str, TouchPoint]:
        """Every point a meter can be held to, by name: the cabinet's and the straightedge's ends.

        The ends are those of the face that lies on the baffle.
        """
        if self.straightedge_mm is None:
            return self.body_points
        half = self.straightedge_mm / 2
        ends = (TouchPoint(half, 0.0), TouchPoint(-half, 0.0))
        return self.body_points | dict(zip(STRAIGHTEDGE_POINTS, ends, strict=True))

    @property
    def standing_points(self) -> dict[str, TouchPoint]:
        """Where the cabinet meets the floor, by name."""
        if self.feet:
            return self.feet
        points = self.body_points
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

    LIMITS: ClassVar[Mapping[str, Limit]] = {"toe_in_deg": TOE_IN}

    def minus(self, other: Self) -> Placement:
        """Return this placement less ``other``, quantity by quantity."""
        return Placement(
            self.side_mm - other.side_mm,
            self.setback_mm - other.setback_mm,
            self.toe_in_deg - other.toe_in_deg,
        )
