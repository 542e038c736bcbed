"""Positions ranked from choices between two of them, and what the choices do not tell.

The model and its prior are those of ``bradley_terry``. A repeat counts as the position it repeats.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

import msgspec
import numpy as np

from witnessmark.listening.bradley_terry import (
    PRIOR_VARIANCE,
    FloatArray,
    better,
    beyond_chance,
    strengths,
    worth,
)
from witnessmark.listening.positions import positions
from witnessmark.model import Preference, Trial
from witnessmark.sentences import listed

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
        """Probability that ``one`` is truly preferred to ``other``."""
        return self.better[self.keys.index(one)][self.keys.index(other)]

    def separated(self, one: str, other: str) -> bool:
        """Whether the choices tell which of the two is preferred."""
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
        """How often ``one`` was preferred to ``other``, and how often they were compared."""
        won = self.preferred.get((one, other), 0.0)
        return won, won + self.preferred.get((other, one), 0.0)


def rank(trials: Mapping[str, Trial], choices: Iterable[Preference]) -> Ranking:
    """The positions of ``trials``, by their choices.

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


def ranking_words(ranking: Ranking, names: Mapping[str, str]) -> tuple[str, ...]:
    """What the choices tell and what they do not, a sentence each.

    Args:
        ranking: as ``rank`` made it.
        names: what each position is called, by the key of its first trial.
    """
    return tuple(_sentences(ranking, names))


def _sentences(ranking: Ranking, names: Mapping[str, str]) -> Iterator[str]:
    for group in ranking.groups:
        yield f"by your choices, best first: {', '.join(names[key] for key in group.keys)}"
        if group.beyond_chance:
            yield from _told(ranking, group, names)
        else:
            yield "this result could be chance: your choices do not separate them"
    if len(ranking.groups) > 1:
        leaders = [f"those about {names[group.keys[0]]}" for group in ranking.groups]
        yield f"{listed(leaders)} are not compared: no choice ties them together"
    if ranking.groups and ranking.alone:
        yield f"not compared with any other: {listed([names[key] for key in ranking.alone])}"
    if ranking.most_telling is not None:
        one, other = (names[key] for key in ranking.most_telling)
        yield f"most useful next: compare {one} with {other}"


def _told(ranking: Ranking, group: Group, names: Mapping[str, str]) -> Iterator[str]:
    """Of each position how it stands to the next, and which is the first it is surely before."""
    keys = group.keys
    after = [_first_after(group, place) for place in range(len(keys))]
    for place, key in enumerate(keys[:-1]):
        if after[place] > place + 1:
            yield f"between {names[key]} and {names[keys[place + 1]]} your choices do not decide"
        # a later position that is before the same one says more
        if after[place] < min(after[place + 1 :], default=len(keys)):
            yield _before(ranking, key, keys[after[place]], names)


def _first_after(group: Group, place: int) -> int:
    """The first place behind ``place`` from which the choices separate it, or the end."""
    keys = group.keys
    behind = range(place + 1, len(keys))
    return next((p for p in behind if group.separated(keys[place], keys[p])), len(keys))


def _before(ranking: Ranking, one: str, other: str, names: Mapping[str, str]) -> str:
    won, met = ranking.tally(one, other)
    if not met:
        return f"{names[one]} before {names[other]}: by way of the others"
    return f"{names[one]} before {names[other]}: {won:g} of {met:g} choices"
