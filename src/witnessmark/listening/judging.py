"""What the grades say, and how far they can be trusted: never what is good.

A position that was tried more than once shows how steadily the person grades. Repeats scatter about
their mean with a standard deviation s, pooled over all positions that were repeated; by chance two
means of n and m grades then differ by no more than t s sqrt(1/n + 1/m), 95.45 % of the time, with
Student's t for as many degrees of freedom as there are repeats (JCGM 100:2008, G.3, from memory).
Grades are whole numbers: s counts as no less than what rounding leaves, 1 / sqrt 12 for one
attribute (4.3.7), less by sqrt k for the mean of k.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence

import msgspec

from witnessmark.model import Attribute, Struck, Trial


def positions(trials: Mapping[str, Trial]) -> dict[str, str]:
    """Return the position of every trial: the key of the first trial of it, by the trial's own key.

    Trials come in the order in which they were stored, here and in all that follows: a clock may
    have been wrong. A position is the same only where the person said so
    (``Trial.repeats``), not where two happen to stand alike. Where the first one is not among the
    trials, the next of that position is in its place.
    """
    first: dict[str, str] = {}
    place_of: dict[str, str] = {}
    for key, trial in trials.items():
        first[key] = place_of.setdefault(trial.repeats or key, key)
        place_of[key] = first[key]
    return first


def struck_keys(strikes: Iterable[Struck]) -> frozenset[str]:
    """Return the keys of the trials that are struck out, and not let count again since.

    Strikes come in the order in which they were stored.
    """
    latest = {strike.trial: strike.back for strike in strikes}
    return frozenset(key for key, back in latest.items() if not back)


def repeats(trials: Mapping[str, Trial]) -> dict[str, tuple[str, ...]]:
    """Return the trials of each position, by the key of the first, in the order of trying."""
    found: dict[str, tuple[str, ...]] = {}
    for key, position in positions(trials).items():
        found[position] = (*found.get(position, ()), key)
    return found


def latest_flagged(trials: Mapping[str, Trial]) -> str | None:
    """Return the key of the latest trial that is flagged as the best so far."""
    flagged = [key for key, trial in trials.items() if trial.impression.best]
    return flagged[-1] if flagged else None


FREEDOM = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 15, 20, 50, 100)
STUDENT = (13.97, 4.53, 3.31, 2.87, 2.65, 2.52, 2.43, 2.37, 2.32, 2.28, 2.18, 2.13, 2.05, 2.025)
"""Student's t for 95.45 % by degrees of freedom (JCGM 100:2008, table G.2, from memory)."""
_ROUNDING = 1 / math.sqrt(12)


class Grades(msgspec.Struct, frozen=True):
    """How many grades there are, their mean, and the standard deviation of two or more."""

    count: int
    mean: float | None
    spread: float | None


class Judged(msgspec.Struct, frozen=True):
    """How one position was graded: in all, with earlier grades out of sight, and in sight.

    ``key`` is that of its first trial; ``trials`` are all of it, in the order of trying.
    """

    key: str
    trials: tuple[str, ...]
    grades: Grades
    blind: Grades
    in_sight: Grades


class Difference(msgspec.Struct, frozen=True):
    """How the grades of two positions differ, first minus second, in what both were graded on.

    ``one`` and ``other`` are the keys of the positions' first trials.
    ``grade`` is None where they have no attribute in common. ``expanded`` is how far means of one
    position's repeats would differ, None without repeats; ``in_sight`` says that some of these were
    graded with the earlier grades in sight, which may have made them alike.
    """

    one: str
    other: str
    grade: float | None
    expanded: float | None
    in_sight: bool = False

    @property
    def told(self) -> bool | None:
        """Whether they differ by more than repeats do; None where nothing can be said."""
        if self.grade is None or self.expanded is None:
            return None
        return abs(self.grade) > self.expanded


def judged(trials: Mapping[str, Trial]) -> tuple[Judged, ...]:
    """Return how each position was graded, in the order of trying.

    A trial's grade is the mean of those that it was given.
    """

    def grades(keys: Sequence[str], *sight: bool) -> Grades:
        counted = [trials[key] for key in keys if trials[key].impression.blind in sight]
        found = [trial.impression.mean_grade for trial in counted]
        return _grades(grade for grade in found if grade is not None)

    return tuple(
        Judged(key, keys, grades(keys, True, False), grades(keys, True), grades(keys, False))
        for key, keys in repeats(trials).items()
    )


def _grades(values: Iterable[float]) -> Grades:
    found = list(values)
    return Grades(
        len(found),
        statistics.fmean(found) if found else None,
        statistics.stdev(found) if len(found) > 1 else None,
    )


def difference(trials: Mapping[str, Trial], one: str, other: str) -> Difference:
    """Return how the grades of two positions differ, against the scatter of all repeats there are.

    Compared is the mean of the attributes that all trials of both have.

    Args:
        trials: all so far; the repeats of every position count, as one person grades them all.
        one: the key of a trial of one position.
        other: that of a trial of another.
    """
    place, own = positions(trials), repeats(trials)
    one, other = place[one], place[other]
    shared = _shared([trials[key] for key in own[one] + own[other]])
    means = {key: _means([trials[k] for k in keys], shared) for key, keys in own.items()}
    if not shared or not means[one] or not means[other]:
        return Difference(one, other, None, None)
    grade = statistics.fmean(means[one]) - statistics.fmean(means[other])
    repeated = [values for values in means.values() if len(values) > 1]
    if not repeated:
        return Difference(one, other, grade, None)
    sigma = max(_pooled(repeated), _ROUNDING / math.sqrt(len(shared)))
    chance = sigma * math.sqrt(1 / len(means[one]) + 1 / len(means[other]))
    again = [k for key, keys in own.items() if len(means[key]) > 1 for k in keys[1:]]
    in_sight = not all(trials[key].impression.blind for key in again)
    return Difference(one, other, grade, _student(_freedom(repeated)) * chance, in_sight)


def _shared(trials: Sequence[Trial]) -> set[Attribute]:
    """The attributes that all trials that were graded at all have."""
    graded = [set(grades) for trial in trials if (grades := trial.impression.current_grades)]
    return set.intersection(*graded) if graded else set[Attribute]()


def _means(trials: Sequence[Trial], attributes: set[Attribute]) -> list[float]:
    """The mean over these attributes of every trial that has them all."""
    return [
        statistics.fmean(trial.impression.grades[attribute] for attribute in attributes)
        for trial in trials
        if attributes and attributes <= set(trial.impression.grades)
    ]


def _freedom(repeated: Sequence[Sequence[float]]) -> int:
    return sum(len(values) - 1 for values in repeated)


def _pooled(repeated: Sequence[Sequence[float]]) -> float:
    squares = math.fsum(statistics.variance(values) * (len(values) - 1) for values in repeated)
    return math.sqrt(squares / _freedom(repeated))


def _student(freedom: int) -> float:
    """t, or where it is not in the table the greater one of fewer degrees of freedom."""
    return STUDENT[bisect_right(FREEDOM, freedom) - 1]
