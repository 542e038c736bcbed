"""What the shots so far say of those to come, of a cabinet that may stand anywhere.

On a first walk nothing is expected. Each shot to a wall that is accepted narrows what others to
that wall can read: by the cabinet's size as long as its toe-in is open, and to a few millimetres
once two shots have told that.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from witnessmark.geometry.adjust import FloatArray
from witnessmark.locate.observe import shot_model
from witnessmark.model import Setup, Shot, ShotKind
from witnessmark.placing.cabinet_work import CabinetWork

BoolArray = NDArray[np.bool_]

_TOE_INS: FloatArray = np.radians(np.arange(-45.0, 61.0, 5.0))
"""Toe-ins at which a cabinet may be found, radians; common practice, no source."""
_FINER: FloatArray = np.radians(np.delete(np.arange(-4.0, 5.0), 4))
"""Steps about the likeliest of them, radians: half a degree moves no corner by ten millimetres."""
_AS_LIKELY = 25.0
"""Chi-square by which a toe-in may fit the shots less well than the best: five standard deviations.
"""
_ALIKE = 1e-6
"""Chi-square, and part of it, by which two toe-ins that fit alike may differ by rounding."""
_IN_SIGHT = 1e-6
"""Part of a shot's derivatives below which the other shots tell all of it."""


class ReadingRange(NamedTuple):
    """Between which readings a shot lies by the shots so far, mm."""

    least_mm: float
    most_mm: float


class _ToeInFits(NamedTuple):
    """How the shots so far fit at each of some toe-ins (n,), radians."""

    toe_ins: FloatArray
    misfit: FloatArray
    """(n,) chi-square at the best place."""
    place: FloatArray
    """(n, 2) side and setback that fit best, mm."""
    told: FloatArray
    """(n, 2, 2) projection on what of side and setback the shots tell."""

    def readings(self, setup: Setup, kind: ShotKind) -> tuple[FloatArray, BoolArray]:
        """Return what another shot reads at each toe-in, mm, and whether the shots tell that."""
        factors, at_corner = shot_model(setup, (kind,)).to_walls.turned(self.toe_ins)
        loose = np.abs(factors - factors @ self.told).max(axis=(1, 2))
        reading: FloatArray = at_corner[:, 0] + (factors[:, 0] * self.place).sum(axis=1)
        return reading, loose <= _IN_SIGHT


def range_so_far(work: CabinetWork, kind: ShotKind) -> ReadingRange | None:
    """Return between which readings a shot lies by the shots so far; None where that is open."""
    shots = tuple(shot for shot in work.shots if shot.kind.held.is_to_wall)
    if not shots or not kind.held.is_to_wall:
        return None
    fit = _fit_all(work.setup, shots)
    readings, is_told = fit.readings(work.setup, kind)
    if not is_told[: len(_TOE_INS)].all():
        return None
    misfit = fit.misfit[is_told]
    likely = readings[is_told][misfit <= misfit.min() + _AS_LIKELY]
    return ReadingRange(float(likely.min()), float(likely.max()))


# after each reading every open shot is asked for
@lru_cache(maxsize=8)
def _fit_all(setup: Setup, shots: tuple[Shot, ...]) -> _ToeInFits:
    """Return how the shots fit at all toe-ins, then at the finer steps about the likeliest."""
    coarse = _fit(setup, shots, _TOE_INS)
    # of toe-ins that fit alike the least turned, so that rounding does not decide
    alike = coarse.misfit <= coarse.misfit.min() * (1 + _ALIKE) + _ALIKE
    near = min(_TOE_INS[alike].tolist(), key=abs)
    finer = _fit(setup, shots, near + _FINER)
    return _ToeInFits(*(np.concatenate(both) for both in zip(coarse, finer, strict=True)))


def _fit(setup: Setup, shots: tuple[Shot, ...], toe_ins: FloatArray) -> _ToeInFits:
    factors, at_corner = shot_model(setup, tuple(shot.kind for shot in shots)).to_walls.turned(
        toe_ins
    )
    inverse = np.linalg.pinv(factors)
    off = np.array([shot.reading_mm for shot in shots]) - at_corner
    place = (inverse @ off[:, :, None])[:, :, 0]
    left_over = (off - (factors @ place[:, :, None])[:, :, 0]) / setup.meter.shot_sigma_mm
    return _ToeInFits(toe_ins, (left_over * left_over).sum(axis=1), place, inverse @ factors)


def farthest_mm(work: CabinetWork) -> float:
    """Return the longest distance that there is in the room, mm."""
    corners = work.setup.room.corners
    return max(math.dist(one, other) for one in corners for other in corners)
