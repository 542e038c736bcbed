"""The order in which positions are tried: stations, spread, toe-in, tilt, one thing at a time.

Each stage sets out from the position that was kept. What is done is read from the trials alone, so
that a walk can be left and taken up again.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec

from witnessmark.listening.difference import STAGES, PairPose, found, mean_tilt, varied, wanted
from witnessmark.listening.judging import latest_flagged
from witnessmark.listening.steps import Ground, Proposal, ground, proposals
from witnessmark.model import Pair, Setup, Trial, Varied


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
        trials: all so far, by key.
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
    latest = max(staged, key=lambda trial: trial.at, default=None)
    return Varied.STATION if latest is None else latest.varied


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
    following = _following(offered, {key: t for key, t in trials.items() if t.varied is stage})
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
    times = [
        max((staged[key].at for key in one.tried if key in staged), default=None) for one in offered
    ]
    latest = max((at for at in times if at is not None), default=None)
    behind = 0 if latest is None else times.index(latest) + 1
    open_ones = [one for one in offered[behind:] + offered[:behind] if _is_open(one)]
    return open_ones[0] if open_ones else None


def _is_open(proposal: Proposal) -> bool:
    return not proposal.tried and not proposal.obstacles
