"""How many turns of which spikes bring a cabinet to the tilt that is wanted.

A cabinet stands on the tips of its feet. A foot that reaches e below the base at ``back_mm`` b from
the baffle puts the base at a slope of tan t = -de/db, so that a change of tilt needs each foot to
reach further by

    (b_0 - b) (tan t_wanted - tan t_now)

with b_0 anywhere: on the rear feet, and the front ones do the work, or the other way round. Feet in
front of b_0 come out to lean the cabinet back. Because the change depends on b alone the cabinet
does not lean sideways for it, on three feet or on four.

Threads are right-handed. A spike that is screwed into the base from below is turned in
anticlockwise as seen from above, which lowers the cabinet; clockwise seen from above brings it out,
which raises it. The same holds for a foot that is turned from above through a plinth.
"""

from __future__ import annotations

import math

import msgspec

from witnessmark.errors import BadInput
from witnessmark.model import Cabinet, pitch_mm

_STILL_MM = 0.05
"""Move of a foot, mm, below which it is left alone."""


class FootTurn(msgspec.Struct, frozen=True):
    """What is done with one foot: ``raise_mm`` is how much further it reaches below the base.

    ``turns`` is positive when the spike comes out, clockwise seen from above; None where the
    thread is not known.
    """

    raise_mm: float
    turns: float | None


class SpikePlan(msgspec.Struct, frozen=True):
    """The feet to turn, by name, and others that would do as well; feet not named are left alone.

    ``turn_deg`` is how far the baffle leans further back for it, forward when negative.
    """

    feet: dict[str, FootTurn]
    otherwise: dict[str, FootTurn]
    turn_deg: float


def spike_plan(cabinet: Cabinet, tilt_deg: float, target_deg: float) -> SpikePlan:
    """Return the turns that bring a cabinet from one tilt to another.

    Those feet are turned of which there are fewer; among as many, those that are screwed in,
    because that leaves more thread in the base.

    Args:
        cabinet: its feet, and their thread where it is known.
        tilt_deg: how far the baffle leans back now.
        target_deg: how far it should.

    Raises:
        BadInput: when the feet do not stand at least 50 mm behind one another.
    """
    backs = [foot.back_mm for foot in cabinet.standing_points.values()]
    if max(backs) - min(backs) < 50:
        raise BadInput(
            "cabinet.feet: the front and rear feet stand less than 50 mm behind one another; "
            "tilt cannot be set with them"
        )
    slope = math.tan(math.radians(target_deg)) - math.tan(math.radians(tilt_deg))
    by_front, by_rear = (_moves(cabinet, pivot, slope) for pivot in (max(backs), min(backs)))
    best, other = sorted((by_front, by_rear), key=_effort)
    return SpikePlan(best, other, target_deg - tilt_deg)


def _moves(cabinet: Cabinet, pivot_mm: float, slope: float) -> dict[str, FootTurn]:
    pitch = None if cabinet.thread is None else pitch_mm(cabinet.thread)
    moves = {}
    for name, foot in cabinet.standing_points.items():
        rise = (pivot_mm - foot.back_mm) * slope
        if abs(rise) >= _STILL_MM:
            moves[name] = FootTurn(rise, None if pitch is None else rise / pitch)
    return moves


def _effort(moves: dict[str, FootTurn]) -> tuple[int, bool]:
    return len(moves), any(move.raise_mm > 0 for move in moves.values())
