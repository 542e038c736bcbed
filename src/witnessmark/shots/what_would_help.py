"""Why no set of shots is good enough, and what would be: one sentence, its figures computed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray, IntArray
from witnessmark.lengths import format_expanded, format_length, format_limit, format_small
from witnessmark.model import (
    OF_CABINET,
    AimedAt,
    Cabinet,
    Held,
    OneCabinet,
    Quantity,
    Setup,
    ShotKind,
    Wall,
)
from witnessmark.shots.candidates import SHARE, Candidates, Goal, candidates

STRAIGHTEDGES_MM = (600.0, 800.0, 1000.0, 1200.0, 1500.0, 2000.0)
"""Lengths in which straightedges are sold; common practice, no source."""
ZEROS_MM = (0.5, 0.3, 0.2, 0.1)
"""Standard deviations of the meter's zero, mm, that shooting known lengths may reach."""
NOT_FIXED = 1000.0
"""Uncertainty, as a multiple of its limit, above which a quantity is not measured at all."""


def what_would_help(offered: Candidates, best: IntArray) -> str:
    """Return what the best set of the shots leaves open, and what would bring it within reach."""
    goal, limits = offered.goal, offered.goal.limits
    loose = _loose(offered)
    if loose:
        return _not_fixed(goal, loose)
    expanded = offered.selection.expanded(best[None, :])[0]
    place = int((expanded / limits).argmax())
    worst = OF_CABINET[place]
    kinds = [offered.kinds[shot] for shot in best]
    units = goal.setup.units
    if worst.is_length:
        known = format_expanded(expanded[place], units, whole=False)
        needed = format_small(limits[place], units)
    else:
        known, needed = f"{expanded[place]:.2f}°", f"{limits[place]:.2f}°"
    sentence = (
        f"with this meter{_over_base(goal.cabinet, kinds, worst)} {worst.label} is known to "
        f"±{known} at best; ±{needed} is needed"
    )
    remedies = list(_remedies(goal))
    if remedies:
        return f"{sentence}; {' or '.join(remedies)}"
    return f"{sentence}; {_looser(goal.setup, expanded)}"


def _over_base(cabinet: OneCabinet, kinds: list[ShotKind], worst: Quantity) -> str:
    """The longest base between two shots of one kind to one wall, where that fixes the toe-in."""
    if worst is not Quantity.TOE_IN:
        return ""
    bases = [
        _base_mm(cabinet.body, one, other)
        for one, other in itertools.combinations(kinds, 2)
        if (one.to, one.held) == (other.to, other.held) and one.held is not Held.SPOT
    ]
    if not any(bases):
        return ""
    return f" over a {format_length(max(bases), cabinet.setup.units.whole)} base"


def _base_mm(body: Cabinet, one: ShotKind, other: ShotKind) -> float:
    first, second = body.touch_points[one.point], body.touch_points[other.point]
    if one.to in (AimedAt.FRONT, AimedAt.BACK):
        return abs(first.inward_mm - second.inward_mm)
    return abs(first.back_mm - second.back_mm)


def _loose(offered: Candidates) -> list[str]:
    """Return what all shots together leave open."""
    everything = np.arange(len(offered.kinds))[None, :]
    far = offered.selection.expanded(everything)[0] > NOT_FIXED * offered.goal.limits
    return [one.label for one, is_open in zip(OF_CABINET, far.tolist(), strict=True) if is_open]


def _not_fixed(goal: Goal, loose: list[str]) -> str:
    sentence = f"the shots that can be taken of the {goal.cabinet.side} cabinet do not fix its "
    sentence += " and ".join(loose)
    for held in (Held.WALL, Held.CABINET):
        otherwise = msgspec.structs.replace(goal, holds=(*goal.holds, held))
        if held not in goal.holds and _would_do(otherwise):
            return f"{sentence}: hold the meter on the {held} as well"
    everywhere = msgspec.structs.replace(goal, walls=tuple(Wall))
    if _would_do(everywhere):
        return f"{sentence}: shoot to the other walls as well, once the room's size is known well"
    return sentence


def _remedies(goal: Goal) -> Iterator[str]:
    """Yield what would do, each by itself: a straightedge, a spot shot, a meter better known."""
    longer = [edged for mm in STRAIGHTEDGES_MM if (edged := with_straightedge(goal, mm))]
    least = _first_that_does(longer)
    if least is not None:
        long_mm = least.cabinet.body.straightedge_mm or 0.0
        yield f"use a straightedge of {format_length(long_mm, goal.setup.units.whole)}"
    if Held.SPOT not in goal.holds:
        with_spot = msgspec.structs.replace(goal, holds=(*goal.holds, Held.SPOT))
        if _would_do(with_spot):
            yield "use a spot shot"
    learned = [_with_zero(goal, mm) for mm in ZEROS_MM if mm < goal.setup.meter.zero_mm]
    known = _first_that_does(learned)
    if known is not None:
        width = format_expanded(2 * known.setup.meter.zero_mm, goal.setup.units, whole=False)
        yield f"learn its zero to ±{width} by shooting known lengths"


def _first_that_does(changed: list[Goal]) -> Goal | None:
    """The first that would do, from the least change to the greatest; None when none would."""
    if not changed or not _would_do(changed[-1]):
        return None
    return next(one for one in changed if _would_do(one))


def _with_zero(goal: Goal, zero_mm: float) -> Goal:
    meter = msgspec.structs.replace(goal.setup.meter, zero_mm=zero_mm)
    return _with_setup(goal, msgspec.structs.replace(goal.setup, meter=meter))


def with_straightedge(goal: Goal, length_mm: float) -> Goal | None:
    """Return the same with a straightedge across the baffle; None where that gains nothing."""
    setup, cabinet = goal.setup, goal.cabinet
    if length_mm <= (cabinet.body.straightedge_mm or 0.0):
        return None
    try:
        longer = msgspec.structs.replace(cabinet.body, straightedge_mm=length_mm)
    except BadInput:
        return None
    cabinets = setup.cabinets.replacing(cabinet.side, longer)
    return _with_setup(goal, msgspec.structs.replace(setup, cabinets=cabinets))


def _with_setup(goal: Goal, setup: Setup) -> Goal:
    return msgspec.structs.replace(goal, cabinet=OneCabinet(setup, goal.cabinet.side))


def _would_do(goal: Goal) -> bool:
    try:
        offered = candidates(goal)
    except BadInput:
        return False
    return offered.selection.nearest(offered.most) <= 1.0


def _looser(setup: Setup, expanded: FloatArray) -> str:
    """The tolerances that are within reach, to the next tenth of a mm or twentieth of a degree."""
    position = max(setup.tolerance.position_mm, *(expanded[:2] / SHARE).tolist())
    toe_in = max(setup.tolerance.toe_in_deg, float(expanded[2]) / SHARE)
    position, toe_in = math.ceil(position * 10 - 1e-6) / 10, math.ceil(toe_in * 20 - 1e-6) / 20
    if setup.units.is_metric:
        reach = format_limit(position, setup.units)
    else:
        reach = format_expanded(position, setup.units)
    return f"tolerances of {reach} and {toe_in:g}° are within its reach"
