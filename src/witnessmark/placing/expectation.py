"""What a reading should be, which shot it is, and how several make one shot.

What is known of a cabinet says what each of its open shots should read, and how far off a reading
may be before it is questioned. A hand goes to another corner than the one that was asked for, or
presses the button once more where it still is: a reading that fits just one other shot, and fits it
far better than the prompted one, was probably taken there.

Readings of one shot can be gathered before one distance is made of them. While a shot is *held* the
cabinet may be moving under the meter: each reading is only shown, and the last one counts when the
shot is let go. In a *sweep* the hand passes the beam slowly across the place where it is square to
the wall: off square it reads long, so the shortest counts.
"""

from __future__ import annotations

import enum
import math

import msgspec

from witnessmark.errors import TooFewShots
from witnessmark.geometry.sweep import SWEEP_READINGS, swept
from witnessmark.locate.blunders import explain
from witnessmark.locate.pose import Located, predict, predict_expanded
from witnessmark.model import (
    AimedAt,
    Held,
    Meter,
    OneCabinet,
    Placement,
    Setup,
    Shot,
    ShotKind,
    Side,
)
from witnessmark.placing.cabinet_work import CabinetWork
from witnessmark.placing.first_walk import farthest_mm, range_so_far
from witnessmark.placing.shot_list import Route

HELD_GATE_MM = 600.0
"""Distance, mm, that a cabinet may be moved between two readings of a shot that is held; common
practice, no source."""
FAR_BETTER = 3.0
"""Factor by which a reading must fit another shot better than the prompted one, in its gate."""
MOST_ALIKE = 3
"""Readings of one shot in a row after which one more is questioned: it may be of the next shot."""
LEAST_READINGS = 3
"""Readings of a sweep at least: fewer do not show where the beam is square to the wall."""
NEAR = 0.5
"""Part of the tolerance to within which a point is brought while it is watched: the rest is left
for how well the place is known."""
_OFF_SQUARE = 0.01
"""Share by which a beam reads long when it is eight degrees off square, 1 / cos(8) - 1."""


class Expectation(msgspec.Struct, frozen=True):
    """The reading that a shot should give, and how far from it is still believed, mm."""

    reading_mm: float
    gate_mm: float
    """Infinite where nothing is expected, save that it is possible."""
    most_mm: float = math.inf
    """What is impossible beyond."""

    @property
    def tells(self) -> bool:
        """Whether a reading that fits says anything for this shot."""
        return math.isfinite(self.gate_mm)

    def fits(self, reading_mm: float) -> bool:
        """Return whether a reading is near enough to be taken without a question."""
        return 0.0 < reading_mm <= self.most_mm and self.misfit(reading_mm) <= 1.0

    def misfit(self, reading_mm: float) -> float:
        """Return how far off a reading is, in units of what is believed without a question."""
        return abs(reading_mm - self.reading_mm) / self.gate_mm


def unmeasured(cabinet: OneCabinet, route: Route) -> CabinetWork:
    """Return the work on a cabinet that may stand anywhere, however far from a target."""
    return CabinetWork(
        cabinet=cabinet,
        route=route,
        todo=route.shots,
        belief=cabinet.likely_placement(),
        gate_mm=math.inf,
    )


def expect(work: CabinetWork, kind: ShotKind) -> Expectation:
    """Return what a shot of a cabinet that is still to be taken should read.

    From its shots since it was last moved where they fix it; else from where it is thought to
    stand. Shots that contradict the one that is asked for once more have no say in it, and those
    by which it would be taken from behind its wall say nothing of it: one of them is wrong.
    """
    expected = _by_all_known(work, kind)
    if expected.tells and expected.reading_mm <= 0.0:
        return Expectation(expected.reading_mm, math.inf, farthest_mm(work))
    return expected


def _by_all_known(work: CabinetWork, kind: ShotKind) -> Expectation:
    fixed = None if kind in work.repeated else located_by_shots(work)
    if fixed is None and math.isinf(work.gate_mm):
        return _on_a_first_walk(work, kind)
    if fixed is None:
        gate_mm = work.gate_mm
        if work.nudged_from is not None:
            gate_mm = max(gate_mm, gate_after_move(work.cabinet, work.nudged_from, kind))
        return Expectation(predict(work.setup, {work.side: work.belief}, kind), gate_mm)
    gate_mm = gate_at_rest(work.setup.meter)
    if kind.held is Held.SPOT:
        # at the end of a beam across the room, what is open of the toe-in counts for far more
        gate_mm += predict_expanded(work.setup, fixed, kind)
    return Expectation(predict(work.setup, fixed.placements, kind), gate_mm)


def _on_a_first_walk(work: CabinetWork, kind: ShotKind) -> Expectation:
    """Nothing is expected of a cabinet that may stand anywhere but what its shots say by now."""
    most_mm = farthest_mm(work)
    found = None if kind in work.repeated else range_so_far(work, kind)
    if found is None:
        reading_mm = predict(work.setup, {work.side: work.belief}, kind)
        return Expectation(reading_mm, math.inf, most_mm)
    least_mm = max(found.least_mm, min(found.most_mm, 0.0))  # from before its wall
    half_mm = (found.most_mm - least_mm) / 2
    middle_mm = (found.most_mm + least_mm) / 2
    return Expectation(middle_mm, half_mm + gate_at_rest(work.setup.meter), most_mm)


def located_by_shots(work: CabinetWork) -> Located | None:
    """Return where the shots since the cabinet was last moved put it; None while that is open."""
    if len(work.shots) < 3:
        return None
    try:
        located = explain(work.setup, work.shots).located
    except TooFewShots:
        return None
    return located if located.settled else None


