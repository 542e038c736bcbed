"""The order in which positions are tried: stations, spread, toe-in, tilt, one thing at a time.

Each stage sets out from the position that was kept. What is done is read from the trials alone, so
that a walk can be left and taken up again. The stations follow one another from abreast of the seat
forward, or are fewer: those that lie farthest apart first, then between the best and its better
neighbour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import msgspec

from witnessmark.listening.difference import STAGES, PairPose, found, mean_tilt, varied, wanted
from witnessmark.listening.judging import latest_flagged
from witnessmark.listening.steps import Ground, Proposal, ground, proposals
from witnessmark.model import Pair, Setup, Trial, Varied

_COARSE: Final = 5
"""The part of the walk, one in this, beyond which no station may be from a tried one before it is
looked between the best: a preference that swings faster along the walls is missed; no source."""


class Walk(msgspec.Struct, frozen=True):
    """One stage of the walk: every position of it, and which comes next.

    ``kept`` is the key of the trial from which the one thing is varied, None where none is kept
    yet; ``following`` is None once every position is tried that can be.
    """

    stage: Varied
    kept: str | None
    proposals: tuple[Proposal, ...]
    following: Proposal | None
    knows_tilt: bool
    """Whether the tilt now is known; steps of it count from upright otherwise."""


def walk(setup: Setup, trials: Mapping[str, Trial], *, stage: Varied | None = None) -> Walk:
    """Return where the walk is, by the trials so far, and what to try next.

    It sets out from the latest trial that is flagged best.

    Args:
        setup: room, pair, seat and mirror line; its targets are where a walk without trials sets
            out from, but for the stations, which begin on the middles of the lanes.
        trials: all so far, by key, in the order in which they were stored.
        stage: one of ``STAGES``; without it the present one, that of the latest trial that varied
            one of them, or the next where that is at its end and a trial is kept.
    """
    kept = latest_flagged(trials)
    here = ground(setup)
    if kept is not None:
        here = here.standing(kept_posture(setup, trials[kept]))
    if stage is not None:
        return _at(here, trials, stage, kept)
    present = STAGES.index(_latest_stage(trials))
    ahead = (_at(here, trials, each, kept) for each in STAGES[present:])
    last = next(ahead)
    while last.following is None and kept is not None:
        if (onward := next(ahead, None)) is None:
            break
        last = onward
    return last


def _latest_stage(trials: Mapping[str, Trial]) -> Varied:
    staged = [trial for trial in trials.values() if trial.varied in STAGES]
    return staged[-1].varied if staged else Varied.STATION


def kept_posture(setup: Setup, trial: Trial) -> PairPose:
    """Return where a trial was to stand and lean, unless it was found elsewhere."""
    as_found, as_wanted = found(trial), wanted(trial)
    if varied(setup, as_wanted, as_found) is not Varied.NOTHING:
        return as_found
    tilts = as_found if mean_tilt(as_wanted) is None else as_wanted
    return PairPose(as_wanted.placements, tilts.tilts_deg)


def _at(here: Ground, trials: Mapping[str, Trial], stage: Varied, kept: str | None) -> Walk:
    if stage is Varied.STATION and kept is None:
        here = here.in_lanes
    offered = tuple(_with_trials(here.setup, one, trials) for one in proposals(here, stage))
    staged = {key: t for key, t in trials.items() if t.varied is stage}
    if stage is Varied.STATION and here.setup.halves_stations:
        following = _between(offered, trials)
    else:
        following = _following(offered, staged)
    return Walk(stage, kept, offered, following, here.tilt_deg is not None)


def _with_trials(setup: Setup, proposal: Proposal, trials: Mapping[str, Trial]) -> Proposal:
    """The proposal with the trials that were to stand there, or were found there."""

    def is_there(posture: PairPose) -> bool:
        known = _upright(posture) if proposal.varied is Varied.TILT else posture
        return varied(setup, proposal.posture, known) is Varied.NOTHING

    tried = tuple(
        key for key, trial in trials.items() if is_there(wanted(trial)) or is_there(found(trial))
    )
    return msgspec.structs.replace(proposal, tried=tried)


def _upright(posture: PairPose) -> PairPose:
    """Return the same, the cabinets upright where it is not known how they leaned."""
    left, right = posture.tilts_deg.left, posture.tilts_deg.right
    return posture._replace(tilts_deg=Pair(left or 0.0, right or 0.0))


def _following(offered: tuple[Proposal, ...], staged: Mapping[str, Trial]) -> Proposal | None:
    """The first behind the latest that was tried in this stage, else the first left out."""
    turn = {key: place for place, key in enumerate(staged)}
    last_turns = [max((turn.get(key, -1) for key in one.tried), default=-1) for one in offered]
    latest = max(last_turns, default=-1)
    behind = 0 if latest < 0 else last_turns.index(latest) + 1
    open_ones = [one for one in offered[behind:] + offered[:behind] if _is_open(one)]
    return open_ones[0] if open_ones else None


def _between(offered: tuple[Proposal, ...], trials: Mapping[str, Trial]) -> Proposal | None:
    """The next by halving, with the mean grade of each station that was graded."""
    heard = {}
    for place, one in enumerate(offered):
        given = [trials[key].impression.mean_grade for key in one.tried]
        known = [grade for grade in given if grade is not None]
        if one.tried:
            heard[place] = sum(known) / len(known) if known else None
    along = [one.targets.left.setback_mm for one in offered]
    open_ones = [place for place, one in enumerate(offered) if _is_open(one)]
    following = halving(along, open_ones, heard)
    return None if following is None else offered[following]


def halving(
    along_mm: Sequence[float], open_ones: Sequence[int], heard: Mapping[int, float | None]
) -> int | None:
    """Return the station that is tried next where as few as possible are.

    While any lies farther than a fifth of the walk from all that were heard: the farthest one.
    Then the middle one between the best and its neighbour that was graded higher, else between it
    and the other neighbour. Without any grade the farthest goes on being the next.

    Args:
        along_mm: where each station is, in their order along the walls.
        open_ones: the places of those that can be tried yet.
        heard: the mean grade of each that was heard, by place; None where it was not graded.

    Returns:
        A place, or None where none is left between the best and its neighbours.
    """
    if not open_ones:
        return None
    if not heard:
        return open_ones[0]
    gaps = {at: min(abs(along_mm[at] - along_mm[one]) for one in heard) for at in open_ones}
    farthest = max(open_ones, key=lambda at: round(gaps[at], 6))
    grades = {at: grade for at, grade in heard.items() if grade is not None}
    is_coarse = gaps[farthest] > abs(along_mm[-1] - along_mm[0]) / _COARSE - 1e-6
    if is_coarse or not grades:
        return farthest
    best = max(grades, key=grades.__getitem__)
    before = max((at for at in grades if at < best), default=-1)
    behind = min((at for at in grades if at > best), default=len(along_mm))
    sides = sorted(
        ((before, best), (best, behind)),
        key=lambda ends: -max(grades.get(at, -1.0) for at in ends if at != best),
    )
    for first, last in sides:
        inner = [at for at in open_ones if first < at < last]
        if inner:
            middle = (along_mm[max(first, 0)] + along_mm[min(last, len(along_mm) - 1)]) / 2
            return min(inner, key=lambda at: abs(along_mm[at] - middle))
    return None


def _is_open(proposal: Proposal) -> bool:
    return not proposal.tried and not proposal.obstacles
