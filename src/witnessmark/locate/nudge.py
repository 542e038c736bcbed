"""The move that brings a cabinet from where it stands onto its target.

Hands push along walls, one thing at a time, and each push leaves the other tape as it was:

* toward a side wall is along the front wall, at the same setback;
* toward the seat or the front wall is along the cabinet's own side wall, at the same distance;
* a turn is about the middle of the baffle's lower front edge, or about the foot that is held.

In a square room a push is as long as the change of its tape. Out of square it is longer by the
cosine of the corner's error, and ``words/nudge.py`` says along which wall.
"""

from __future__ import annotations

import math

import msgspec

from witnessmark.geometry.frame import side_frame
from witnessmark.geometry.verdict import Verdict
from witnessmark.model import OF_CABINET, OneCabinet, Placement, Quantity, Room, Setup, Side

HANDS_MM = 1.0
"""Least that hands can move a heavy floorstander as they mean to; common practice, no source."""
HOLD_SHARE = 0.2
"""Part of the farthest foot's move below which a foot is held in place instead."""


class FootMove(msgspec.Struct, frozen=True):
    """How far one foot goes: positive inward from the side wall, positive from the front wall."""

    side_mm: float
    setback_mm: float

    @property
    def distance_mm(self) -> float:
        """How far it goes in all."""
        return math.hypot(self.side_mm, self.setback_mm)


class Nudge(msgspec.Struct, frozen=True):
    """The whole correction: ``move`` is target minus measured."""

    move: Placement
    asked: tuple[Quantity, ...]
    """The quantities that are not ``in``, the one that matters most first."""
    feet: dict[str, FootMove]
    hold: str | None
    """The foot to hold while the cabinet is turned about it, where that does nearly all."""
    largest_mm: float
    """How far the largest of the pushes and turns that are asked for moves a foot."""

    @property
    def is_less_than_hands_can(self) -> bool:
        """Whether all of it is less than hands can do as they mean to."""
        return self.largest_mm < HANDS_MM


def nudge(cabinet: OneCabinet, measured: Placement, verdicts: dict[Quantity, Verdict]) -> Nudge:
    """Return the move from ``measured`` to the target of a cabinet that has one.

    Args:
        cabinet: which one, of which setup.
        measured: where it stands.
        verdicts: of each quantity; what is ``in`` is not asked for.
    """
    target = cabinet.target
    assert target is not None  # noqa: S101 - guarded by every caller; a nudge needs a target
    move = target.minus(measured)
    feet = _feet(cabinet, measured, target)
    hold = _foot_to_hold(cabinet.setup, feet, move)
    turned = msgspec.structs.replace(measured, toe_in_deg=target.toe_in_deg)
    by_hand = {
        Quantity.SIDE: abs(move.side_mm),
        Quantity.SETBACK: abs(move.setback_mm),
        Quantity.TOE_IN: farthest_move_mm(cabinet, measured, turned),
    }
    asked = _by_weight(cabinet.setup, move, verdicts)
    largest_mm = max((by_hand[one] for one in asked), default=0.0)
    return Nudge(move, asked, feet, hold, largest_mm)


def farthest_move_mm(cabinet: OneCabinet, start: Placement, end: Placement) -> float:
    """Return how far the foot goes that goes farthest between two placements."""
    return max(foot.distance_mm for foot in _feet(cabinet, start, end).values())


def _feet(cabinet: OneCabinet, measured: Placement, target: Placement) -> dict[str, FootMove]:
    frame = side_frame(cabinet.setup.room, cabinet.side)
    moves = {}
    for name, foot in cabinet.body.standing_points.items():
        now = frame.tape_distances(frame.point(measured, foot))
        then = frame.tape_distances(frame.point(target, foot))
        moves[name] = FootMove(then[0] - now[0], then[1] - now[1])
    return moves


def _foot_to_hold(setup: Setup, feet: dict[str, FootMove], move: Placement) -> str | None:
    """The foot about which the correction is close to a turn, if there is one."""
    if abs(move.toe_in_deg) <= setup.tolerance.toe_in_deg:
        return None
    still = min(feet, key=lambda name: feet[name].distance_mm)
    farthest = max(foot.distance_mm for foot in feet.values())
    near = min(HOLD_SHARE * farthest, setup.tolerance.position_mm)
    return still if feet[still].distance_mm <= near else None


def _by_weight(
    setup: Setup, move: Placement, verdicts: dict[Quantity, Verdict]
) -> tuple[Quantity, ...]:
    """The quantities that are not ``in``, by how many tolerances each is off."""
    weights = [(abs(one.of(move)) / one.tolerance(setup), one) for one in OF_CABINET]
    return tuple(one for _, one in sorted(weights, reverse=True) if verdicts[one] != Verdict.IN)


def pushes(room: Room, side: Side, side_mm: float, setback_mm: float) -> tuple[float, float]:
    """Return how far hands push for a change of both tapes: along the front and the side wall."""
    frame = side_frame(room, side)
    return frame.per_side * side_mm, math.hypot(1.0, frame.per_setback) * setback_mm
