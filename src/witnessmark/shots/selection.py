"""The fewest observations of those on offer with which every unknown is known well enough.

An observation may be taken more than once. Sets are weighed by the covariance that they would
leave: N = sum a a' / sigma^2 + priors, U = 2 sqrt(diag N^-1). Sizes at which there are not too many
sets are looked through one by one, so that no smaller set is overlooked; larger ones are grown by
the observation that helps most, and improved by exchanging one at a time until nothing helps.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from witnessmark.geometry.adjust import FloatArray, IntArray
from witnessmark.model.pair import COVERAGE_FACTOR

MOST_SETS = 8_000
"""Most sets of one size that are searched one by one."""
FAR = 1e6
"""Uncertainty, as a multiple of its limit, of what no observation tells."""

_STARTS = 4


class Ranked(NamedTuple):
    """Sets of one size, the best first, with their shortfalls: 1 or less is good enough."""

    sets: IntArray
    shortfall: FloatArray

    @property
    def size(self) -> int:
        """How many observations each set has."""
        return len(self.best)

    @property
    def best(self) -> IntArray:
        """The best set."""
        best: IntArray = self.sets[0]
        return best

    @property
    def suffices(self) -> bool:
        """Whether the best set is good enough."""
        return bool(self.shortfall[0] <= 1.0)


class Selection:
    """Observations on offer, and what is wanted of a set of them.

    Args:
        rows: (m, n) derivatives of each observation by the unknowns over its standard deviation.
        priors: (p, n) the same of what is known beforehand.
        limits: (q,) the largest expanded uncertainty (k = 2) wanted of each of the first q
            unknowns.
        kept: share of an observation's variance that taking it again does not take away; None
            where taking it again tells nothing new.
    """

    def __init__(
        self,
        rows: FloatArray,
        priors: FloatArray,
        limits: FloatArray,
        *,
        kept: float | None,
    ) -> None:
        # unknowns in units of their limits, so that one size fits all
        scale = np.ones(rows.shape[1])
        scale[: len(limits)] = limits
        self._rows, self._priors = rows * scale, priors * scale
        self._limits = limits
        self._repeated, self._kept = kept is not None, kept or 0.0
        self._squares = self._rows[:, :, None] * self._rows[:, None, :]
        self._before = self._priors.T @ self._priors + np.eye(rows.shape[1]) / FAR**2

    def expanded(self, sets: IntArray) -> FloatArray:
        """Return (b, q) the expanded uncertainties with each set (b, k), in the limits' units."""
        return self._relative(self._covariance(sets)) * self._limits

    def shortfall(self, sets: IntArray) -> FloatArray:
        """Return (b,) each set's (b, k) largest uncertainty over its limit: 1 or less suffices."""
        worst: FloatArray = self._relative(self._covariance(sets)).max(axis=1)
        return worst

    def of_size(self, size: int, smaller: Ranked | None = None) -> Ranked:
        """Return the sets of this size: all, or the best that can be had from the smaller ones."""
        every = self._every(size)
        if every is None:
            assert smaller is not None  # noqa: S101 - sets of one or two are never too many
            every = self._grown(smaller.sets[:_STARTS], size)
        shortfall = self.shortfall(every)
        order = np.argsort(shortfall, kind="stable")
        return Ranked(every[order], shortfall[order])

    def nearest(self, most: int) -> float:
        """Return the shortfall of the best set of up to ``most``, as far as growing finds it."""
        ranked = self.of_size(min(3, most))
        if ranked.suffices or most <= 3:
            return float(ranked.shortfall[0])
        return float(self.shortfall(self._grown(ranked.sets[:1], most)).min())

    def _covariance(self, sets: IntArray) -> FloatArray:
        weights = self._weights(sets).T[:, :, None, None]
        squares = (
            self._squares[column] * weight for column, weight in zip(sets.T, weights, strict=True)
        )
        covariance: FloatArray = np.linalg.inv(self._before + sum(squares))
        return covariance

    def _weights(self, sets: IntArray) -> FloatArray:
        """(b, k) what each of a set weighs, against one that is taken only once in it."""
        times = (sets[:, :, None] == sets[:, None, :]).sum(axis=2)
        weights: FloatArray = 1.0 / (1.0 + (times - 1) * self._kept)
        return weights

    def _relative(self, covariance: FloatArray) -> FloatArray:
        variances = np.diagonal(covariance, axis1=1, axis2=2)[:, : len(self._limits)]
        relative: FloatArray = COVERAGE_FACTOR * np.sqrt(variances)
        return relative

    def _every(self, size: int) -> IntArray | None:
        """Return all sets (b, size) in order; None when they are too many."""
        offered = len(self._rows)
        sets = np.arange(offered)[:, None]
        for _ in range(size - 1):
            first = sets[:, -1] + (0 if self._repeated else 1)
            counts = offered - first
            if counts.sum() > MOST_SETS:
                return None
            # each set is continued by every observation from its first allowed one on
            place = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
            following = place + np.repeat(first, counts)
            sets = np.column_stack((np.repeat(sets, counts, axis=0), following))
        return sets

    def _grown(self, starts: IntArray, size: int) -> IntArray:
        """The sets that further observations and exchanges make of the starts, each once."""
        grown = set()
        for start in starts:
            chosen = start
            while len(chosen) < size:
                chosen = self._best(self._with_one_more(chosen))
            grown.add(self._exchanged(chosen))
        return np.array(sorted(grown))

    def _exchanged(self, chosen: IntArray) -> tuple[int, ...]:
        """Exchange one observation for another as long as that helps."""
        best = float(self.shortfall(chosen[None, :])[0])
        while True:
            rests = [np.delete(chosen, place) for place in range(len(chosen))]
            ahead = self._best(np.concatenate([self._with_one_more(rest) for rest in rests]))
            value = float(self.shortfall(ahead[None, :])[0])
            if value >= best * (1 - 1e-9):
                return tuple(sorted(chosen.tolist()))
            chosen, best = ahead, value

    def _with_one_more(self, chosen: IntArray) -> IntArray:
        more = np.arange(len(self._rows))
        if not self._repeated:
            more = np.setdiff1d(more, chosen)
        return np.column_stack((np.tile(chosen, (len(more), 1)), more))

    def _best(self, sets: IntArray) -> IntArray:
        best: IntArray = sets[int(self.shortfall(sets).argmin())]
        return best
