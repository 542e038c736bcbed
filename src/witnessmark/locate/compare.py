"""Where a pair stands now against where it stood then, and what the two measurings can see of it.

Differences are now minus then. The two measurings are taken as independent: their covariances are
added. That is right for two meters. With one meter, what its zero and scale do to shots at the same
walls is the same both times and would drop out; but a zero may drift between then and now, so this
is not counted upon, and the intervals are then wider than they need be. Only where the shots of
then and now went to opposite walls does the shared part add to the difference: what ``in_common``
works out from the shots is counted there, and only there.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import msgspec
import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.frame import side_frame
from witnessmark.locate.pose import Located
from witnessmark.locate.symmetry import path_to_seat_mm
from witnessmark.locate.tilt import tilt_symmetry
from witnessmark.model import Meter, Mirror, Pair, Placement, Poses, Setup, Side, Tilt, TouchPoint
from witnessmark.model.pair import COVERAGE_FACTOR

_STEP = 1e-3
"""Step of central differences, mm or degrees."""


class Change(msgspec.Struct, frozen=True):
    """Now minus then, with its expanded uncertainty (k = 2), mm or degrees."""

    amount: float
    expanded: float

    @property
    def seen(self) -> bool:
        """Whether that is more than the measuring can see: chance does it 4.55 % of the time."""
        return abs(self.amount) > self.expanded


class PointChange(msgspec.Struct, frozen=True):
    """How a foot or touch point moved, as a tape from its side wall and the front wall has it."""

    side_mm: Change
    setback_mm: Change


class CabinetChange(msgspec.Struct, frozen=True):
    """How one cabinet moved; its tilt is None where it was not taken both times.

    ``points`` are its own points and its feet, by name.
    """

    side_mm: Change
    setback_mm: Change
    toe_in_deg: Change
    tilt_deg: Change | None
    points: dict[str, PointChange]

    @property
    def seen(self) -> bool:
        """Whether any of its quantities moved by more than the measuring can see."""
        own = (self.side_mm, self.setback_mm, self.toe_in_deg, self.tilt_deg)
        return any(change is not None and change.seen for change in own)


class SymmetryChange(msgspec.Struct, frozen=True):
    """How left minus right changed; side is counted about the setup's mirror line."""

    side_mm: Change
    setback_mm: Change
    toe_in_deg: Change
    path_to_seat_mm: Change
    tilt_deg: Change | None


class Comparison(msgspec.Struct, frozen=True):
    """Both cabinets, and the symmetry of the two, now against then."""

    cabinets: Pair[CabinetChange]
    symmetry: SymmetryChange

    @property
    def seen(self) -> bool:
        """Whether a cabinet moved by more than the measuring can see.

        Each quantity is held to its own interval: of pairs that nobody touched, about one in five
        shows one of the six beyond it with two meters, one in ten with one meter.
        """
        return any(cabinet.seen for cabinet in self.cabinets)


def compare(setup: Setup, then: Poses, now: Poses, common: FloatArray | None = None) -> Comparison:
    """Return how the pair moved between two measurings.

    Args:
        setup: the room, seat, cabinets and mirror line of now.
        then: where the pair stood.
        now: where it stands.
        common: (6, 6) covariance between the two, of ``in_common``; it is counted only where it
            makes a difference less sure.
    """
    before, after = _vector(then), _vector(now)
    by_then, by_now = _jacobian(setup, before), _jacobian(setup, after)
    variance = np.einsum("ij,jk,ik->i", by_then, np.array(then.covariance), by_then)
    variance += np.einsum("ij,jk,ik->i", by_now, np.array(now.covariance), by_now)
    if common is not None:
        shared = np.einsum("ij,jk,ik->i", by_then, common, by_now)
        variance += np.maximum(-2 * shared, 0.0)
    amounts = (_figures(setup, after) - _figures(setup, before)).tolist()
    # by rounding a variance may be below 0
    expanded = (COVERAGE_FACTOR * np.sqrt(np.maximum(variance, 0.0))).tolist()
    changes = iter([Change(*pair) for pair in zip(amounts, expanded, strict=True)])
    left, right = (_cabinet(setup, side, then, now, changes) for side in Side)
    inward, setback, toe_in, path = changes
    apart = SymmetryChange(inward, setback, toe_in, path, _tilt_symmetry(then, now))
    return Comparison(Pair(left, right), apart)


