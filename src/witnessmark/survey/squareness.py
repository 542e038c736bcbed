"""How far a room is from a rectangle, and whether that matters for a pair.

A pair can stand as mirror images about the line square to the front wall, or so that both are as
far from their own side walls. In a rectangle that is one thing. Elsewhere the two differ by what
the side walls lean between the front wall and the cabinets.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.verdict import Verdict, verdict
from witnessmark.model import Corner, Room, Setup, Side, Tolerance, Wall
from witnessmark.model.pair import COVERAGE_FACTOR
from witnessmark.survey.corners import Plan, Points, Scalar, ends_of, place_of

_HARDLY_DEG = 0.005
"""Angle that is not printed, degrees."""


class CornerAngle(msgspec.Struct, frozen=True):
    """How far a corner is out of square, with expanded uncertainty (k = 2).

    ``over_deg`` is the angle inside the room less 90 degrees. ``lean_mm`` is the same over the
    length of the side wall: how far its other end leans out of the room from the line square to the
    front or back wall.
    """

    corner: Corner
    over_deg: float
    expanded_deg: float
    lean_mm: float
    expanded_mm: float

    @property
    def is_told(self) -> bool:
        """Whether the measuring can tell the corner from a square one."""
        return abs(self.over_deg) > max(self.expanded_deg, _HARDLY_DEG)


class MirrorGap(msgspec.Struct, frozen=True):
    """What symmetry about the room's side walls differs from that about the front wall's normal.

    A pair that stands as mirror images about the line square to the front wall from its middle has
    the symmetry error ``side_mm`` (left minus right), with expanded uncertainty (k = 2).
    """

    setback_mm: float
    side_mm: float
    expanded_mm: float
    tolerance_mm: float
    verdict: Verdict
    """Whether it is within the position tolerance: ``in`` means that it does not matter."""


def corner_angles(room: Room, covariance: FloatArray | None = None) -> dict[Corner, CornerAngle]:
    """Return how far each corner is out of square.

    Args:
        room: its four corners.
        covariance: (8, 8) of x and y of the corners; without it they are taken as exact.
    """
    plan = Plan(room.corners)
    return {corner: _corner_angle(plan, corner, covariance) for corner in Corner}


def mirror_gap(
    room: Room,
    tolerance: Tolerance,
    setback_mm: float,
    base_mm: float,
    covariance: FloatArray | None = None,
) -> MirrorGap:
    """Return what the choice of the mirror line changes for a pair, and whether that matters.

    Args:
        room: its four corners.
        tolerance: what the pair is held to.
        setback_mm: of both reference points from the front wall.
        base_mm: between the two reference points.
        covariance: (8, 8) of x and y of the corners; without it they are taken as exact.
    """
    plan = Plan(room.corners)
    left, right = (_mirrored(plan, side, setback_mm, base_mm) for side in Side)
    gap = plan.height(left, *ends_of(Wall.LEFT)).minus(plan.height(right, *ends_of(Wall.RIGHT)))
    side_mm, expanded, position = (
        float(gap.value),
        _expanded(gap, covariance),
        tolerance.position_mm,
    )
    found = verdict(side_mm, expanded, position)
    return MirrorGap(setback_mm, side_mm, expanded, position, found)


def pair_gap(setup: Setup, covariance: FloatArray | None = None) -> MirrorGap | None:
    """Return what that is for the pair on its targets; None while these are not chosen."""
    left, right = setup.targets.left, setup.targets.right
    if left is None or right is None:
        return None
    setback = (left.setback_mm + right.setback_mm) / 2
    base = setup.room.width_mm - left.side_mm - right.side_mm
    return mirror_gap(setup.room, setup.tolerance, setback, base, covariance)


def _corner_angle(plan: Plan, corner: Corner, covariance: FloatArray | None) -> CornerAngle:
    at, around = place_of(corner), [ends_of(wall) for wall in corner.walls]
    front_or_back, beside = (plan.along(at, sum(ends) - at) for ends in around)
    # the cross product of the two, whose sign is the way round in which they come
    turn, reach = front_or_back.turned().dot(beside), front_or_back.dot(beside)
    by = (reach.value * turn.by - turn.value * reach.by) / (turn.value**2 + reach.value**2)
    angle = Scalar(np.arctan2(np.abs(turn.value), reach.value), by)
    lean = front_or_back.unit().dot(beside)
    return CornerAngle(
        corner,
        math.degrees(angle.value) - 90.0,
        math.degrees(_expanded(angle, covariance)),
        -float(lean.value),
        _expanded(lean, covariance),
    )


def _mirrored(plan: Plan, side: Side, setback_mm: float, base_mm: float) -> Points:
    """Where a cabinet's reference point stands, as mirror image about the front wall's normal."""
    left, right = ends_of(Wall.FRONT)
    front = plan.along(left, right)
    middle = plan.corner(left).plus(front, 0.5)
    outward = -base_mm / 2 if side is Side.LEFT else base_mm / 2
    return middle.plus(front.unit(), outward).plus(plan.inward(left, right), setback_mm)


def _expanded(value: Scalar, covariance: FloatArray | None) -> float:
    if covariance is None:
        return 0.0
    # rounding may leave a hair below 0 of what has no uncertainty
    return COVERAGE_FACTOR * math.sqrt(max(0.0, float(value.by @ covariance @ value.by)))