def on_target(setup: Setup, kind: ShotKind) -> float | None:
    """Return what a shot would read, mm, with each cabinet that takes part on its target."""
    targets = setup.known_targets
    if kind.cabinet not in targets or (kind.to is AimedAt.CABINET and len(targets) < len(Side)):
        return None
    return predict(setup, targets, kind)


def gate_at_rest(meter: Meter) -> float:
    """Return how far a repeat of a shot at a cabinet that stands still may be off, mm.

    Ten millimetres for a hand that finds the corner again, and the meter's own spread.
    """
    return 10.0 + 4.0 * meter.shot_sigma_mm


def gate_after_move(cabinet: OneCabinet, start: Placement, kind: ShotKind) -> float:
    """Return how far a shot may be off after a nudge from ``start``: unmoved, or gone too far.

    Hands may do one part of it and leave another, so what each does to a reading adds up.
    """
    setup, side, target = cabinet.setup, cabinet.side, cabinet.target
    assert target is not None  # noqa: S101 - a nudge has one
    on_target_mm = predict(setup, {side: target}, kind)
    parts = [
        msgspec.structs.replace(target, **{name: getattr(start, name)})
        for name in Placement.__struct_fields__
    ]
    farthest = sum(abs(predict(setup, {side: part}, kind) - on_target_mm) for part in parts)
    return gate_at_rest(setup.meter) + 1.2 * farthest


def near_mm(setup: Setup) -> float:
    """Return how far a watched point may be from where it should be, mm, to be moved no more."""
    return max(NEAR * setup.tolerance.position_mm, 2.0 * setup.meter.shot_sigma_mm)


def agree(meter: Meter, one_mm: float, other_mm: float) -> bool:
    """Return whether two readings are of the same distance, held by hand twice."""
    return abs(one_mm - other_mm) <= 2.0 + 4.0 * meter.shot_sigma_mm


def misdirected_shot(work: CabinetWork, reading_mm: float) -> ShotKind | None:
    """Return the one shot that a reading fits far better than the prompted one; else None.

    One that is still to be taken, or the one that was taken last. Where it fits two of them it
    could be either, and neither is named.
    """
    prompted = expect(work, work.todo[0])
    likely = {
        kind: expected
        for kind, expected in _others(work).items()
        if expected.tells and expected.fits(reading_mm)
    }
    if len(likely) != 1:
        return None
    (kind, expected), *_ = likely.items()
    far_better = FAR_BETTER * expected.misfit(reading_mm) <= prompted.misfit(reading_mm)
    return kind if far_better else None


def is_repeat(work: CabinetWork, kind: ShotKind, reading_mm: float) -> bool:
    """Return whether a reading is the shot before once more, held by hand."""
    last = work.shots[-1] if work.shots else None
    if last is None or last.kind != kind or _in_a_row(work) >= MOST_ALIKE:
        return False
    return agree(work.setup.meter, last.reading_mm, reading_mm)


def _in_a_row(work: CabinetWork) -> int:
    """Return how many of the latest shots are of one kind."""
    kinds = [shot.kind for shot in reversed(work.shots)]
    return next((place for place, kind in enumerate(kinds) if kind != kinds[0]), len(kinds))


def _others(work: CabinetWork) -> dict[ShotKind, Expectation]:
    """Return what each open shot but the prompted one should read, and the last if taken again."""
    prompted = work.todo[0]
    others = {kind: expect(work, kind) for kind in work.todo[1:] if kind != prompted}
    if work.shots and work.shots[-1].kind not in work.todo:
        last = work.shots[-1]
        others[last.kind] = Expectation(last.reading_mm, gate_at_rest(work.setup.meter))
    return others


class Gather(enum.StrEnum):
    """What is made of the readings."""

    HOLD = "hold"
    SWEEP = "sweep"


class Gathering(msgspec.Struct, frozen=True):
    """The readings of the prompted shot so far, mm."""

    how: Gather
    readings_mm: tuple[float, ...] = ()

    @property
    def missing(self) -> int:
        """How many readings are still to come; a held shot has as many as there are."""
        return SWEEP_READINGS - len(self.readings_mm) if self.how is Gather.SWEEP else 0

    @property
    def shown_mm(self) -> float:
        """The distance that would count now."""
        return min(self.readings_mm) if self.how is Gather.SWEEP else self.readings_mm[-1]

    def with_reading(self, reading_mm: float) -> Gathering:
        """Return it with one more reading."""
        return Gathering(self.how, (*self.readings_mm, reading_mm))

    def expects(self, meter: Meter, at_first: Expectation) -> Expectation:
        """Return what the next reading should be; ``at_first`` is what a single shot should be."""
        if self.how is Gather.HOLD:
            return Expectation(self.shown_mm, HELD_GATE_MM) if self.readings_mm else at_first
        if not self.readings_mm:
            long_mm = _OFF_SQUARE * at_first.reading_mm
            return Expectation(at_first.reading_mm, at_first.gate_mm + long_mm, at_first.most_mm)
        return Expectation(self.shown_mm, gate_at_rest(meter) + _OFF_SQUARE * self.shown_mm)

    def shot(self, kind: ShotKind, setup: Setup) -> Shot:
        """Return the shot that the readings make."""
        if self.how is Gather.HOLD:
            return Shot(kind, self.shown_mm)
        found = swept(self.readings_mm, setup.meter)
        return Shot(kind, found.distance_mm, found.sigma_mm)
