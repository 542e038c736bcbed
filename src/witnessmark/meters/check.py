"""Checking a meter: what its maker's figure means, its zero error, and how well it repeats.

A meter's reading is taken as the true distance plus one zero error that all its shots share, plus
scatter. Marks on one straight line tell the zero error without any better meter: it comes twice in
AB + BC and once in AC. A positive zero error makes readings long.
"""

from __future__ import annotations

import enum
import math
import statistics
from collections.abc import Mapping, Sequence
from typing import Final

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model.limits import DISTANCE, MAKERS_FIGURE
from witnessmark.model.meter import ROUNDS_OF_MARKS

SEGMENTS: Final = (("A", "B"), ("B", "C"), ("A", "C"))
SHOTS: Final = 5
_LEAST_SHOTS: Final = 3
_LEAST_MARKS: Final = 3
_FAR_OFF_MM: Final = 150.0
"""Zero error that no meter has, mm, whatever its edge: a mark or a number is wrong."""


class CheckKind(enum.StrEnum):
    """The ways to find out how good a meter is."""

    FIVE_SHOTS = "shots"
    THREE_MARKS = "marks"
    MAKERS = "figure"


class Meaning(enum.StrEnum):
    """What a maker's plus-or-minus figure means."""

    TWO_SIGMA = "two standard deviations"
    LIMIT = "a hard limit"


def standard_uncertainty_mm(plus_minus_mm: float, meaning: Meaning) -> float:
    """Return the standard uncertainty behind a maker's plus-or-minus figure (GUM 4.3).

    Half of it where it is two standard deviations; divided by the root of three where it is a limit
    within which every value is as likely.

    Raises:
        BadInput: when the figure is not above 0, or over 100 mm.
    """
    if not MAKERS_FIGURE.admits(plus_minus_mm):
        raise BadInput(
            f"the maker's figure: {plus_minus_mm:g} mm must be above 0 and at most 100 mm"
        )
    return plus_minus_mm / (2 if meaning is Meaning.TWO_SIGMA else math.sqrt(3))


class Repeatability(msgspec.Struct, frozen=True):
    """The scatter of repeated shots: standard deviation of one shot, and that figure's own.

    ``sigma_mm`` of 0 says only that the scatter is hidden by the steps of the display.
    """

    mean_mm: float
    sigma_mm: float
    uncertainty_mm: float
    shots: int


def repeatability(shots_mm: Sequence[float]) -> Repeatability:
    """Return how well a meter repeats itself, from shots of one distance.

    The uncertainty of a standard deviation from n normal values is sigma / sqrt(2 (n - 1)); five
    shots give it to 35 %.

    Raises:
        BadInput: when there are fewer than three shots, or one is no distance.
    """
    _check_distances(shots_mm)
    if len(shots_mm) < _LEAST_SHOTS:
        raise BadInput(f"repeatability: {len(shots_mm)} shots are too few; take five")
    sigma = statistics.stdev(shots_mm)
    uncertainty = sigma / math.sqrt(2 * (len(shots_mm) - 1))
    return Repeatability(statistics.fmean(shots_mm), sigma, uncertainty, len(shots_mm))


class ZeroError(msgspec.Struct, frozen=True):
    """A meter's zero error: what is to be subtracted from its readings, and how sure that is.

    ``uncertainty_mm`` follows from the scatter that was given. ``scatter_mm`` is the one that the
    readings themselves show, where there are more than needed; None else.
    """

    error_mm: float
    uncertainty_mm: float
    segments_mm: tuple[float, ...]
    scatter_mm: float | None = None


def zero_from_three_marks(
    ab_mm: float, bc_mm: float, ac_mm: float, shot_sigma_mm: float
) -> ZeroError:
    """Return the zero error by three marks in line, AB + BC - AC, with sqrt(3) of a shot's sigma.

    Raises:
        BadInput: as ``zero_from_line``.
    """
    return zero_from_line({(0, 1): ab_mm, (1, 2): bc_mm, (0, 2): ac_mm}, shot_sigma_mm)


def zero_from_line(readings_mm: Mapping[tuple[int, int], float], shot_sigma_mm: float) -> ZeroError:
    """Return the zero error from shots between marks 0, 1, 2 ... in line, by least squares.

    All combinations of n marks leave the zero error with the variance of a shot times 3 for three
    marks, 1 for four, 1/5 for seven (the design with seven is that of ISO 17123-4, from memory).

    Args:
        readings_mm: by pair of marks, the lower number first.
        shot_sigma_mm: standard uncertainty of one shot.

    Raises:
        BadInput: when the marks and shots cannot tell it, or a number must be wrong.
    """
    import numpy as np  # noqa: PLC0415 - slow to import

    _check_distances(list(readings_mm.values()))
    if not shot_sigma_mm > 0:
        raise BadInput(
            f"zero error: the scatter of a shot must be above 0, not {shot_sigma_mm:g} mm"
        )
    marks = max((last for _, last in readings_mm), default=0) + 1
    design = np.array(
        [
            [float(first <= segment < last) for segment in range(marks - 1)] + [1.0]
            for first, last in readings_mm
        ]
    )
    if marks < _LEAST_MARKS or np.linalg.matrix_rank(design) < marks:
        raise BadInput(
            "zero error: shoot every segment between three marks in line, and from first to last"
        )
    observed = np.array(list(readings_mm.values()))
    estimate, *_ = np.linalg.lstsq(design, observed)
    inverse = np.linalg.pinv(design)
    spare = len(observed) - marks
    residuals = observed - design @ estimate
    error_mm = float(estimate[-1])
    if not abs(error_mm) < _FAR_OFF_MM:
        raise BadInput(
            f"zero error: {error_mm:.0f} mm cannot be; check that the marks are in line, "
            "and the numbers"
        )
    return ZeroError(
        error_mm=error_mm,
        uncertainty_mm=shot_sigma_mm * float(np.linalg.norm(inverse[-1])),
        segments_mm=tuple(float(length) for length in estimate[:-1]),
        scatter_mm=math.sqrt(float(residuals @ residuals) / spare) if spare else None,
    )


def next_segment(readings_mm: tuple[float, ...]) -> tuple[str, str] | None:
    """Return from which mark to which the next shot goes, round after round; None after the last.

    Each round is a shot of every segment.
    """
    taken = len(readings_mm)
    return SEGMENTS[taken % 3] if taken < ROUNDS_OF_MARKS * len(SEGMENTS) else None


def _check_distances(values_mm: Sequence[float]) -> None:
    for value in values_mm:
        if not DISTANCE.admits(value):
            raise BadInput(f"{value:g} mm is not a distance; it must be above 0 and at most 100 m")
