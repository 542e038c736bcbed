"""Which figures of the bare room go along with which grades, and whether that could be chance.

Spearman's rank correlation of each foreseen figure with each grade, over the positions that were
graded (ties share the mean of their ranks). What the strongest of them all is worth is told by a
permutation test: were the grades without any relation to the figures, those of one position might
as well be those of any other. All permutations are tried where they are few, else some thousands
drawn from a fixed seed. Each correlation is held against the strongest that a permutation finds
anywhere, so that looking at many is paid for (Westfall & Young, Resampling-Based Multiple Testing,
1993, single-step maximum, from memory).

It says what goes along with what, in one room and on one evening; never what is good, nor why.
"""

from __future__ import annotations

import enum
import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from witnessmark.acoustics.box import Floats
from witnessmark.acoustics.foresight import (
    DIPS_FROM_HZ,
    DIPS_TO_HZ,
    FREQUENCIES_HZ,
    Foresight,
    Levels,
    difference_db,
    third_octaves,
)
from witnessmark.errors import BadInput
from witnessmark.listening.judging import repeats
from witnessmark.model import GRADED, Attribute, Trial

LEAST_POSITIONS: Final = 6
"""Graded positions from which on grades are compared with figures: of fewer even a perfect order
comes by chance too often."""
CHANCE: Final = 0.05
"""Probability from which on it is said that something could be chance."""
_DRAWS: Final = 4999
_MOST_TRIED: Final = 7
"""Positions up to which all permutations are tried: 5040."""
_SEED: Final = 1
_LEAST_DB: Final = 0.5
"""Range of a figure over the positions below which it counts as the same everywhere; no source."""
_UPPER_BASS_HZ: Final = 60.0
"""Where the lowest octave and a half ends and the rest of the bass begins; no source."""


class ForeseenFigure(enum.StrEnum):
    """What is foreseen of a position, as a single number, dB."""

    LOW_BASS = "low bass"
    """Level of the pair from 20 to 60 Hz."""
    UPPER_BASS = "upper bass"
    """Level of the pair from 60 to 200 Hz."""
    UNEVENNESS = "unevenness"
    """Standard deviation of the pair's level from 40 to 200 Hz, in third-octave bands."""
    DEEPEST_DIP = "deepest dip"
    """How far the lowest level of the pair from 40 to 200 Hz lies below its mean there."""
    APART = "left against right"
    """Root mean square difference of the two cabinets' levels."""


def figures(levels: Levels) -> dict[ForeseenFigure, float]:
    """Return the figures of a position, dB."""
    middles, bands = third_octaves(levels.pair)
    dips = (middles >= DIPS_FROM_HZ) & (middles <= DIPS_TO_HZ * 1.01)  # 199.5 is called 200
    low = FREQUENCIES_HZ < _UPPER_BASS_HZ
    upper = ~low & (FREQUENCIES_HZ <= DIPS_TO_HZ)
    lines = (FREQUENCIES_HZ >= DIPS_FROM_HZ) & (FREQUENCIES_HZ <= DIPS_TO_HZ)
    return {
        ForeseenFigure.LOW_BASS: _mean_db(levels.pair[low]),
        ForeseenFigure.UPPER_BASS: _mean_db(levels.pair[upper]),
        ForeseenFigure.UNEVENNESS: float(bands[dips].std()),
        ForeseenFigure.DEEPEST_DIP: _mean_db(levels.pair[lines]) - float(levels.pair[lines].min()),
        ForeseenFigure.APART: difference_db(levels.left, levels.right),
    }


def _mean_db(level_db: Floats) -> float:
    """The level of the mean energy."""
    return 10 * math.log10(float(np.mean(10 ** (level_db / 10))))


class Association(NamedTuple):
    """How one figure goes along with one grade.

    ``rho`` is Spearman's rank correlation, positive where the grade is higher as the figure is;
    ``chance`` the probability that the strongest of all that were looked at is at least as strong
    where there is no relation at all.
    """

    figure: ForeseenFigure
    attribute: Attribute
    rho: float
    chance: float

    @property
    def could_be_chance(self) -> bool:
        """Whether as much is found by chance more than one time in twenty."""
        return self.chance > CHANCE


class Associations(NamedTuple):
    """What was looked at over how many graded positions, the strongest first.

    ``found`` is empty with too few positions, and where all grades or all figures are the same.
    """

    positions: int
    found: tuple[Association, ...]

    @property
    def missing(self) -> int:
        """How many graded positions are needed yet."""
        return max(LEAST_POSITIONS - self.positions, 0)


