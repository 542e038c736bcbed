"""How well the pair stand as mirror images: left minus right, with what shared errors leave of it.

About the room's centre line the side error is that of the distances from the two side walls. About
the line through the seat it is that of how far inward the two stand from any one distance of that
line; both are positive when the left cabinet stands farther inward, and in a rectangle with the
seat in the middle they are one.

The zero and scale errors of the meter are the same in both cabinets' placements; because the
covariance is that of both together, they drop out of the differences by themselves.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.frame import reference_in_plan, side_frame
from witnessmark.geometry.verdict import Verdict, verdict, worst
from witnessmark.lengths import NOT_PRINTED_MM
from witnessmark.locate.arrival import arrival_us, level_db, path_mm, speed_of_sound_m_s
from witnessmark.locate.pose import Located
from witnessmark.locate.tilt import TiltSymmetry, tilt_symmetry
from witnessmark.model import (
    OF_CABINET,
    OF_PAIR,
    Mirror,
    Placement,
    Poses,
    Quantity,
    RoomKnown,
    Setup,
    Side,
    Tilt,
)
from witnessmark.model.pair import COVERAGE_FACTOR


class SymmetryError(msgspec.Struct, frozen=True):
    """Differences, left minus right: the left comes later or is louder where they are positive."""

    side_mm: float
    setback_mm: float
    toe_in_deg: float
    path_to_seat_mm: float
    arrival_us: float
    level_db: float


class SideGap(msgspec.Struct, frozen=True):
    """A side error about one mirror line, left minus right, and its expanded uncertainty, mm."""

    error_mm: float
    expanded_mm: float


class Symmetry(msgspec.Struct, frozen=True):
    """The symmetry error, its expanded uncertainty (k = 2), and what may be said of it.

    The side error is that about the line ``mirror``; ``other_side`` is that about the other line,
    None where the two are the same.
    """

    error: SymmetryError
    expanded: SymmetryError
    verdict: dict[Quantity, Verdict]
    """Of the placements, the path where the seat is known, and tilt where both are known."""
    mirror: Mirror = Mirror.ROOM
    other_side: SideGap | None = None
    tilt: TiltSymmetry | None = None

    @property
    def worst(self) -> Verdict:
        """The worst of the verdicts."""
        return worst(list(self.verdict.values()))

    def with_tilts(self, left: Tilt, right: Tilt, tolerance_deg: float) -> Symmetry:
        """Return the symmetry with that of both cabinets' tilts."""
        tilt = tilt_symmetry(left, right, tolerance_deg)
        verdicts = self.verdict | {Quantity.TILT: tilt.verdict}
        return msgspec.structs.replace(self, verdict=verdicts, tilt=tilt)


def symmetry(setup: Setup, located: Located | Poses) -> Symmetry:
    """Return the symmetry of a pair whose two placements were located together.

    Args:
        setup: room, seat, cabinets, tolerance; the seat and the room are taken as exact. Its mirror
            line is the one about which the side error is counted.
        located: both placements with their covariance, as located now or as kept.
    """
    mirror = setup.mirror
    left, right = located.placements[Side.LEFT], located.placements[Side.RIGHT]
    paths = [path_to_seat_mm(setup, side, located.placements[side]) for side in Side]
    path = paths[0] - paths[1]
    difference = left.minus(right)
    error = SymmetryError(
        _side_error(setup, located, mirror),
        difference.setback_mm,
        difference.toe_in_deg,
        path,
        arrival_us(path, setup.temperature_c),
        level_db(*paths),
    )
    jacobian = _jacobian(setup, located, paths, mirror)
    covariance = np.asarray(located.covariance)
    variances = np.einsum("ij,jk,ik->i", jacobian, covariance, jacobian).tolist()
    expanded = SymmetryError(*(_expanded(value) for value in variances))
    settled = isinstance(located, Poses) or located.settled
    return Symmetry(
        error,
        expanded,
        {
            quantity: verdict(
                quantity.of(error),
                quantity.of(expanded),
                quantity.tolerance(setup),
                settled=settled,
            )
            # nothing is said of the path to a seat that only stands in
            for quantity in (OF_PAIR if setup.known_of_room is RoomKnown.WHOLE else OF_CABINET)
        },
        mirror,
        _other_side(setup, located, mirror.other, error.side_mm),
    )


