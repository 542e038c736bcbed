"""Which shots the cabinets need as things are now: what a person reads before the first one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from witnessmark.errors import BadInput
from witnessmark.layout.plan import lay_out
from witnessmark.layout.start import InLane
from witnessmark.lengths import format_expanded
from witnessmark.model import Held, OneCabinet, Placement, Setup, Side, Wall
from witnessmark.placing.shot_list import crosses_at_eye_height, plan_of_shots, shots_asked_for
from witnessmark.shots.plan import ShotPlan
from witnessmark.words.cautions import BEAM_ACROSS

NO_BACK_WALL = (
    "no spot shots are asked for: their dot needs a solid back wall, and there is a datum line"
)


def shots_needed(setup: Setup) -> tuple[str, ...]:
    """Return how many shots settle each cabinet and to what, or why none can; a sentence for each.

    Of cabinets on their targets; one without a target stands straight ahead on the middle of its
    lane, half way to the seat. Where both sentences are the same there is only one.
    """
    try:
        standing = _standing(setup)
    except BadInput as error:
        return (str(error),)
    plans = {side: _plan(OneCabinet(setup, side), standing) for side in Side}
    told = {side: _words(OneCabinet(setup, side), standing, plan) for side, plan in plans.items()}
    return (*_each_named(told), *_cautions(setup, plans))


def _standing(setup: Setup) -> dict[Side, Placement]:
    targets = setup.known_targets
    if len(targets) == len(Side):
        return targets
    start = InLane(setup.seat.from_front_mm / 2)
    lanes = lay_out(setup.room, setup.cabinets, setup.seat, start, mirror=setup.mirror).placements
    return {side: lanes[side] for side in Side} | targets


def _plan(cabinet: OneCabinet, standing: Mapping[Side, Placement]) -> ShotPlan | str:
    """The plan, or why there is none."""
    try:
        return plan_of_shots(cabinet, standing)
    except BadInput as error:
        return str(error)


def _words(cabinet: OneCabinet, standing: Mapping[Side, Placement], plan: ShotPlan | str) -> str:
    if isinstance(plan, str):
        return plan
    if plan.shortfall is not None:
        return plan.shortfall
    assert plan.expanded is not None  # noqa: S101 - shots that are good enough fix the cabinet
    words = settled_words(cabinet, len(plan.shots), plan.expanded)
    spots = sum(kind.held is Held.SPOT for kind in plan.shots)
    if spots:
        among = "one of them is a spot shot" if spots == 1 else f"{spots} of them are spot shots"
        words += f"; {among}"
    asked_for = len(shots_asked_for(cabinet, standing, plan))
    if asked_for > len(plan.shots):
        words += f"; take {asked_for}, so that they check one another"
    return words


def settled_words(cabinet: OneCabinet, count: int, expanded: Placement) -> str:
    """Return how many shots fix a cabinet, and to what (k = 2)."""
    side, setback = (
        format_expanded(mm, cabinet.setup.units, whole=False)
        for mm in (expanded.side_mm, expanded.setback_mm)
    )
    return (
        f"{count} shots fix the {cabinet.side} cabinet: side to ±{side}, setback to ±{setback}, "
        f"toe-in to ±{expanded.toe_in_deg:.2f}°"
    )


def _cautions(setup: Setup, plans: Mapping[Side, ShotPlan | str]) -> Iterator[str]:
    """Yield what there is to say of beams across the room, once."""
    if setup.spot_shots and Wall.BACK in setup.room.datum:
        yield NO_BACK_WALL
    kinds = [kind for plan in plans.values() if isinstance(plan, ShotPlan) for kind in plan.shots]
    points = {side: setup.cabinets[side].touch_points for side in Side}
    if any(crosses_at_eye_height(kind, points[kind.cabinet][kind.point]) for kind in kinds):
        yield BEAM_ACROSS


def _each_named(told: Mapping[Side, str]) -> Iterator[str]:
    """The sentences, one for both cabinets where it is the same, else each with its cabinet."""
    same = {words.replace(f"the {side} cabinet", "each cabinet") for side, words in told.items()}
    if len(same) == 1:
        yield from same
        return
    for side, words in told.items():
        yield words if f"{side} cabinet" in words else f"{side} cabinet: {words}"
