"""Positions ranked from choices between two of them, and which one the person called the best.

The model is that of Bradley and Terry, with a prior that keeps every strength finite. A repeat
counts as the position it repeats.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import msgspec
import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.listening.judging import judged, latest_flagged, positions
from witnessmark.model import Preference, Trial

PRIOR_VARIANCE = math.pi**2 / 6
ONE_IN_TWENTY = 1.6449
"""One-sided 5 % point of the normal distribution."""
_MOST_STEPS = 200
_LONGEST_STEP = 1.0
"""Longest step of the iteration, log strength; beyond it the curvature misleads."""


def strengths(wins: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the strengths (n,) on the log scale, of mean 0, and their covariance (n, n).

    Those that no choice ties to another have the prior's. The mean is 0 over each set that choices
    tie together, and so over all; the covariance is that before the mean is held to 0, which no
    difference of two depends on.

    Args:
        wins: (n, n) how often the row was preferred to the column; halves where neither was.

    Raises:
        ArithmeticError: when the steps do not settle.
    """
    count = len(wins)
    met = wins + wins.T
    estimate: FloatArray = np.zeros(count)
    for _ in range(_MOST_STEPS):
        chance = _chance(estimate)
        slope = (wins - met * chance).sum(axis=1) - estimate / PRIOR_VARIANCE
        weight = met * chance * chance.T
        curvature = np.diag(weight.sum(axis=1) + 1 / PRIOR_VARIANCE) - weight
        step = np.linalg.solve(curvature, slope)
        farthest = float(np.abs(step).max(initial=0.0))
        if farthest < 1e-10:
            return estimate, np.asarray(np.linalg.inv(curvature), dtype=np.float64)
        estimate = estimate + step * min(1.0, _LONGEST_STEP / farthest)
    raise ArithmeticError(f"the strengths did not settle in {_MOST_STEPS} steps")


def _chance(estimate: FloatArray) -> FloatArray:
    """(n, n) chance that the row is preferred to the column."""
    # by the hyperbolic tangent, which no strength makes overflow
    chance: FloatArray = 0.5 + 0.5 * np.tanh((estimate[:, None] - estimate) / 2)
    return chance


