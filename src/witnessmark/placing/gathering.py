"""Readings of one shot that are watched, before one distance is made of them.

While a shot is *held* the cabinet may be moving under the meter: each reading is only shown, and
the last one counts when the shot is let go. In a *sweep* the hand passes the beam slowly across the
place where it is square to the wall: off square it reads long, so of so many the shortest counts.
"""

from __future__ import annotations

import enum

import msgspec

from witnessmark.geometry.sweep import swept
from witnessmark.model import Meter, Setup, Shot, ShotKind
from witnessmark.placing.expect import FIRST_GATE_MM, Expectation, gate_at_rest

SWEEP_READINGS = 5
"""So many readings make a sweep."""
LEAST_READINGS = 3
"""Fewer tell nothing of where the square is."""
_OFF_SQUARE = 0.01
"""A beam eight degrees off square reads a hundredth long."""


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
        """With one more reading."""
        return Gathering(self.how, (*self.readings_mm, reading_mm))

    def expects(self, meter: Meter, at_first: Expectation) -> Expectation:
        """What the next reading should be; ``at_first`` is what a single shot should read."""
        if self.how is Gather.HOLD:
            return Expectation(self.shown_mm, FIRST_GATE_MM) if self.readings_mm else at_first
        if not self.readings_mm:
            long_mm = _OFF_SQUARE * at_first.reading_mm
            return Expectation(at_first.reading_mm, at_first.gate_mm + long_mm)
        return Expectation(self.shown_mm, gate_at_rest(meter) + _OFF_SQUARE * self.shown_mm)

    def shot(self, kind: ShotKind, setup: Setup) -> Shot:
        """The shot that the readings make."""
        if self.how is Gather.HOLD:
            return Shot(kind, self.shown_mm)
        found = swept(self.readings_mm, setup.meter, units=setup.units)
        return Shot(kind, found.distance_mm, found.sigma_mm)
