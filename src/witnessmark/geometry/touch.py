"""Where a point of a cabinet is, from what a tape finds of it.

A tape gives the distance of the point from one of the four upright planes of the box, or its
straight distance from a point that is known already. Two readings fix the point, more check one
another. Readings from corners alone leave open on which side of them the point is; that is said,
and not guessed.
"""

from __future__ import annotations

import enum
import itertools
import math
from collections.abc import Sequence

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import (
    CRITICAL_STANDARDISED_RESIDUAL,
    Adjustment,
    FloatArray,
    adjust,
)
from witnessmark.lengths import Units, format_length
from witnessmark.model import Cabinet, TouchPoint
from witnessmark.model.pair import COVERAGE_FACTOR

TAPE_SIGMA_MM = 1.0
"""Standard uncertainty of one reading of a tape held to a cabinet; common practice, no source."""

_NOT_FIXED = (
    "these readings do not fix the point, or contradict one another; add one from another side, "
    "such as from the baffle or from the inner side"
)
_SAME_MM = 2.0
"""Distance, mm, below which two fits are one place."""
_AS_GOOD = 9.0
"""Chi-square above that of the best fit within which another fits as well (3 sigma)."""


class Face(enum.StrEnum):
    """The four upright planes of the box that a tape can be laid square to."""

    BAFFLE = "baffle"
    REAR = "rear face"
    INNER = "inner side"
    OUTER = "outer side"


