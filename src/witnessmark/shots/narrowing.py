"""What would make the place of a cabinet known better, and by how much: facts, for any sentence."""

from __future__ import annotations

import enum
import math
from collections.abc import Iterator, Sequence

import msgspec

from witnessmark.errors import BadInput, TooFewShots
from witnessmark.geometry.rounding import mean_sigma_mm
from witnessmark.geometry.sweep import swept_error_mm
from witnessmark.locate.pose import Fitting
from witnessmark.model import (
    OF_CABINET,
    Held,
    OneCabinet,
    Placement,
    Quantity,
    Setup,
    Shot,
    ShotKind,
    Side,
    Wall,
)
from witnessmark.model.meter import ROUNDS_OF_MARKS
from witnessmark.shots.candidates import Goal, candidates
from witnessmark.shots.what_would_help import STRAIGHTEDGES_MM, with_straightedge

_WORTH_IT = 0.9
"""Part of an uncertainty to which something must narrow it to be worth the work."""


class Remedy(enum.Enum):
    """What a person can do to have a cabinet's place known better."""

    ZERO = "check the meter's zero by three marks"
    AGAIN = "shoot all once more"
    SWEEP = "sweep each shot"
    STRAIGHTEDGE = "lay a straightedge across the baffle"


class Narrowed(msgspec.Struct, frozen=True):
    """The expanded uncertainties (k = 2) that a remedy would leave."""

    by: Remedy
    expanded: Placement
    straightedge_mm: float | None = None
    """How long the straightedge is, where it is one."""


def widest(setup: Setup, expanded: Placement) -> Quantity:
    """Return the quantity whose uncertainty takes most of its tolerance."""
    return max(OF_CABINET, key=lambda one: one.of(expanded) / one.tolerance(setup))


def what_would_narrow(
    cabinet: OneCabinet,
    measured: Placement,
    expanded: Placement,
    shots: Sequence[Shot],
    walk: Sequence[ShotKind],
) -> tuple[Narrowed, ...]:
    """Return what would narrow the widest uncertainty by a tenth or more, the best first.

    Args:
        cabinet: which one, of which setup.
        measured: where its shots put it.
        expanded: how well these know it (k = 2).
        shots: those that say so.
        walk: the shots of one walk round it.
    """
    first = widest(cabinet.setup, expanded)
    limit = _WORTH_IT * first.of(expanded)
    found = [
        one for one in _narrowed(cabinet, measured, shots, walk, first, limit) if one is not None
    ]
    worth = [one for one in found if first.of(one.expanded) <= limit]
    return tuple(sorted(worth, key=lambda one: first.of(one.expanded)))


def _narrowed(
    cabinet: OneCabinet,
    measured: Placement,
    shots: Sequence[Shot],
    walk: Sequence[ShotKind],
    first: Quantity,
    limit: float,
) -> Iterator[Narrowed | None]:
    setup = cabinet.setup
    meter = setup.meter
    # the zero error comes once in each of three distances, so it has the variance of three
    zero_mm = math.sqrt(3) * mean_sigma_mm(meter, ROUNDS_OF_MARKS)
    if zero_mm < meter.zero_mm:
        checked = msgspec.structs.replace(
            setup, meter=msgspec.structs.replace(meter, zero_mm=zero_mm)
        )
        yield _left_by(Remedy.ZERO, OneCabinet(checked, cabinet.side), measured, shots)
    latest = {shot.kind: shot for shot in shots}
    again = [latest[kind] for kind in walk if kind in latest]
    yield _left_by(Remedy.AGAIN, cabinet, measured, [*shots, *again])
    if not setup.sweeps and any(shot.kind.held is Held.WALL for shot in shots):
        yield _left_by(Remedy.SWEEP, cabinet, measured, [_swept(setup, shot) for shot in shots])
    if first is Quantity.TOE_IN:
        yield _with_straightedge(cabinet, measured, len(shots), limit)


def _left_by(
    remedy: Remedy, cabinet: OneCabinet, measured: Placement, shots: Sequence[Shot]
) -> Narrowed | None:
    try:
        fitting = Fitting.of(cabinet.setup, shots, {cabinet.side: measured})
        return Narrowed(remedy, fitting.where_likely().expanded(cabinet.side))
    except (TooFewShots, ArithmeticError):
        return None


def _swept(setup: Setup, shot: Shot) -> Shot:
    if shot.kind.held is not Held.WALL:
        return shot
    _, sigma_mm = swept_error_mm(setup.meter, shot.reading_mm)
    return msgspec.structs.replace(shot, sigma_mm=sigma_mm)


def _with_straightedge(
    cabinet: OneCabinet, measured: Placement, count: int, limit: float
) -> Narrowed | None:
    """The shortest straightedge that turns as many shots into ones that tell the toe-in better."""
    setup, side = cabinet.setup, cabinet.side
    walls = (Wall.FRONT, Wall.beside(Side(side)))
    goal = Goal(cabinet, {side: measured}, (setup.held,), walls)
    for length_mm in STRAIGHTEDGES_MM:
        longer = with_straightedge(goal, length_mm)
        if longer is None:
            continue
        try:
            offered = candidates(longer)
        except BadInput:
            return None
        fewest = offered.selection.of_size(3)
        ranked = fewest if count <= 3 else offered.selection.of_size(count, fewest)
        expanded = offered.expanded(ranked.best)
        if expanded.toe_in_deg <= limit:
            return Narrowed(Remedy.STRAIGHTEDGE, expanded, length_mm)
    return None
