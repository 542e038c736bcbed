"""What the person called the best, in three ways, and whether these agree: never what is good."""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from witnessmark.listening.judging import judged, latest_flagged
from witnessmark.listening.ranking import Ranking
from witnessmark.model import Trial


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
    """The best by flag, by grade and by choices, as far as the person said so."""
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
