"""What was varied between two positions, with the tolerance as the measure.

The pair is taken as one thing: its setback, half its base, its toe-in and its tilt, each the mean
of both cabinets, and half of what the two differ by.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from witnessmark.geometry.frame import side_frame
from witnessmark.layout.mirror import Stance
from witnessmark.model import Mirror, Pair, Placement, Setup, Side, Tolerance, Trial, Varied

STAGES = (Varied.STATION, Varied.SPREAD, Varied.TOE_IN, Varied.TILT)
"""What there is to vary, in the order in which it is varied."""


class PairPose(NamedTuple):
    """Where a pair stands and how it leans, degrees, where that is known."""

    placements: Pair[Placement]
    tilts_deg: Pair[float | None]


def wanted(trial: Trial) -> PairPose:
    """Return where the pair was to stand."""
    return PairPose(trial.targets, trial.tilt_targets_deg)


def found(trial: Trial) -> PairPose:
    """Return where it stood, as well as it is known."""
    if trial.measured is None:
        return wanted(trial)
    tilts = trial.measured.tilts

    def tilt(side: Side) -> float | None:
        taken = tilts[side]
        return trial.tilt_targets_deg[side] if taken is None else taken.tilt_deg

    return PairPose(trial.standing, Pair(tilt(Side.LEFT), tilt(Side.RIGHT)))


def varied(setup: Setup, one: PairPose, other: PairPose) -> Varied:
    """Return what was varied from one pose of the pair to another.

    A quantity that differs by more than its tolerance was varied; several of them, or cabinets that
    did not go as mirror images, count as the person's own position (``PLACE``). A tilt that is not
    known both times counts as left alone.
    """
    limits = _limits(setup.tolerance)
    if any(_beyond(_apart(setup, one), _apart(setup, other), limits)):
        return Varied.PLACE
    beyond = _beyond(_together(setup, one), _together(setup, other), limits)
    moved = [what for what, far in zip(STAGES, beyond, strict=True) if far]
    if len(moved) > 1:
        return Varied.PLACE
    return moved[0] if moved else Varied.NOTHING


def _limits(tolerance: Tolerance) -> Sequence[float]:
    position = tolerance.position_mm
    return position, position, tolerance.toe_in_deg, tolerance.tilt_deg


def _beyond(
    before: Sequence[float | None], after: Sequence[float | None], limits: Sequence[float]
) -> list[bool]:
    return [
        one is not None and other is not None and abs(other - one) > most
        for one, other, most in zip(before, after, limits, strict=True)
    ]


def _together(setup: Setup, posture: PairPose) -> Sequence[float | None]:
    base, setback, toe_in = stance(setup, posture.placements)
    return setback, base / 2, toe_in, mean_tilt(posture)


def _apart(setup: Setup, posture: PairPose) -> Sequence[float | None]:
    left, right = posture.placements
    inward = [_inward_mm(setup, side, posture.placements[side]) for side in Side]
    one, other = posture.tilts_deg
    return (
        (left.setback_mm - right.setback_mm) / 2,
        (inward[0] - inward[1]) / 2,
        (left.toe_in_deg - right.toe_in_deg) / 2,
        None if one is None or other is None else (one - other) / 2,
    )


def _inward_mm(setup: Setup, side: Side, placement: Placement) -> float:
    """Return how far inward a cabinet stands, by the line about which the two are mirror images."""
    if setup.mirror is Mirror.ROOM:
        return placement.side_mm
    frame = side_frame(setup.room, side)
    return frame.reference(placement)[0] - frame.from_plan(setup.seat.plan)[0]


def stance(setup: Setup, placements: Pair[Placement]) -> Stance:
    """Return the pair as one: its base along the front wall, and mean setback and toe-in."""
    left, right = placements
    along = (side_frame(setup.room, side).reference(placements[side])[0] for side in Side)
    return Stance(
        setup.room.width_mm - sum(along),
        (left.setback_mm + right.setback_mm) / 2,
        (left.toe_in_deg + right.toe_in_deg) / 2,
    )


def mean_tilt(posture: PairPose) -> float | None:
    """Return the tilt of the pair, degrees; None where that of either is not known."""
    left, right = posture.tilts_deg
    return None if left is None or right is None else (left + right) / 2