def associations(foresight: Foresight, trials: Mapping[str, Trial]) -> Associations:
    """Return how the figures of the positions go along with their grades.

    A position is where its first trial stood; its grade is the mean of its repeats. Compared are
    the positions that have the attribute that most were graded on, in all that these share. One
    that cannot be foreseen, such as one that was outside the room, is left out.
    """
    graded = [
        (trials[keys[0]], grades)
        for keys in repeats(trials).values()
        if (grades := _grades([trials[key] for key in keys]))
    ]
    placed = [(levels, grades) for one, grades in graded if (levels := _levels(foresight, one))]
    counts = {one: sum(one in grades for _, grades in placed) for one in GRADED}
    usual = max(GRADED, key=counts.__getitem__)
    compared = [(figures(levels), grades) for levels, grades in placed if usual in grades]
    if len(compared) < LEAST_POSITIONS:
        return Associations(len(compared), ())
    shared = [one for one in GRADED if all(one in grades for _, grades in compared)]
    values = np.array([[own[figure] for figure in ForeseenFigure] for own, _ in compared])
    heard = np.array([[grades[one] for one in shared] for _, grades in compared])
    differing = np.flatnonzero(np.ptp(values, axis=0) >= _LEAST_DB)
    uneven = np.flatnonzero(np.ptp(heard, axis=0) > 0)
    # finer than a hundredth of a decibel is rounding: mirror images are ties
    rho, chance = family(values[:, differing].round(2), heard[:, uneven].round(6))
    found = [
        Association(tuple(ForeseenFigure)[figure], shared[grade], float(rho[row, column]), float(p))
        for row, figure in enumerate(differing)
        for column, grade in enumerate(uneven)
        for p in (chance[row, column],)
    ]
    return Associations(len(compared), tuple(sorted(found, key=lambda one: -abs(one.rho))))


def _grades(trials: Sequence[Trial]) -> dict[Attribute, float]:
    """The mean grade of each attribute over the repeats of a position that have it."""
    given: dict[Attribute, list[int]] = {}
    for trial in trials:
        for attribute, grade in trial.impression.current_grades.items():
            given.setdefault(attribute, []).append(grade)
    return {attribute: sum(ones) / len(ones) for attribute, ones in given.items()}


def _levels(foresight: Foresight, trial: Trial) -> Levels | None:
    try:
        (levels,) = foresight.levels([trial.standing])
    except BadInput:
        return None
    return levels


def ranks(values: Floats) -> Floats:
    """Return the ranks (n,) of values (n,) from 1; equal ones share the mean of theirs."""
    below = (values[:, None] > values).sum(axis=1)
    alike = (values[:, None] == values).sum(axis=1)
    found: Floats = below + (alike + 1) / 2
    return found


def family(values: Floats, grades: Floats) -> tuple[Floats, Floats]:
    """Return each rank correlation of two sets, and its probability by chance among them all.

    Args:
        values: (n, f), no column of them constant.
        grades: (n, g), likewise.

    Returns:
        Spearman's rho (f, g), and for each the part of the permutations of rows in which the
        strongest of all f times g is at least as strong, as they are counted as one of them.
    """
    one, other = _standard_ranks(values), _standard_ranks(grades)
    rho: Floats = one.T @ other
    permuted = other[_orders(len(values))]  # orders x n x g
    strongest = np.abs(np.einsum("nf,png->pfg", one, permuted, optimize=True)).max(
        axis=(1, 2), initial=0.0
    )
    # what only rounding makes weaker is as strong
    reached = strongest[:, None, None] >= np.abs(rho) - 1e-9
    chance: Floats = reached.mean(axis=0)
    return rho, chance


def _standard_ranks(values: Floats) -> Floats:
    """Ranks of each column less their mean, of length 1."""
    ranked = np.apply_along_axis(ranks, 0, values) if values.size else values
    ranked = ranked - ranked.mean(axis=0)
    standard: Floats = ranked / np.linalg.norm(ranked, axis=0)
    return standard


def _orders(count: int) -> NDArray[np.int64]:
    """All orders of so many rows where they are few; else that as it is, and seeded draws."""
    rows = np.arange(count)
    if count <= _MOST_TRIED:
        return np.array(list(itertools.permutations(rows)))
    rng = np.random.default_rng(_SEED)
    drawn = rng.permuted(np.tile(rows, (_DRAWS, 1)), axis=1)
    return np.concatenate((rows[None], drawn))