def in_common(then: Located, now: Located, meter: Meter) -> FloatArray:
    """Return (6, 6) the covariance of two measurings with one meter, by its zero and scale.

    Rows are side mm, setback mm, toe-in degrees of the left, then of the right, as they were found
    then; columns as they were found now.
    """
    one, other = (_by_shared_errors(located, meter) for located in (then, now))
    common: FloatArray = one @ other.T
    return common


def _by_shared_errors(located: Located, meter: Meter) -> FloatArray:
    """(6, k) what one standard deviation of the meter's zero and scale each does to the poses."""
    adjustment, shots = located.adjustment, len(located.kinds)
    poses = len(located.covariance)
    sigma = [value for value in (meter.zero_mm, meter.scale_ppm) if value > 0]
    # basis @ inverse(back) is the weighted Jacobian; its rows below the shots are the priors'
    seen = adjustment.basis[:shots]
    by_error = np.linalg.solve(adjustment.back.T, seen.T).T[:, poses:]
    to_degrees = np.tile((1.0, 1.0, 180 / math.pi), poses // 3)
    moved = adjustment.back[:poses] @ seen.T @ by_error * np.array(sigma)
    in_degrees: FloatArray = moved * to_degrees[:, None]
    return in_degrees


def _vector(poses: Poses) -> FloatArray:
    """(6,) side mm, setback mm, toe-in degrees of the left, then of the right."""
    return np.array(
        [value for side in Side for value in msgspec.structs.astuple(poses.placements[side])]
    )


def _jacobian(setup: Setup, at: FloatArray) -> FloatArray:
    """(m, 6) derivatives of the figures by both placements."""
    ways = _STEP * np.eye(len(at))
    return np.column_stack(
        [(_figures(setup, at + way) - _figures(setup, at - way)) / (2 * _STEP) for way in ways]
    )


def _figures(setup: Setup, at: FloatArray) -> FloatArray:
    """(m,) what is compared: the quantities and points of each cabinet, then left minus right."""
    left, right = Placement(*at[:3].tolist()), Placement(*at[3:].tolist())
    values: list[float] = []
    for side, placement in ((Side.LEFT, left), (Side.RIGHT, right)):
        frame = side_frame(setup.room, side)
        values += msgspec.structs.astuple(placement)
        for point in _points(setup, side).values():
            values += frame.tape_distances(frame.point(placement, point))
    one, other = (_mirrored(setup, *each) for each in ((Side.LEFT, left), (Side.RIGHT, right)))
    return np.array([*values, *(a - b for a, b in zip(one, other, strict=True))])


def _points(setup: Setup, side: Side) -> dict[str, TouchPoint]:
    cabinet = setup.cabinets[side]
    return cabinet.body_points | cabinet.feet


def _mirrored(setup: Setup, side: Side, placement: Placement) -> tuple[float, ...]:
    """Return what would be the same of two mirror images."""
    inward = placement.side_mm
    if setup.mirror is Mirror.SEAT:
        inward = side_frame(setup.room, side).reference(placement)[0]
    path = path_to_seat_mm(setup, side, placement)
    return inward, placement.setback_mm, placement.toe_in_deg, path


def _cabinet(
    setup: Setup, side: Side, then: Poses, now: Poses, changes: Iterator[Change]
) -> CabinetChange:
    inward, setback, toe_in = (next(changes) for _ in range(3))
    points = {name: PointChange(next(changes), next(changes)) for name in _points(setup, side)}
    tilt = _tilt(then.tilts[side], now.tilts[side])
    return CabinetChange(inward, setback, toe_in, tilt, points)


def _tilt(then: Tilt | None, now: Tilt | None) -> Change | None:
    """The instrument's zero is not counted upon to be the same, as the meter's is not."""
    if then is None or now is None:
        return None
    expanded = math.hypot(then.expanded_deg, now.expanded_deg)
    return Change(now.tilt_deg - then.tilt_deg, expanded)


def _tilt_symmetry(then: Poses, now: Poses) -> Change | None:
    apart = []
    for poses in (then, now):
        left, right = poses.tilts.left, poses.tilts.right
        if left is None or right is None:
            return None
        apart.append(tilt_symmetry(left, right, 1.0))
    before, after = apart
    expanded = math.hypot(before.expanded_deg, after.expanded_deg)
    return Change(after.tilt_deg - before.tilt_deg, expanded)
