"""How far the work on one cabinet has come in a round."""

from __future__ import annotations

import enum

import msgspec

from witnessmark.model import Placement, Shot, ShotKind
from witnessmark.placing.route import Route


class Stage(enum.StrEnum):
    """What is being done with a cabinet."""

    MEASURE = "measure"
    NUDGE = "nudge"
    SETTLED = "settled"
    BEST = "best"


class Stand(msgspec.Struct, frozen=True, kw_only=True):
    """How far the work on one cabinet has come."""

    route: Route
    """The shots of a whole walk round it."""
    todo: tuple[ShotKind, ...]
    """Shots of the walk that are still to be taken, the prompted one first."""
    belief: Placement
    """Where the cabinet is thought to stand before its new shots say so."""
    gate_mm: float
    """How far a reading may be from what that belief predicts."""
    stage: Stage = Stage.MEASURE
    shots: tuple[Shot, ...] = ()
    """All since the cabinet was last moved."""
    judged: tuple[Shot, ...] = ()
    """The shots of the last finished walk: the pose that is shown until the next is finished."""
    walks: int = 0
    """Finished walks since the cabinet was last moved."""
    repeated: tuple[ShotKind, ...] = ()
    """Suspect shots that are taken once more, or were."""
    wanted: tuple[ShotKind, ...] = ()
    """Shots that were skipped and are asked for all the same."""
    nudged_from: Placement | None = None
    """Where it stood when the nudge was asked for that its shots are taken after."""
    coming: bool = False
    """The meter rests at the first point, which is not yet where the nudge should bring it."""
    nudges: int = 0
