"""Marks of where the pair stands: how one is made, what moved since, and how one is put back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

import msgspec
import numpy as np

from witnessmark.errors import BadInput, TooFewShots
from witnessmark.geometry.adjust import FloatArray
from witnessmark.locate.blunders import explain
from witnessmark.locate.compare import Comparison, compare, in_common
from witnessmark.locate.pose import Located, expanded_of
from witnessmark.model import (
    OF_CABINET,
    AimedAt,
    Mark,
    OneCabinet,
    Pair,
    Placement,
    Poses,
    Restoring,
    Setup,
    ShotKind,
    Side,
)
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import Guidance
from witnessmark.shots.candidates import selection_from

CHECK_SHOTS = 3
"""Shots of a cabinet that tell whether it still stands there: a pose has three unknowns."""
_MOST_LOCATED = 60
"""Most sets of that many shots whose poses are calculated: all, where a mark has up to eight."""


def is_known(guidance: Guidance) -> bool:
    """Return whether both cabinets stand where they were measured, as far as the round knows."""
    return guidance.poses is not None and not guidance.symmetry_stale


def to_be_nudged(guidance: Guidance) -> Side | None:
    """Return the cabinet that a nudge is asked for: it may have been moved since it was shot."""
    return next((side for side in Side if guidance.cabinets[side].stage is Stage.NUDGE), None)


def standing(guidance: Guidance | None) -> Poses | None:
    """Return where both stand, if that is known and neither may have been moved since."""
    if guidance is None or not is_known(guidance) or to_be_nudged(guidance) is not None:
        return None
    return guidance.poses


def mark_of(guidance: Guidance, at: datetime, name: str) -> Mark:
    """Return a mark of where the pair stands.

    Raises:
        BadInput: when that is not known, or the name is none for a mark.
    """
    if guidance.poses is None or not is_known(guidance):
        raise BadInput("no mark can be made: it is not known where the pair stands")
    bare = msgspec.structs.replace(guidance.setup, restoring=None)
    enough = dict(_called_enough(guidance))
    return Mark(
        at,
        name,
        bare,
        guidance.poses,
        guidance.shots,
        called_enough=enough or msgspec.UNSET,
    )


def _called_enough(guidance: Guidance) -> Iterator[tuple[Side, float]]:
    """The cabinets that were called good enough, with the probability of each to be in."""
    for side in Side:
        found = guidance.cabinets[side].appraisal
        against = found and found.against_target
        is_enough = guidance.works[side].stage is Stage.ENOUGH
        if is_enough and against and against.within is not None:
            yield side, round(against.within, 4)


def moved_between(then: Mark, now: Mark) -> Comparison:
    """Return what moved from one mark to one that was kept later; room and seat are the later's.

    Which was kept later is not told by their times, for a clock may have been wrong.
    """
    return compare(now.setup, then.poses, now.poses, _shared(then, now))


def _shared(then: Mark, now: Mark) -> FloatArray | None:
    """Return the covariance that one meter gives both; None for two meters, or lacking shots."""
    if then.setup.meter != now.setup.meter:
        return None
    try:
        before, after = _located(then), _located(now)
    except (BadInput, TooFewShots):
        return None
    return in_common(before, after, now.setup.meter)


def _located(mark: Mark) -> Located:
    """Both cabinets by the shots of a mark.

    Raises:
        BadInput: when a shot's point or aim does not exist.
        TooFewShots: when they do not fix both.
    """
    located = explain(mark.setup, mark.shots).located
    if len(located.placements) < len(Side):
        raise TooFewShots("a mark needs shots of both cabinets")
    return located


def to_put_back(setup: Setup, mark: Mark) -> Setup:
    """Return the setup whose targets are where a mark has both cabinets."""
    return _towards(setup, mark, is_check=False)


def put_back_after_check(setup: Setup, marks: Sequence[Mark], found: Comparison) -> Setup:
    """Return the setup for putting back what a check ``found`` moved of one of these ``marks``.

    A cabinet that has not moved stays as it stands, and has no target. Where the mark is none of
    these, only the shots of the check are asked for.
    """
    aimed = _going_on(setup, marks)
    for side in Side:
        if not found.cabinets[side].seen:
            targets = aimed.targets.replacing(side, None)
            aimed = msgspec.structs.replace(aimed, targets=targets)
    return aimed


def _going_on(setup: Setup, marks: Sequence[Mark]) -> Setup:
    restoring = setup.restoring
    assert restoring is not None  # noqa: S101 - guarded by the only caller
    mark = next((mark for mark in reversed(marks) if mark.poses == restoring.poses), None)
    if mark is not None:
        return to_put_back(setup, mark)
    going_on = msgspec.structs.replace(restoring, is_check=False)
    return msgspec.structs.replace(setup, restoring=going_on)


def to_check(setup: Setup, mark: Mark) -> Setup:
    """Return the setup for checking with few shots whether both stand where a mark has them."""
    return _towards(setup, mark, is_check=True)


def _towards(setup: Setup, mark: Mark, *, is_check: bool) -> Setup:
    placements, tilts = mark.poses.placements, mark.poses.tilts
    leaning = [None if (tilt := tilts[side]) is None else tilt.tilt_deg for side in Side]
    aimed = msgspec.structs.replace(
        setup,
        targets=Pair[Placement | None](placements.left, placements.right),
        tilt_targets_deg=Pair(*leaning),
    )
    cabinets = [OneCabinet(aimed, side) for side in Side]
    kinds = [tuple(_kinds(cabinet, mark)) for cabinet in cabinets]
    if is_check:
        kinds = [_fewest(*each) for each in zip(cabinets, kinds, strict=True)]
    restoring = Restoring(mark.name, mark.poses, Pair(*kinds), is_check)
    return msgspec.structs.replace(aimed, restoring=restoring)


def _kinds(cabinet: OneCabinet, mark: Mark) -> Iterator[ShotKind]:
    """The shots of a mark, each once, from points that the cabinet still has."""
    for kind in dict.fromkeys(shot.kind for shot in mark.shots):
        if kind.cabinet is cabinet.side and kind.point in cabinet.body.touch_points:
            yield kind


def _fewest(cabinet: OneCabinet, kinds: tuple[ShotKind, ...]) -> tuple[ShotKind, ...]:
    """The three that tell most of the cabinet; all where no three fix it."""
    setup, target = cabinet.setup, cabinet.target
    assert target is not None  # noqa: S101 - the mark's, put there by the only caller

    def worst(some: tuple[ShotKind, ...]) -> float:
        known = expanded_of(cabinet, target, some)
        if known is None:
            return float("inf")
        return max(quantity.of(known) / quantity.tolerance(setup) for quantity in OF_CABINET)

    best = min(_most_telling(cabinet, target, kinds), key=worst, default=kinds)
    return best if worst(best) < float("inf") else kinds


def _most_telling(
    cabinet: OneCabinet, target: Placement, kinds: Sequence[ShotKind]
) -> list[tuple[ShotKind, ...]]:
    """The sets of three that tell most by their derivatives alone, in the order of the shots."""
    # one to the other cabinet tells of both, which three shots cannot fix
    own = [kind for kind in kinds if kind.to is not AimedAt.CABINET]
    if len(own) < CHECK_SHOTS:
        return []
    limits = np.array([quantity.tolerance(cabinet.setup) for quantity in OF_CABINET])
    selection = selection_from(cabinet.setup, target, own, limits, kept=None)
    ranked = selection.of_size(1)
    for size in range(2, CHECK_SHOTS + 1):
        ranked = selection.of_size(size, ranked)
    sets = sorted(map(sorted, ranked.sets[:_MOST_LOCATED].tolist()))
    return [tuple(own[place] for place in chosen) for chosen in sets]