def better(estimate: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return the probabilities (n, n) that row is truly better than column; 0.5 on the diagonal."""
    spread = np.sqrt(difference_variance(covariance))
    apart = estimate[:, None] - estimate
    ratio = np.divide(apart, spread, out=np.zeros_like(apart), where=spread > 0)
    return 0.5 + 0.5 * _erf(ratio / math.sqrt(2))


def _erf(values: FloatArray) -> FloatArray:
    error: FloatArray = np.array([math.erf(value) for value in values.flat]).reshape(values.shape)
    return error


def beyond_chance(wins: FloatArray) -> bool:
    """Return whether such uneven choices would come by chance less than one time in twenty.

    The score test at equal strengths, g' (L / 4)^+ g with g the wins beyond half and L the
    Laplacian of the comparisons, against the 95 % point of chi-square with one degree less than
    there are rows, which must be tied together. A choice of neither, which scatters less than a
    toss, makes it a little too careful.

    Args:
        wins: (n, n) how often the row was preferred to the column; halves where neither was.
    """
    met = wins + wins.T
    excess = (wins - met / 2).sum(axis=1)
    laplacian = np.diag(met.sum(axis=1)) - met
    statistic = 4 * excess @ np.linalg.pinv(laplacian, hermitian=True) @ excess
    return bool(statistic > chi_square_point(len(wins) - 1))


def chi_square_point(freedom: int) -> float:
    """Return the 95 % point of chi-square, to 3 %, by the cube of Wilson and Hilferty (1931)."""
    part = 2 / (9 * freedom)
    return float(freedom * (1 - part + ONE_IN_TWENTY * math.sqrt(part)) ** 3)


def worth(estimate: FloatArray, covariance: FloatArray) -> FloatArray:
    """Return (n, n) how much one more choice of row or column would tell; 0 on the diagonal.

    The variance of their difference times that of the choice: the determinant of the covariance
    falls by 1 + this.
    """
    chance = _chance(estimate)
    told: FloatArray = difference_variance(covariance) * chance * chance.T
    return told


def difference_variance(covariance: FloatArray) -> FloatArray:
    """Return the variances (n, n) of the strength of row less that of column."""
    own = np.diag(covariance)
    variance: FloatArray = np.maximum(own[:, None] + own - 2 * covariance, 0.0)
    np.fill_diagonal(variance, 0.0)
    return variance


SEPARATED = 0.95
"""Probability from which on one position counts as preferred to another: five choices of five."""


class Group(msgspec.Struct, frozen=True):
    """Positions that choices tie together, the most preferred first.

    ``strengths`` are on the log scale, of mean 0, ``covariance`` is theirs, and ``better`` the
    probability that the position of the row is truly preferred to that of the column.
    ``beyond_chance`` says whether choices so uneven are rare where all are alike; where they are
    not, no two are taken as separated, or among many positions some always would be.
    """

    keys: tuple[str, ...]
    strengths: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    better: tuple[tuple[float, ...], ...]
    beyond_chance: bool

    def probability(self, one: str, other: str) -> float:
        """Return the probability that ``one`` is truly preferred to ``other``."""
        return self.better[self.keys.index(one)][self.keys.index(other)]

    def separated(self, one: str, other: str) -> bool:
        """Return whether the choices tell which of the two is preferred."""
        surely = not 1 - SEPARATED < self.probability(one, other) < SEPARATED
        return self.beyond_chance and surely


class Ranking(msgspec.Struct, frozen=True):
    """What the choices say, by the keys of the positions' first trials.

    Positions of different ``groups`` are not compared, and those ``alone`` with none.
    ``preferred`` is how often the first of two was preferred to the second, halves where neither
    was. ``most_telling`` are the two whose comparison would tell most, None below two positions.
    """

    groups: tuple[Group, ...]
    alone: tuple[str, ...]
    preferred: dict[tuple[str, str], float]
    most_telling: tuple[str, str] | None

    def tally(self, one: str, other: str) -> tuple[float, float]:
        """Return how often ``one`` was preferred to ``other``, and how often they were compared."""
        won = self.preferred.get((one, other), 0.0)
        return won, won + self.preferred.get((other, one), 0.0)


def rank(trials: Mapping[str, Trial], choices: Iterable[Preference]) -> Ranking:
    """Return the positions of ``trials``, by their choices.

    Left out are choices of which a trial is not among ``trials``, and those between two trials of
    one position: they say nothing of others.
    """
    place_of = positions(trials)
    keys = list(dict.fromkeys(place_of.values()))
    preferred = _preferred(place_of, choices)
    wins = np.zeros((len(keys), len(keys)))
    for (one, other), won in preferred.items():
        wins[keys.index(one), keys.index(other)] = won
    estimate, covariance = strengths(wins)
    tied = _tied(wins + wins.T)
    groups = [
        _group(keys, members, estimate, covariance, wins) for members in tied if len(members) > 1
    ]
    return Ranking(
        tuple(sorted(groups, key=lambda group: -len(group.keys))),
        tuple(keys[place] for (place, *others) in tied if not others),
        preferred,
        _most_telling(keys, worth(estimate, covariance)),
    )


def _preferred(
    place_of: Mapping[str, str], choices: Iterable[Preference]
) -> dict[tuple[str, str], float]:
    found: dict[tuple[str, str], float] = {}
    for choice in choices:
        one, other = place_of.get(choice.one), place_of.get(choice.other)
        if one is None or other is None or one == other:
            continue
        share = 0.5 if choice.better is None else float(choice.better == choice.one)
        found[one, other] = found.get((one, other), 0.0) + share
        found[other, one] = found.get((other, one), 0.0) + 1 - share
    return found


def _tied(met: FloatArray) -> list[list[int]]:
    """The sets that chains of choices tie together, each in ascending order."""
    tied: list[list[int]] = []
    left = set(range(len(met)))
    while left:
        ahead, members = [min(left)], set[int]()
        while ahead:
            here = ahead.pop()
            members.add(here)
            ahead += [place for place in left - members if met[here, place] > 0]
        left -= members
        tied.append(sorted(members))
    return tied


def _group(
    keys: Sequence[str],
    members: list[int],
    estimate: FloatArray,
    covariance: FloatArray,
    wins: FloatArray,
) -> Group:
    order = sorted(members, key=lambda place: -estimate[place])
    among = np.ix_(order, order)
    own, spread = estimate[order], covariance[among]
    return Group(
        tuple(keys[place] for place in order),
        tuple(own.tolist()),
        # the mean varies as the prior does, whatever the choices, and with no difference of two
        _rows(spread - PRIOR_VARIANCE / len(order)),
        _rows(better(own, spread)),
        beyond_chance(wins[among]),
    )


def _rows(matrix: FloatArray) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(row) for row in matrix.tolist())


def _most_telling(keys: Sequence[str], told: FloatArray) -> tuple[str, str] | None:
    if len(keys) < 2:
        return None
    # the first of those that would tell as much, whatever rounding makes of them
    one, other = divmod(int(np.argmax(np.round(np.triu(told, 1), 9))), len(keys))
    return keys[one], keys[other]


class Best(msgspec.Struct, frozen=True):
    """Which position the person called the best, by the keys of their first trials.

    ``flagged`` last; ``graded`` highest in the mean, several where they are equal; ``chosen`` most
    where two were compared, None where choices do not tie all that were compared together.
    ``same_graded`` says that all grades are of the same attributes, ``apart`` that the choices
    separate the chosen one from the next.
    """

    flagged: str | None
    graded: tuple[str, ...]
    chosen: str | None
    same_graded: bool = True
    apart: bool = True


def best_so_far(trials: Mapping[str, Trial], ranking: Ranking) -> Best:
    """Return the best by flag, by grade and by choices, as far as the person said so."""
    own = judged(trials)
    position = {key: one.key for one in own for key in one.trials}
    flagged = latest_flagged(trials)
    means = {one.key: round(one.grades.mean, 9) for one in own if one.grades.mean is not None}
    highest = max(means.values(), default=None)
    all_grades = (trial.impression.current_grades for trial in trials.values())
    graded = [set(grades) for grades in all_grades if grades]
    one_group = ranking.groups[0] if len(ranking.groups) == 1 else None
    return Best(
        None if flagged is None else position[flagged],
        tuple(key for key, mean in means.items() if mean == highest),
        None if one_group is None else one_group.keys[0],
        all(attributes == graded[0] for attributes in graded),
        one_group is None or one_group.separated(*one_group.keys[:2]),
    )
