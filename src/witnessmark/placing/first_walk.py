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
from witnessmark.model import ShotKind
from witnessmark.placing.cabinet_work import CabinetWork

_TOE_INS: FloatArray = np.radians(np.arange(-45.0, 61.0, 5.0))
"""Toe-ins at which a cabinet may be found, radians; common practice, no source."""
_FINER: FloatArray = np.radians(np.delete(np.arange(-4.0, 5.0), 4))
"""Steps about the likeliest of them, radians: half a degree moves no corner by ten millimetres."""
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
    model = shot_model(work.setup, (*(shot.kind for shot in shots), kind))
    read_mm = np.array([shot.reading_mm for shot in shots])
    count, sigma_mm = len(shots), work.setup.meter.shot_sigma_mm

    def at(toe_in: float) -> tuple[float, float] | None:
        """How badly the shots fit at a toe-in, and what the other reads there; None where open."""
        unknowns = np.zeros(model.unknowns)
        unknowns[:3] = work.belief.side_mm, work.belief.setback_mm, toe_in
        predicted, jacobian = model(unknowns)
        by_place, wanted = jacobian[:count, :2], jacobian[count, :2]
        inverse = np.linalg.pinv(by_place)  # shots to walls are linear in side and setback
        if float(np.abs(wanted - wanted @ inverse @ by_place).max()) > _IN_SIGHT:
            return None
        off = read_mm - predicted[:count]
        move = inverse @ off
        left_over = (off - by_place @ move) / sigma_mm
        return float(left_over @ left_over), float(predicted[count] + wanted @ move)

    found = {float(toe_in): at(float(toe_in)) for toe_in in _TOE_INS}
    likely = {toe_in: one for toe_in, one in found.items() if one is not None}
    if len(likely) < len(found):
        return None
    near = min(likely, key=lambda toe_in: likely[toe_in][0])
    finer = [at(near + float(step)) for step in _FINER]
    both = [*likely.values(), *(one for one in finer if one is not None)]
    best = min(misfit for misfit, _ in both)
    readings = [reading for misfit, reading in both if misfit <= best + _AS_LIKELY]
    return ReadingRange(min(readings), max(readings))


def farthest_mm(work: CabinetWork) -> float:
    """Return the longest distance that there is in the room, mm."""
    corners = work.setup.room.corners
    return max(math.dist(one, other) for one in corners for other in corners)
