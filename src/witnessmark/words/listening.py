"""What is said of positions that were listened to: the walk, the grades, the choices."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from witnessmark.listening.difference import STAGES
from witnessmark.listening.evening import Evening
from witnessmark.listening.judging import Difference, Judged, difference, judged, positions
from witnessmark.listening.order import Walk
from witnessmark.listening.ranking import Best, Group, Ranking, best_so_far, rank
from witnessmark.listening.steps import Proposal
from witnessmark.model import GRADES, Varied
from witnessmark.sentences import listed


def said_words(evening: Evening) -> Iterator[str]:
    """Yield what grades, flags and choices say, and what they do not, a sentence each."""
    ranking = rank(evening.trials, evening.choices)
    yield from best_words(best_so_far(evening.trials, ranking), evening.names)
    yield from ranking_words(ranking, evening.names)


def trial_words(evening: Evening, key: str) -> Iterator[str]:
    """Yield how a trial's position was graded, and how that differs from the one tried last."""
    place = positions(evening.trials)
    one = next(each for each in judged(evening.trials) if each.key == place[key])
    yield judged_words(one, evening.names)
    latest = evening.latest
    if latest is not None and place[latest] != one.key:
        yield difference_words(difference(evening.trials, key, latest), evening.names)


def walk_words(walk: Walk) -> Iterator[str]:
    """Yield what to try next, what is left out and why, and how much of a stage is tried."""
    stage, offered, following = walk.stage, walk.proposals, walk.following
    tried = sum(bool(one.tried) for one in offered)
    if following is not None:
        yield f"next: {following.name} ({tried} of {len(offered)} tried)"
    elif any(not one.tried and not one.obstacles for one in offered):
        yield f"the best one lies between stations that were tried: {tried} of {len(offered)}"
        yield _after(stage, walk.kept)
    else:
        yield f"every {stage} that can be tried has been: {tried} of {len(offered)}"
        yield _after(stage, walk.kept)
    yield from _left_out(offered)
    if stage is Varied.TILT and not walk.knows_tilt:
        yield ("the present tilt is not known and the steps count from upright: measure it first")


def _left_out(offered: tuple[Proposal, ...]) -> Iterator[str]:
    """Yield which positions nobody is sent to, and why; those for the same reasons together."""
    barred: dict[tuple[str, ...], list[str]] = {}
    for one in offered:
        if one.obstacles and not one.tried:
            barred.setdefault(one.obstacles, []).append(one.name)
    for reasons, names in barred.items():
        yield f"left out: {', '.join(names)}. {' '.join(reasons)}"


def _after(stage: Varied, kept: str | None) -> str:
    later = STAGES[STAGES.index(stage) + 1 :]
    if not later:
        return "the walk is complete"
    what = f"vary the {later[0]} next"
    return what if kept is not None else f"flag the best one, then {what}"


def best_words(best: Best, names: Mapping[str, str]) -> tuple[str, ...]:
    """Return what the person called best, and whether that agrees; empty if nothing was said."""
    return tuple(_best_sentences(best, names))


def _best_sentences(best: Best, names: Mapping[str, str]) -> Iterator[str]:
    barely = "" if best.apart else " (your choices do not single it out)"
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
        yield (
            "these means cannot be compared: not all positions were graded on the same attributes"
        )


def difference_words(found: Difference, names: Mapping[str, str]) -> str:
    """Return what may be said of two positions' grades, as a sentence."""
    one, other = names[found.one], names[found.other]
    if found.grade is None:
        return (
            f"{one} and {other} were not graded on the same attributes: their grades "
            "cannot be compared"
        )
    if found.grade < 0:
        one, other = other, one
    told = f"{one} was graded {abs(found.grade):.1f} higher than {other}"
    if abs(found.grade) < 0.05:
        told = f"{one} and {other} were graded alike"
    if found.expanded is None:
        return f"{told}; to see how much is chance, grade one position twice"
    if found.expanded > max(GRADES) - min(GRADES):
        return f"{told}; more repeats are needed to say how much is chance"
    than = "more than" if found.told else "no more than"
    told = f"{told}, {than} repeats of one position differ (±{found.expanded:.1f})"
    if found.in_sight:
        told += "; some repeats were graded with the earlier grades in sight"
    return told


def judged_words(one: Judged, names: Mapping[str, str]) -> str:
    """Return how one position was graded, as a sentence."""
    grades = one.grades
    if grades.mean is None:
        return f"{names[one.key]} is not graded"
    if grades.spread is None:
        return f"{names[one.key]}: {grades.mean:.1f}, graded once"
    told = (
        f"{names[one.key]}: {grades.mean:.1f} on average over {grades.count} gradings, which "
        f"scatter by {grades.spread:.1f}"
    )
    if one.blind.mean is None or one.in_sight.mean is None:
        sight = "in sight" if one.blind.mean is None else "out of sight"
        return f"{told}, all with earlier grades {sight}"
    return (
        f"{told}; {one.blind.mean:.1f} with earlier grades out of sight, "
        f"{one.in_sight.mean:.1f} with them in sight"
    )


def ranking_words(ranking: Ranking, names: Mapping[str, str]) -> tuple[str, ...]:
    """Return what the choices tell and what they do not, a sentence each.

    Args:
        ranking: as ``rank`` made it.
        names: what each position is called, by the key of its first trial.
    """
    return tuple(_ranking_sentences(ranking, names))


def _ranking_sentences(ranking: Ranking, names: Mapping[str, str]) -> Iterator[str]:
    for group in ranking.groups:
        yield f"by your choices, best first: {', '.join(names[key] for key in group.keys)}"
        if group.beyond_chance:
            yield from _standings(ranking, group, names)
        else:
            yield "this result could be chance: your choices do not separate them"
    if len(ranking.groups) > 1:
        leaders = [f"the group of {names[group.keys[0]]}" for group in ranking.groups]
        yield f"{listed(leaders)} are not compared with each other: no choice connects them"
    if ranking.groups and ranking.alone:
        yield f"not compared with any other: {listed([names[key] for key in ranking.alone])}"
    if ranking.most_telling is not None:
        one, other = (names[key] for key in ranking.most_telling)
        yield f"most useful next: compare {one} with {other}"


def _standings(ranking: Ranking, group: Group, names: Mapping[str, str]) -> Iterator[str]:
    """Of each position how it stands to the next, and which is the first it is surely before."""
    keys = group.keys
    after = [_first_after(group, place) for place in range(len(keys))]
    for place, key in enumerate(keys[:-1]):
        if after[place] > place + 1:
            yield (f"your choices do not decide between {names[key]} and {names[keys[place + 1]]}")
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
        return f"{names[one]} before {names[other]}: through the other comparisons"
    return f"{names[one]} before {names[other]}: {won:g} of {met:g} choices"