def path_to_seat_mm(setup: Setup, side: Side, placement: Placement) -> float:
    """Return the length of the straight path from a cabinet's acoustic height to the ears, mm."""
    reference = reference_in_plan(setup.room, side, placement)
    return path_mm(reference, setup.cabinets[side].acoustic_height_mm, setup.seat)


def _other_side(
    setup: Setup, located: Located | Poses, mirror: Mirror, side_mm: float
) -> SideGap | None:
    """The side error about this line, where it differs from ``side_mm``."""
    error = _side_error(setup, located, mirror)
    if abs(error - side_mm) < NOT_PRINTED_MM:
        return None
    left, right = (_inward_gradient(setup, side, mirror) for side in Side)
    gradient = np.concatenate((left, -right))
    variance = float(gradient @ np.asarray(located.covariance) @ gradient)
    return SideGap(error, _expanded(variance))


def _expanded(variance: float) -> float:
    """Return the expanded uncertainty (k = 2); a variance may be below 0 by rounding."""
    return COVERAGE_FACTOR * math.sqrt(max(variance, 0.0))


def _side_error(setup: Setup, located: Located | Poses, mirror: Mirror) -> float:
    left, right = (_inward_mm(setup, side, located.placements[side], mirror) for side in Side)
    return left - right


def _inward_mm(setup: Setup, side: Side, placement: Placement, mirror: Mirror) -> float:
    """How far inward a cabinet stands: from its side wall, or (below 0) from the seat's line."""
    if mirror is Mirror.ROOM:
        return placement.side_mm
    frame = side_frame(setup.room, side)
    return frame.reference(placement)[0] - frame.from_plan(setup.seat.plan)[0]


def _inward_gradient(setup: Setup, side: Side, mirror: Mirror) -> FloatArray:
    """Derivatives of the same by side, setback and toe-in."""
    if mirror is Mirror.ROOM:
        return np.array([1.0, 0.0, 0.0])
    frame = side_frame(setup.room, side)
    return np.array([frame.per_side, frame.per_setback, 0.0])


def _path_gradient(setup: Setup, side: Side, placement: Placement, path: float) -> FloatArray:
    """Derivatives of the path by side, setback and toe-in."""
    frame = side_frame(setup.room, side)
    reference, seat = frame.reference(placement), frame.from_plan(setup.seat.plan)
    by_along, by_out = (reference[0] - seat[0]) / path, (reference[1] - seat[1]) / path
    return np.array([by_along * frame.per_side, by_along * frame.per_setback + by_out, 0.0])


def _jacobian(
    setup: Setup, located: Located | Poses, paths: list[float], mirror: Mirror
) -> FloatArray:
    """(6, 6) derivatives of the symmetry error by both placements, in the order of its fields."""
    gradients = [
        _path_gradient(setup, side, located.placements[side], path)
        for side, path in zip(Side, paths, strict=True)
    ]
    inward = [_inward_gradient(setup, side, mirror) for side in Side]
    path_row = np.concatenate((gradients[0], -gradients[1]))
    per_mm = 1e3 / speed_of_sound_m_s(setup.temperature_c)
    decibel = -20 / math.log(10)
    level_row = np.concatenate((gradients[0] / paths[0], -gradients[1] / paths[1]))
    return np.vstack(
        (
            np.concatenate((inward[0], -inward[1])),
            np.hstack((np.eye(3), -np.eye(3)))[1:],
            path_row,
            path_row * per_mm,
            level_row * decibel,
        )
    )
