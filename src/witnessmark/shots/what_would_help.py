"""Why no set of shots is good enough, and what would be: one sentence, its figures computed."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Mapping

import msgspec
import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray, IntArray
from witnessmark.model import (
    OF_CABINET,
    AimedAt,
    Held,
    Placement,
    Quantity,
    Setup,
    ShotKind,
    Side,
    Wall,
)
from witnessmark.shots.candidates import SHARE, Candidates, Goal, candidates
from witnessmark.shots.candidates import limits as limits_of

STRAIGHTEDGES_MM = (600.0, 800.0, 1000.0, 1200.0, 1500.0, 2000.0)
"""Lengths in which straightedges are sold; common practice, no source."""
ZEROS_MM = (0.5, 0.3, 0.2, 0.1)
"""How well the meter's zero may be learned by shooting known lengths."""
NOT_FIXED = 1000.0
"""So many times its limit, an uncertainty is that of what is not measured at all."""


def what_would_help(
    setup: Setup,
    side: Side,
    standing: Mapping[Side, Placement],
    goal: Goal,
    offered: Candidates,
    best: IntArray,
) -> str:
    """What the best set of shots leaves open, and what would bring it within reach.

    Args:
        setup: as it is.
        side: whose shots.
        standing: where the cabinets stand.
        goal: what was asked of the shots.
        offered: the shots that can be taken.
        best: the set of them that comes nearest.
    """
    limits = limits_of(setup)
    loose = _loose(offered, limits)
    if loose:
        return _not_fixed(setup, side, standing, goal, loose)
    expanded = offered.selection.expanded(best[None, :])[0]
    place = int((expanded / limits).argmax())
    worst = OF_CABINET[place]
    kinds = [offered.kinds[shot] for shot in best]
    told = f"this meter{_over_base(setup, kinds, worst)} settles {worst.label} to "
    told += f"±{_amount(expanded[place], worst)} at best, and ±{_amount(limits[place], worst)} is "
    told += "wanted"
    remedies = list(_remedies(setup, side, standing, goal))
    if remedies:
        return f"{told}; {' or '.join(remedies)}"
    return f"{told}; {_looser(setup, expanded)}"


def _amount(value: float, quantity: Quantity) -> str:
    return f"{value:.1f} mm" if quantity.is_length else f"{value:.2f}°"


def _over_base(setup: Setup, kinds: list[ShotKind], worst: Quantity) -> str:
    """The longest base between two shots of one kind to one wall, where toe-in is told by it."""
    if worst is not Quantity.TOE_IN:
        return ""
    bases = [
        _base_mm(setup, one, other)
        for one, other in itertools.combinations(kinds, 2)
        if (one.to, one.held) == (other.to, other.held) and one.held is not Held.SPOT
    ]
    return f" over a {max(bases):.0f} mm base" if any(bases) else ""


def _base_mm(setup: Setup, one: ShotKind, other: ShotKind) -> float:
    points = setup.cabinets[one.cabinet].touch_points
    first, second = points[one.point], points[other.point]
    if one.to in (AimedAt.FRONT, AimedAt.BACK):
        return abs(first.inward_mm - second.inward_mm)
    return abs(first.back_mm - second.back_mm)


def _loose(offered: Candidates, limits: FloatArray) -> list[str]:
    """What all shots together leave open."""
    everything = np.arange(len(offered.kinds))[None, :]
    far = offered.selection.expanded(everything)[0] > NOT_FIXED * limits
    return [one.label for one, is_open in zip(OF_CABINET, far.tolist(), strict=True) if is_open]


def _not_fixed(
    setup: Setup, side: Side, standing: Mapping[Side, Placement], goal: Goal, loose: list[str]
) -> str:
    told = f"the shots that can be taken of the {side} cabinet do not fix its {' and '.join(loose)}"
    for held in (Held.WALL, Held.CABINET):
        otherwise = msgspec.structs.replace(goal, holds=(*goal.holds, held))
        if held not in goal.holds and _would_do(setup, side, standing, otherwise):
            return f"{told}: hold the meter on the {held} as well"
    everywhere = msgspec.structs.replace(goal, walls=tuple(Wall))
    if _would_do(setup, side, standing, everywhere):
        return f"{told}: shoot to the other walls as well, once the room's size is known well"
    return told


def _remedies(
    setup: Setup, side: Side, standing: Mapping[Side, Placement], goal: Goal
) -> Iterator[str]:
    """What would do, each by itself: a straightedge, a spot shot, a meter better known."""

    def would_do(changed: Setup) -> bool:
        return _would_do(changed, side, standing, goal)

    longer = [edged for mm in STRAIGHTEDGES_MM if (edged := _with_straightedge(setup, side, mm))]
    least = _first(longer, would_do)
    if least is not None:
        yield f"use a straightedge of {least.cabinets[side].straightedge_mm:.0f} mm"
    if Held.SPOT not in goal.holds:
        with_spot = msgspec.structs.replace(goal, holds=(*goal.holds, Held.SPOT))
        if _would_do(setup, side, standing, with_spot):
            yield "use a spot shot"
    learned = [_with_zero(setup, mm) for mm in ZEROS_MM if mm < setup.meter.zero_mm]
    known = _first(learned, would_do)
    if known is not None:
        yield f"learn its zero to ±{2 * known.meter.zero_mm:.1f} mm by shooting known lengths"


def _first(changed: list[Setup], would_do: Callable[[Setup], bool]) -> Setup | None:
    """The first that would do, from the least change to the greatest; None when none would."""
    if not changed or not would_do(changed[-1]):
        return None
    return next(one for one in changed if would_do(one))


def _with_zero(setup: Setup, zero_mm: float) -> Setup:
    meter = msgspec.structs.replace(setup.meter, zero_mm=zero_mm)
    return msgspec.structs.replace(setup, meter=meter)


def _with_straightedge(setup: Setup, side: Side, length_mm: float) -> Setup | None:
    """The same with a straightedge across this cabinet's baffle; None where that gains nothing."""
    cabinet = setup.cabinets[side]
    if length_mm <= (cabinet.straightedge_mm or 0.0):
        return None
    try:
        longer = msgspec.structs.replace(cabinet, straightedge_mm=length_mm)
    except BadInput:
        return None
    return msgspec.structs.replace(setup, cabinets=setup.cabinets.replacing(side, longer))


def _would_do(setup: Setup, side: Side, standing: Mapping[Side, Placement], goal: Goal) -> bool:
    try:
        offered = candidates(setup, side, standing, goal)
    except BadInput:
        return False
    return offered.selection.nearest(offered.most) <= 1.0


def _looser(setup: Setup, expanded: FloatArray) -> str:
    """The tolerances that are within reach, to the next tenth of a mm or twentieth of a degree."""
    position = max(setup.tolerance.position_mm, *(expanded[:2] / SHARE).tolist())
    toe_in = max(setup.tolerance.toe_in_deg, float(expanded[2]) / SHARE)
    position, toe_in = math.ceil(position * 10 - 1e-6) / 10, math.ceil(toe_in * 20 - 1e-6) / 20
    return f"tolerances of {position:g} mm and {toe_in:g}° are within its reach"
