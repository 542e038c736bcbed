"""Which shots are taken of a cabinet, and in which order.

The usual walk has a shot to spare that checks the others, so it is kept wherever it is enough;
where more shots are needed, or one of its shots cannot be taken, the planned ones are taken. Spot
shots, where the person allows them, come in only for what shots to the near walls do not settle,
and then after those: by then it is known how the cabinet is turned, and where the dot should be.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Final

import msgspec

from witnessmark.errors import BadInput
from witnessmark.locate.pose import expanded_of, predict
from witnessmark.locate.sightlines import why_impossible
from witnessmark.model import (
    AimedAt,
    Held,
    OneCabinet,
    Placement,
    Quantity,
    Setup,
    ShotKind,
    Side,
    TouchPoint,
)
from witnessmark.shots.candidates import SHARE
from witnessmark.shots.plan import ShotPlan, WalkingOrder, planned_shots

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
    return Route(shots, plan.shortfall)


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
    """Return whether more shots than the usual ones would not bring anything within reach."""
    return plan.fewest is None or plan.fewest <= len(usual)


def watched_shots(
    cabinet: OneCabinet, shots: tuple[ShotKind, ...], sought: tuple[Quantity, ...]
) -> tuple[ShotKind, ...]:
    """Return the shots to watch one after another while a cabinet is nudged onto its target.

    One for each place that is sought, to the wall that it is counted from: of these the one that a
    turn changes least. A turn that matters most begins with the shot that it changes most; one that
    goes with a push ends with a second shot to a wall, because the two together tell it alone.

    Args:
        cabinet: one that has a target.
        shots: all that are taken of it.
        sought: what is to be changed, the most important first.
    """
    target = cabinet.target
    kinds = [kind for kind in dict.fromkeys(shots) if kind.held in (Held.WALL, Held.CABINET)]
    if target is None or not kinds:
        return shots[:1]
    by_turn = {kind: change_by_turn(cabinet, target, kind) for kind in kinds}
    watched: list[ShotKind] = []
    for quantity in sought:
        if quantity is Quantity.TOE_IN and not watched:
            watched.append(max(kinds, key=lambda kind: abs(by_turn[kind])))
        beside = [kind for kind in kinds if _place_told(kind) is quantity]
        if beside:
            watched.append(min(beside, key=lambda kind: abs(by_turn[kind])))
    watched = list(dict.fromkeys(watched))
    if Quantity.TOE_IN in sought and len(watched) > 1:
        first, second = _pair_for_a_turn(by_turn, watched)
        if second not in watched:
            watched.insert(watched.index(first) + 1, second)
    return tuple(watched) or shots[:1]


def change_by_turn(cabinet: OneCabinet, standing: Placement, kind: ShotKind) -> float:
    """Return by how much a shot changes when a cabinet that stands so turns in, mm per degree."""
    before, after = (
        msgspec.structs.replace(standing, toe_in_deg=standing.toe_in_deg + part)
        for part in (-0.5, 0.5)
    )
    setup, side = cabinet.setup, cabinet.side
    return predict(setup, {side: after}, kind) - predict(setup, {side: before}, kind)


def _place_told(kind: ShotKind) -> Quantity:
    """The place that a shot to a wall tells."""
    across = kind.to in (AimedAt.LEFT, AimedAt.RIGHT)
    return Quantity.SIDE if across else Quantity.SETBACK


def _pair_for_a_turn(
    by_turn: dict[ShotKind, float], watched: list[ShotKind]
) -> tuple[ShotKind, ShotKind]:
    """The shot that is watched, and the one beside it, whose difference a turn changes most."""
    pairs = [
        (one, other)
        for one in watched
        for other in by_turn
        if (other.to, other.held) == (one.to, one.held)
    ]
    return max(pairs, key=lambda pair: abs(by_turn[pair[0]] - by_turn[pair[1]]))


def nudge_walk(
    cabinet: OneCabinet, watches: tuple[ShotKind, ...], shots: Iterable[ShotKind]
) -> tuple[ShotKind, ...]:
    """Return shots in the order in which they are taken after a nudge: the watched ones first.

    The others follow in walking order from there, spots last; what is taken twice is taken so at
    once. Without any to watch the order stays as it is.

    Args:
        cabinet: one that has a target, where there are any to watch.
        watches: those that are watched, in order; one that is not among ``shots`` is left out, and
            the last of them is where the walk goes on from.
        shots: all that are to be taken.
    """
    count = Counter(shots)
    others = [kind for kind in count if kind not in watches]
    if watches and cabinet.target is not None:
        walk = WalkingOrder(cabinet, cabinet.setup.known_targets)
        others = walk.onward(watches[-1], others)[1:]
        others.sort(key=lambda kind: kind.held is Held.SPOT)
    order = [*(kind for kind in watches if kind in count), *others]
    return tuple(kind for kind in order for _ in range(count[kind]))
