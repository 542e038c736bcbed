"""What the person called the best, in three ways, and whether these agree: never what is good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from witnessmark.listening.judging import judged, latest_flagged
from witnessmark.listening.ranking import Ranking
from witnessmark.model import Trial
from witnessmark.sentences import listed


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


def best_words(best: Best, names: Mapping[str, str]) -> tuple[str, ...]:
    """What the person called the best, and whether that agrees; empty where nothing was said."""
    return tuple(_best_sentences(best, names))


def _best_sentences(best: Best, names: Mapping[str, str]) -> Iterator[str]:
    barely = "" if best.apart else " (the choices do not separate it)"
    said = {
        ("flag", "flagged as the best"): () if best.flagged is None else (best.flagged,),
        ("grades", "graded highest"): best.graded,
        ("choices", f"preferred most in pairs{barely}"): ()
        if best.chosen is None
        else (best.chosen,),
    }
    told = {how: keys for how, keys in said.items() if keys}
    if not told:
        return
    common = [key for key in next(iter(told.values())) if all(key in k for k in told.values())]
    if common:
        yield f"{names[common[0]]}: {listed([how for _, how in told])}"
    else:
        by = listed([f"your {what}" for what, _ in told])
        parts = [
            f"{listed([names[key] for key in keys])} is {how}" for (_, how), keys in told.items()
        ]
        yield f"{by} disagree: {'; '.join(parts)}"
    if best.graded and not best.same_graded:
        yield "the means are of different attributes: not all were graded on the same"
