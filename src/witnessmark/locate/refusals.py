"""Why shots are of no pair of loudspeakers in this room, with what probably happened."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from witnessmark.geometry.adjust import CRITICAL_STANDARDISED_RESIDUAL, is_sound
from witnessmark.locate.bounds import cannot_be, is_unlikely
from witnessmark.locate.causes import UNIT_SLIPS
from witnessmark.locate.pose import Fitting, Located
from witnessmark.model import Placement, Setup, Shot, ShotKind, Side

MOST_NAMED = 3
"""Most shots that one sentence names; of more it gives the number."""
_FAR_MM, _NEAR_MM = 700.0, 150.0
"""A pair so far from its targets, but so near without a slip of all its shots, was read with that
slip; common practice, no source."""
_UNCHECKED = 0.01
"""Redundancy below which no other shot checks one."""


def refusal(fitting: Fitting, located: Located, rows: Sequence[int]) -> str | None:
    """Return why a pose that fits is no answer all the same, in words; None where it is one.

    Args:
        fitting: all shots.
        located: the pose that accounts for them best.
        rows: the rows of the model that it was fitted to.
    """
    used = [row for row in rows if row < len(fitting.shots)]
    if too_long := _too_long(fitting, used):
        return too_long
    placed = located.placements
    for side, placement in placed.items():
        if is_unlikely(fitting.setup, side, placement):
            alike, unchecked = _off_alike(fitting), _unchecked(fitting, located, rows, side)
            if alike and unchecked and fitting.setup.targets[side] is None:
                return f"{unchecked}; or {alike}"
            return alike or unchecked
    if min(_off_targets_mm(fitting.setup, placed), default=0.0) > _FAR_MM:
        return _off_alike(fitting, _NEAR_MM)
    return None


def no_place(fitting: Fitting) -> str:
    """Return why no pose that a pair can have fits, with what probably happened."""
    setup = fitting.setup
    alike = _off_alike(fitting)
    if alike and any(setup.targets[side] is not None for side in fitting.model.sides):
        return alike
    if too_long := _too_long(fitting, range(len(fitting.shots))):
        return too_long
    anywhere = fitting.solutions(anywhere=True)
    if anywhere:
        why = cannot_be(setup, anywhere[0].placements)
        # without a target a slip that puts the pair elsewhere in the room is one cause of two
        check = "check which corner and which wall each shot was of, and the sizes entered"
        return f"{why}; {check}" + (f"; or {alike}" if alike else "")
    return alike or (
        f"missing shots that agree: repeat {shots_listed([shot.kind for shot in fitting.shots])}"
    )


def _off_alike(fitting: Fitting, near_mm: float = _FAR_MM) -> str | None:
    """The slip of a unit or a decimal point without which all are of a pair near its targets."""
    setup = fitting.setup
    found = []
    for words, times in UNIT_SLIPS.items():
        shots = [Shot(shot.kind, shot.reading_mm / times, shot.sigma_mm) for shot in fitting.shots]
        scaled = Fitting.of(setup, shots)
        if _too_long(scaled, range(len(shots))):
            continue
        for located in scaled.solutions():
            placed = located.placements
            off_mm = max(_off_targets_mm(setup, placed), default=0.0)
            is_likely = not any(is_unlikely(setup, *each) for each in placed.items())
            if is_likely and off_mm <= near_mm and is_sound(located.adjustment, len(shots)):
                found.append((_off_likely_mm(fitting, located), words))
    return f"every reading has the same error: {min(found)[1]}" if found else None


def _off_likely_mm(fitting: Fitting, located: Located) -> float:
    """Return how far a pair is from where it is thought to stand, with targets or without, mm."""
    placed = zip(located.placements.values(), fitting.likely, strict=True)
    return max(math.dist((one.side_mm, one.setback_mm), likely[:2]) for one, likely in placed)


def _off_targets_mm(setup: Setup, placed: Mapping[Side, Placement]) -> list[float]:
    """Return how far from its target each cabinet is that has one."""
    return [
        math.hypot(placement.side_mm - target.side_mm, placement.setback_mm - target.setback_mm)
        for side, placement in placed.items()
        if (target := setup.targets[side]) is not None
    ]


def _too_long(fitting: Fitting, rows: Sequence[int]) -> str | None:
    """Return which shots to walls are longer than the room is from corner to corner, in words."""
    room, meter = fitting.setup.room, fitting.setup.meter
    longest_mm = max(
        math.dist(room.front_left, room.back_right), math.dist(room.front_right, room.back_left)
    )
    longest_mm += CRITICAL_STANDARDISED_RESIDUAL**2 * (meter.zero_mm + meter.shot_sigma_mm)
    too_long = [
        shot.kind
        for shot in (fitting.shots[row] for row in rows)
        if shot.reading_mm > longest_mm and shot.kind.held.is_to_wall
    ]
    if not too_long:
        return None
    return f"longer than the room: {shots_listed(too_long)}; check its unit and its decimal point"


def _unchecked(fitting: Fitting, located: Located, rows: Sequence[int], side: Side) -> str | None:
    """What to say of a cabinet that stands as hardly any does, by shots that nothing checks."""
    redundancy = located.adjustment.redundancy
    own = [
        float(redundancy[place])
        for place, row in enumerate(rows)
        if row < len(fitting.shots) and fitting.shots[row].kind.cabinet is side
    ]
    if max(own, default=0.0) > _UNCHECKED:
        return None
    toe_in_deg = located.placements[side].toe_in_deg
    return (
        f"{side}: missing one more shot that checks the others: these place it as hardly any "
        f"loudspeaker stands (toe-in {toe_in_deg:.0f}°)"
    )


def shots_listed(kinds: Sequence[ShotKind]) -> str:
    """Return the names of shots, the first few of many."""
    names = ", ".join(f"{kind.cabinet} {kind.words}" for kind in kinds[:MOST_NAMED])
    more = len(kinds) - MOST_NAMED
    return f"{names} and {more} more" if more > 0 else names
