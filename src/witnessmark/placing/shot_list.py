"""Which shots are taken of a cabinet, and in which order.

The usual walk has a shot to spare that checks the others, so it is kept wherever it is enough;
where more shots are needed, or one of its shots cannot be taken, the planned ones are taken. Spot
shots, where the person allows them, come in only for what shots to the near walls do not settle,
and then after those: by then it is known how the cabinet is turned, and where the dot should be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import Final

import msgspec

from witnessmark.errors import BadInput
from witnessmark.locate.pose import expanded_of
from witnessmark.locate.sightlines import why_impossible
from witnessmark.model import (
    AimedAt,
    Held,
    OneCabinet,
    Placement,
    Setup,
    ShotKind,
    Side,
    TouchPoint,
)
from witnessmark.shots.candidates import SHARE
from witnessmark.shots.plan import ShotPlan, planned_shots

_MANY = 8
"""Shots to the near walls, two usual walks of them, beyond which a spot shot is less work."""
_EYES_MM: Final = (800.0, 1500.0)
"""Between these heights are the eyes of a seated person, children and high chairs included."""


def usual_shots(cabinet: OneCabinet) -> tuple[ShotKind, ...]:
    """Return the shots that fix one cabinet, in walking order.

    Two shots from one face fix the toe-in, and the faces to the front wall and to the own side wall
    each give one coordinate. The left cabinet is walked from its outer side round the rear to the
    inside, the right one the other way, so that the walk goes straight on from one to the other.
    """
    side, held = cabinet.side, cabinet.setup.held
    own = AimedAt(side.value)
    round_the_left = (
        ("front-outer", own),
        ("rear-outer", own),
        ("rear-outer", AimedAt.FRONT),
        ("rear-inner", AimedAt.FRONT),
    )
    order = round_the_left if side is Side.LEFT else round_the_left[::-1]
    return tuple(ShotKind(side, point, to, held) for point, to in order)


def crosses_at_eye_height(kind: ShotKind, point: TouchPoint) -> bool:
    """Return whether a beam from this touch point runs where people's eyes may be."""
    height_mm = point.height_mm if kind.height_mm is None else kind.height_mm
    return kind.is_across_the_room and _EYES_MM[0] <= height_mm <= _EYES_MM[1]


class Route(msgspec.Struct, frozen=True):
    """The shots of one cabinet in walking order; a shot that is taken twice is in it twice."""

    shots: tuple[ShotKind, ...]
    remark: str | None = None
    """Why no shots can bring the verdict ``in``; None where they can, or without a target."""


def route(cabinet: OneCabinet) -> Route:
    """Return the shots to take of a cabinet, worked out once for a setup.

    Without a target there is nothing to be called in on, and the usual walk is taken.
    """
    if cabinet.target is None:
        return Route(usual_shots(cabinet))
    if marked := _as_marked(cabinet, cabinet.target):
        return Route(marked)
    standing = cabinet.setup.known_targets
    try:
        plan = plan_of_shots(cabinet, standing)
        shots = shots_asked_for(cabinet, standing, plan)
    except BadInput as error:
        return Route(usual_shots(cabinet), str(error))
    return Route(shots, None if plan.reaches else plan.words)


def _as_marked(cabinet: OneCabinet, target: Placement) -> tuple[ShotKind, ...]:
    """The shots of the mark that is being put back; none where they cannot be taken any more."""
    setup = cabinet.setup
    kinds = () if setup.restoring is None else setup.restoring.shots[cabinet.side]
    if any(why_impossible(setup, setup.known_targets, kind) is not None for kind in kinds):
        return ()
    return kinds if kinds and expanded_of(cabinet, target, kinds) else ()


def plan_of_shots(cabinet: OneCabinet, standing: Mapping[Side, Placement]) -> ShotPlan:
    """Return the fewest shots that settle a cabinet, with spot shots only where needed.

    Args:
        cabinet: its setup says how the meter is held, and whether spot shots may be taken.
        standing: where the cabinets stand, this one at least.

    Raises:
        BadInput: when no shot can be taken of it.
    """
    setup = cabinet.setup
    if not setup.spot_shots:
        return planned_shots(cabinet, standing)
    try:
        plain = planned_shots(cabinet, standing)
    except BadInput:
        plain = None
    if plain is not None and plain.reaches and len(plain.shots) <= _MANY:
        return plain
    plan = planned_shots(cabinet, standing, holds=(setup.held, Held.SPOT))
    # where spots do not suffice either, they are still worth their while for the toe-in
    if plain is None or plan.reaches or not _turn_is_known(setup, plain):
        return plan
    return plain


def _turn_is_known(setup: Setup, plan: ShotPlan) -> bool:
    expanded = plan.expanded
    return expanded is not None and expanded.toe_in_deg <= SHARE * setup.tolerance.toe_in_deg


def shots_asked_for(
    cabinet: OneCabinet, standing: Mapping[Side, Placement], plan: ShotPlan
) -> tuple[ShotKind, ...]:
    """Return the usual shots where they are enough, with planned spots where only these help."""
    usual = usual_shots(cabinet)
    possible = all(why_impossible(cabinet.setup, standing, kind) is None for kind in usual)
    if any(kind.held is Held.SPOT for kind in plan.shots):
        kept = usual if possible else ()
        more = (Counter(plan.shots) - Counter(kept)).elements()
        return kept + tuple(sorted(more, key=lambda kind: kind.held is Held.SPOT))
    return usual if possible and _is_enough(plan, usual) else plan.shots or usual


def _is_enough(plan: ShotPlan, usual: tuple[ShotKind, ...]) -> bool:
    """Whether more shots than the usual ones would not bring anything within reach."""
    return plan.fewest is None or plan.fewest <= len(usual)
