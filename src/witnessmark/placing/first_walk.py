"""What the shots so far say of those to come, of a cabinet that may stand anywhere.

On a first walk nothing is expected. Each shot to a wall that is accepted narrows what others to
that wall can read: by the cabinet's size as long as its toe-in is open, and to a few millimetres
once two shots have told that.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.locate.observe import shot_model
from witnessmark.model import Shot, ShotKind
from witnessmark.placing.cabinet_work import CabinetWork

_TOE_INS: FloatArray = np.radians(np.arange(-45.0, 61.0))
"""Toe-ins at which a cabinet may be found, radians; common practice, no source."""
_AS_LIKELY = 25.0
"""Chi-square by which a toe-in may fit the shots less well than the best: five standard deviations.
"""
_IN_SIGHT = 1e-6
"""Part of a shot's derivatives below which the other shots tell all of it."""


class ReadingRange(NamedTuple):
    """Between which readings a shot lies by the shots so far, mm."""

    least_mm: float
    most_mm: float


def range_so_far(work: CabinetWork, kind: ShotKind) -> ReadingRange | None:
    """Return between which readings a shot lies by the shots so far; None where that is open."""
    shots = tuple(shot for shot in work.shots if shot.kind.held.is_to_wall)
    if not shots or not kind.held.is_to_wall:
        return None
    found = [_at(work, shots, kind, float(toe_in)) for toe_in in _TOE_INS]
    if None in found:
        return None
    likely = [one for one in found if one is not None]
    best = min(misfit for misfit, _ in likely)
    readings = [reading for misfit, reading in likely if misfit <= best + _AS_LIKELY]
    return ReadingRange(min(readings), max(readings))


def _at(
    work: CabinetWork, shots: tuple[Shot, ...], kind: ShotKind, toe_in: float
) -> tuple[float, float] | None:
    """How badly the shots fit at a toe-in, and what another shot reads there; None where open."""
    model = shot_model(work.setup, (*(shot.kind for shot in shots), kind))
    unknowns = np.zeros(model.unknowns)
    unknowns[:3] = work.belief.side_mm, work.belief.setback_mm, toe_in
    predicted, jacobian = model(unknowns)
    count = len(shots)
    by_place = jacobian[:count, :2]  # shots to walls are linear in side and setback
    inverse = np.linalg.pinv(by_place)
    wanted = jacobian[count, :2]
    if float(np.abs(wanted - wanted @ inverse @ by_place).max()) > _IN_SIGHT:
        return None
    off = np.array([shot.reading_mm for shot in shots]) - predicted[:count]
    move = inverse @ off
    left_over = (off - by_place @ move) / work.setup.meter.shot_sigma_mm
    return float(left_over @ left_over), float(predicted[count] + wanted @ move)


def farthest_mm(work: CabinetWork) -> float:
    """Return the longest distance that there is in the room, mm."""
    corners = work.setup.room.corners
    return max(math.dist(one, other) for one in corners for other in corners)
