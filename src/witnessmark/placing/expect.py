"""What the prompted shot should read, and how far off a reading may be before it is questioned."""

from __future__ import annotations

import math

import msgspec

from witnessmark.errors import TooFewShots
from witnessmark.locate.blunders import explain
from witnessmark.locate.pose import Located, predict, predict_expanded
from witnessmark.model import AimedAt, Held, Meter, Placement, Setup, ShotKind, Side
from witnessmark.placing.cabinet_work import CabinetWork
from witnessmark.placing.route import Route

FIRST_GATE_MM = 600.0
"""How far from its target a cabinet may be found at first without the reading being questioned."""


class Expectation(msgspec.Struct, frozen=True):
    """The reading that a shot should give, and how far from it is still believed, mm."""

    reading_mm: float
    gate_mm: float

    def fits(self, reading_mm: float) -> bool:
        """Whether a reading is near enough to be taken without a question."""
        return self.misfit(reading_mm) <= 1.0

    def misfit(self, reading_mm: float) -> float:
        """How far off a reading is, in units of what is believed without a question."""
        return abs(reading_mm - self.reading_mm) / self.gate_mm


def unmeasured(setup: Setup, side: Side, route: Route) -> CabinetWork:
    """A cabinet of which nothing is known: somewhere about its target, or anywhere without one."""
    target = setup.targets[side]
    if target is not None:
        return CabinetWork(route=route, todo=route.shots, belief=target, gate_mm=FIRST_GATE_MM)
    likely = Placement(setup.room.width_mm / 4, setup.seat.from_front_mm / 2, 0.0)
    anywhere = math.hypot(setup.room.width_mm, setup.room.length_mm)
    return CabinetWork(route=route, todo=route.shots, belief=likely, gate_mm=anywhere)


def expect(setup: Setup, side: Side, stand: CabinetWork, kind: ShotKind) -> Expectation:
    """What a shot of a cabinet that is still to be taken should read.

    From its shots since it was last moved where they fix it; else from where it is thought to
    stand. Shots that contradict the one that is asked for once more have no say in it.
    """
    fixed = None if kind in stand.repeated else fixed_by_shots(setup, stand)
    if fixed is None:
        gate_mm = stand.gate_mm
        if stand.nudged_from is not None:
            gate_mm = max(gate_mm, gate_after_move(setup, side, stand.nudged_from, kind))
        return Expectation(predict(setup, {side: stand.belief}, kind), gate_mm)
    gate_mm = gate_at_rest(setup.meter)
    if kind.held is Held.SPOT:
        # at the end of a beam across the room, what is open of the toe-in counts for far more
        gate_mm += predict_expanded(setup, fixed, kind)
    return Expectation(predict(setup, fixed.placements, kind), gate_mm)


def fixed_by_shots(setup: Setup, stand: CabinetWork) -> Located | None:
    """Where the shots since the cabinet was last moved put it; None while that is open."""
    if len(stand.shots) < 3:
        return None
    try:
        located = explain(setup, stand.shots).located
    except TooFewShots:
        return None
    return located if located.settled else None


def on_target(setup: Setup, kind: ShotKind) -> float | None:
    """What a shot would read with its cabinet (and the other, if it takes part) on target, mm."""
    targets = {side: target for side in Side if (target := setup.targets[side]) is not None}
    if kind.cabinet not in targets or (kind.to is AimedAt.CABINET and len(targets) < len(Side)):
        return None
    return predict(setup, targets, kind)


def gate_at_rest(meter: Meter) -> float:
    """How far a repeat of a shot at a cabinet that stands still may be off, mm.

    Ten millimetres for a hand that finds the corner again, and the meter's own spread.
    """
    return 10.0 + 4.0 * meter.shot_sigma_mm


def gate_after_move(setup: Setup, side: Side, start: Placement, kind: ShotKind) -> float:
    """The same after a nudge from ``start`` to the target: from not moved to gone too far.

    Hands may do one part of it and leave another, so what each does to a reading adds up.
    """
    target = setup.targets[side]
    assert target is not None  # noqa: S101 - a nudge has one
    on_target_mm = predict(setup, {side: target}, kind)
    parts = [
        msgspec.structs.replace(target, **{name: getattr(start, name)})
        for name in Placement.__struct_fields__
    ]
    farthest = sum(abs(predict(setup, {side: part}, kind) - on_target_mm) for part in parts)
    return gate_at_rest(setup.meter) + 1.2 * farthest


def agree(meter: Meter, one_mm: float, other_mm: float) -> bool:
    """Whether two readings are of the same distance, held by hand twice."""
    return abs(one_mm - other_mm) <= 2.0 + 4.0 * meter.shot_sigma_mm
