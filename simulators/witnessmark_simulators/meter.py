"""A meter with errors, faults and silences, drawn from a generator that is passed in."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal
from typing import Literal

import msgspec
from numpy.random import Generator

from witnessmark.model import Meter

Unit = Literal["m", "cm", "mm"]
"""In what the meter shows its distances."""

_POWER_OF_TEN = {"mm": 0, "cm": -1, "m": -3}
_FINEST_STEP_MM = 1e-6

TOO_LITTLE_LIGHT = "too little light comes back"
TOO_CLOSE = "too close to measure"


class Answer(msgspec.Struct, frozen=True):
    """What one press of the button brings: the bytes sent, and what they mean.

    With neither distance nor fault the bytes mean nothing, and may be none at all.
    """

    raw: bytes
    distance_mm: float | None = None
    fault: str | None = None


Behaviour = Callable[[Answer], Answer]
"""Makes of the answer that a sound meter would give the one that is given."""


def shoot(answer: Answer) -> Answer:
    """Answer as a sound meter does."""
    return answer


def stay_silent(_answer: Answer) -> Answer:
    """Send nothing at all."""
    return Answer(b"")


def cut_off(answer: Answer) -> Answer:
    """Send the first half of the line and no more."""
    return Answer(answer.raw[: len(answer.raw) // 2])


def fault(words: str) -> Behaviour:
    """Send an error line instead of a distance."""
    return lambda _answer: _fault_answer(words)


def garbage(raw: bytes) -> Behaviour:
    """Send these bytes instead of a distance."""
    return lambda _answer: Answer(raw)


def occasional_faults(rate: float, rng: Generator) -> Iterator[Behaviour]:
    """Yield for ever an error with probability ``rate``, else a sound shot."""
    while True:
        yield fault(TOO_LITTLE_LIGHT) if rng.random() < rate else shoot


class ImperfectMeter:
    """A meter whose zero and scale are drawn once, and whose shots scatter.

    A reading is true * (1 + scale) + zero + scatter, rounded to the resolution (to the nanometre
    where the model has none). The scatter is drawn for every press, also for one that brings a
    fault, so that a script of faults does not change the other shots.

    Args:
        model: standard deviations of zero, scale and scatter, and the step of the display.
        rng: where all randomness comes from.
        squareness_deg: standard deviation of the angle by which the beam is off square, in plan
            and in elevation alike.
        script: how the coming presses behave; sound shots once it ends.
        unit: in what the distance is sent.
    """

    def __init__(
        self,
        model: Meter,
        rng: Generator,
        *,
        squareness_deg: float = 0.0,
        script: Iterable[Behaviour] = (),
        unit: Unit = "m",
    ) -> None:
        self.model = model
        self.squareness_deg = squareness_deg
        self.unit = unit
        self._rng = rng
        self._script = iter(script)
        self._step = Decimal(repr(model.resolution_mm or _FINEST_STEP_MM)).normalize()
        self.zero_mm = float(rng.normal(0.0, model.zero_mm))
        self.scale_ppm = float(rng.normal(0.0, model.scale_ppm))

    def misbehave_next(self, behaviour: Behaviour) -> None:
        """Put a behaviour before the rest of the script."""
        self._script = itertools.chain([behaviour], self._script)

    def off_square_deg(self) -> tuple[float, float]:
        """Draw how far off square the next beam is, in plan and in elevation."""
        plan, elevation = self._rng.normal(0.0, self.squareness_deg, size=2)
        return float(plan), float(elevation)

    def press(self, true_mm: float) -> Answer:
        """Return the answer to one press of the button with the target ``true_mm`` away."""
        return next(self._script, shoot)(self._sound_answer(true_mm))

    def _sound_answer(self, true_mm: float) -> Answer:
        scatter = self._rng.normal(0.0, self.model.repeatability_mm)
        shown_mm = self._rounded(true_mm * (1 + self.scale_ppm * 1e-6) + self.zero_mm + scatter)
        if shown_mm <= 0:
            return _fault_answer(TOO_CLOSE)
        text = f"{shown_mm.scaleb(_POWER_OF_TEN[self.unit]):f} {self.unit}\r\n"
        return Answer(text.encode("ascii"), distance_mm=float(shown_mm))

    def _rounded(self, distance_mm: float) -> Decimal:
        """Return whole steps of the display, as a decimal so that the text keeps every digit."""
        return self._step * round(distance_mm / float(self._step))


def _fault_answer(words: str) -> Answer:
    return Answer(f"Error: {words}\r\n".encode("ascii"), fault=words)