class TapeReading(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One distance of the point that is looked for.

    From a face: square to its plane, positive into the box, negative for a point that stands proud
    of that face. From a known point, by its name: straight, along the floor.
    """

    start: Face | str
    reading_mm: float


class FoundPoint(msgspec.Struct, frozen=True):
    """A point with the expanded uncertainty (k = 2) of its inward and back, mm, and a sentence.

    ``residuals_mm`` are adjusted minus read. ``suspect`` is the reading that the others contradict.
    """

    point: TouchPoint
    inward_expanded_mm: float
    back_expanded_mm: float
    residuals_mm: tuple[float, ...]
    suspect: TapeReading | None
    words: str


class TwoPlaces(BadInput):
    """Readings that fit two places as well; one more from the face ``telling`` would tell them."""

    def __init__(self, words: str, telling: Face) -> None:
        super().__init__(words)
        self.telling = telling


def find_point(
    cabinet: Cabinet,
    readings: Sequence[TapeReading],
    *,
    sigma_mm: float = TAPE_SIGMA_MM,
    units: Units = Units.MM,
) -> FoundPoint:
    """Return the point of a cabinet that fits the readings of a tape best.

    Args:
        cabinet: its size, and the points that are known already.
        readings: two or more, as taken.
        sigma_mm: standard uncertainty of each.
        units: of the lengths in the sentence.

    Raises:
        TwoPlaces: when the readings fit two places as well.
        BadInput: when a reading starts nowhere, or the readings do not fix the point.
    """
    if len(readings) < 2:
        raise BadInput(_NOT_FIXED)
    model = _TapeModel(cabinet, readings)
    sigma = np.full(len(readings), sigma_mm)
    observed = np.array([reading.reading_mm for reading in readings])
    fits = _fits(model, _starts(cabinet, observed), observed, sigma)
    best = fits[0]
    for other in fits[1:]:
        if math.dist(best.estimate, other.estimate) > _SAME_MM:
            raise _two_places(best, other, readings, units)
    return _found(best, readings, units)


def expected_reading(cabinet: Cabinet, start: Face | str, at: TouchPoint) -> TapeReading:
    """Return what a tape without error reads from a face or a known point to the point ``at``.

    Raises:
        BadInput: when there is no such place to measure from.
    """
    model = _TapeModel(cabinet, [TapeReading(start, 1.0)])
    predicted, _ = model(np.array((at.inward_mm, at.back_mm)))
    return TapeReading(start, float(predicted[0]))


class _TapeModel:
    """Predicted readings and their Jacobian at (inward, back)."""

    def __init__(self, cabinet: Cabinet, readings: Sequence[TapeReading]) -> None:
        known = cabinet.body_points
        half = cabinet.width_mm / 2
        # distance = sign_inward * inward + sign_back * back + constant
        self._faces = {
            Face.BAFFLE: (0.0, 1.0, 0.0),
            Face.REAR: (0.0, -1.0, cabinet.depth_mm),
            Face.INNER: (-1.0, 0.0, half),
            Face.OUTER: (1.0, 0.0, half),
        }
        self._starts: list[Face | TouchPoint] = []
        for reading in readings:
            if not math.isfinite(reading.reading_mm):
                raise BadInput(f"{reading.start}: the reading is not a number of millimetres")
            if reading.start in tuple(Face):
                self._starts.append(Face(reading.start))
            elif reading.start not in known:
                names = ", ".join((*Face, *known))
                raise BadInput(f'"{reading.start}" is no place to measure from; take {names}')
            elif reading.reading_mm <= 0:
                raise BadInput(f"{reading.start}: a straight distance is above 0")
            else:
                self._starts.append(known[reading.start])

    def __call__(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        inward, back = unknowns.tolist()
        rows = [self._row(start, inward, back) for start in self._starts]
        table = np.array(rows)
        return table[:, 0], table[:, 1:]

    def _row(
        self, start: Face | TouchPoint, inward: float, back: float
    ) -> tuple[float, float, float]:
        if isinstance(start, Face):
            by_inward, by_back, constant = self._faces[start]
            return by_inward * inward + by_back * back + constant, by_inward, by_back
        across, along = inward - start.inward_mm, back - start.back_mm
        distance = math.hypot(across, along) or 1e-9
        return distance, across / distance, along / distance


def _starts(cabinet: Cabinet, observed: FloatArray) -> list[FloatArray]:
    """Places all around and within the box, from which every fit is within reach."""
    reach = cabinet.width_mm + float(np.abs(observed).max())
    across = (-reach, -0.1 * cabinet.width_mm, reach)
    along = (-reach, 0.6 * cabinet.depth_mm, cabinet.depth_mm + reach)
    return [np.array(place) for place in itertools.product(across, along)]


def _fits(
    model: _TapeModel, starts: Sequence[FloatArray], observed: FloatArray, sigma: FloatArray
) -> list[Adjustment]:
    """The least-squares fits that explain the readings about as well, the best first."""
    fits = []
    for start in starts:
        try:
            fits.append(adjust(model, start, observed, sigma))
        except ArithmeticError:  # not fixed, or running away from there
            continue
    if not fits:
        raise BadInput(_NOT_FIXED)
    # fits that are equally good come in the order of their places, not of their rounding
    fits.sort(key=lambda fit: (round(fit.chi_square, 6), *fit.estimate.round(3).tolist()))
    return [fit for fit in fits if fit.chi_square <= fits[0].chi_square + _AS_GOOD]


def _two_places(
    best: Adjustment, other: Adjustment, readings: Sequence[TapeReading], units: Units
) -> TwoPlaces:
    places = " or ".join(_place(fit, units) for fit in (best, other))
    taken = {reading.start for reading in readings}
    inward_differs = abs(best.estimate[0] - other.estimate[0]) > abs(
        best.estimate[1] - other.estimate[1]
    )
    telling = (Face.INNER, Face.OUTER) if inward_differs else (Face.BAFFLE, Face.REAR)
    missing = next(face for face in telling if face not in taken)
    words = f"these readings fit two places: {places}; a reading from the {missing} would decide"
    return TwoPlaces(words, missing)


def _place(fit: Adjustment, units: Units) -> str:
    inward, back = fit.estimate.tolist()
    return f"{_inward_words(inward, units)} and {_back_words(back, units)}"


def _inward_words(inward_mm: float, units: Units) -> str:
    side = "inward" if inward_mm >= 0 else "outward"
    return f"{format_length(abs(inward_mm), units)} {side} of the middle"


def _back_words(back_mm: float, units: Units) -> str:
    side = "behind" if back_mm >= 0 else "in front of"
    return f"{format_length(abs(back_mm), units)} {side} the baffle"


def _found(fit: Adjustment, readings: Sequence[TapeReading], units: Units) -> FoundPoint:
    inward, back = fit.estimate.tolist()
    across, along = (COVERAGE_FACTOR * np.sqrt(fit.covariance.diagonal())).tolist()
    size = np.abs(fit.standardised)
    worst = int(size.argmax())
    suspect = readings[worst] if size[worst] > CRITICAL_STANDARDISED_RESIDUAL else None
    words = (
        f"the point is {_place(fit, units)}, known to ±{format_length(across, units)} and "
        f"±{format_length(along, units)}"
    )
    if suspect is not None and fit.freedom > 1:
        words += f"; the reading from {suspect.start} does not fit the others: take it again"
    elif suspect is not None:
        words += "; the readings contradict one another: take them again"
    elif not fit.freedom:
        words += "; one more reading would check the others"
    return FoundPoint(
        TouchPoint(inward, back), across, along, tuple(fit.residuals.tolist()), suspect, words
    )
