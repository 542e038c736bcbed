"""The kinds of round that the study of honest answers draws, and the slips in some of them."""

from __future__ import annotations

import math
from typing import Final

from answer_rounds import (
    EITHER,
    SEAT_AND_SPOT,
    Regime,
    Slip,
    Slipped,
    across_the_room,
    from_anywhere,
    the_walk,
)
from numpy.random import Generator

from witnessmark.model import AimedAt, Held, Meter, Shot

FEET_PER_METRE = 1 / 0.3048
"""Exactly, by the international yard and pound agreement of 1959 (from memory)."""
_SMALLEST_MM, _LARGEST_MM = 8.0, 300.0
_BANDS = (("8 to 30 mm", 30.0), ("30 to 100 mm", 100.0), ("100 to 300 mm", math.inf))


def planted(count: int, mm: float | None = None) -> Slip:
    """Errors in so many shots: of this size, or of 8 to 300 mm, each size as likely as its half."""

    def slip(rng: Generator, shots: list[Shot]) -> Slipped:
        places = rng.choice(len(shots), count, replace=False).tolist()
        spoilt, largest = list(shots), 0.0
        for place in places:
            low, high = (mm, mm) if mm else (_SMALLEST_MM, _LARGEST_MM)
            size = math.exp(rng.uniform(math.log(low), math.log(high)))
            reading = shots[place].reading_mm
            sign = -1 if rng.random() < 0.5 and reading > size else 1
            spoilt[place] = Shot(shots[place].kind, reading + sign * size)
            largest = max(largest, size)
        band = next(name for name, end in _BANDS if largest <= end)
        return Slipped(spoilt, frozenset(places), "" if mm else band)

    return slip


def all_times(*factors: float) -> Slip:
    """All readings written down as so many times what they are."""

    def slip(rng: Generator, shots: list[Shot]) -> Slipped:
        factor = rng.choice(factors)
        wrong = [Shot(shot.kind, float(shot.reading_mm * factor)) for shot in shots]
        return Slipped(wrong, frozenset(range(len(shots))))

    return slip


def one_times(*factors: float) -> Slip:
    """One reading written down as so many times what it is."""

    def slip(rng: Generator, shots: list[Shot]) -> Slipped:
        place, factor = int(rng.integers(len(shots))), rng.choice(factors)
        spoilt = list(shots)
        spoilt[place] = Shot(shots[place].kind, float(shots[place].reading_mm * factor))
        return Slipped(spoilt, frozenset([place]))

    return slip


_HOLDS = {"wall": (Held.WALL,), "cabinet": (Held.CABINET,), "mixed": EITHER}
_FAR_TURNED = (0.0, 45.0)
_STRAIGHT = (0.0, 0.0)
_SEAT = ((AimedAt.SEAT, Held.POINT),)
_WALL = (Held.WALL,)
_FAR_ZERO = Meter(0.4, 1.0, zero_mm=100.0)


def _coarse(step_mm: float) -> Meter:
    return Meter(0.1, step_mm, 0.7)


_CLEAN = [
    *(
        Regime(f"clean: held {name}, {shots} shots", shots, holds)
        for name, holds in _HOLDS.items()
        for shots in (3, 4, 6)
    ),
    *(
        Regime(f"clean: held {name}, 4 shots, 0 to 45°", 4, holds, toe_in_deg=_FAR_TURNED)
        for name, holds in _HOLDS.items()
    ),
    *(
        Regime(f"clean: held {name}, 4 shots, 2 % skewed", 4, holds, skew=0.02)
        for name, holds in _HOLDS.items()
    ),
    Regime("clean: mixed, 6 shots to four walls", 6, draw=across_the_room),
    Regime("clean: mixed, 6 to four walls, no target", 6, draw=across_the_room, targets=False),
    Regime("clean: mixed, 4 shots, seat and spot", more=SEAT_AND_SPOT),
    Regime(
        "clean: mixed, 6, seat, spot, 0 to 45°, 2 % skewed",
        6,
        more=SEAT_AND_SPOT,
        toe_in_deg=_FAR_TURNED,
        skew=0.02,
    ),
]


_THE_WALK = Regime("", holds=_WALL, draw=the_walk)
_SKEWED = _THE_WALK._replace(skew=0.01)
_TOLD_SQUARE = _SKEWED._replace(told_square=True)
_BACKWARDS = [
    _SKEWED._replace(name="backwards: 1 % skewed, one 5 mm wrong", slip=planted(1, 5.0)),
    _SKEWED._replace(name="backwards: 1 % skewed, one 15 mm wrong", slip=planted(1, 15.0)),
    _SKEWED._replace(name="backwards: 1 % skewed, width 25 mm wrong", width_error_mm=25.0),
    _THE_WALK._replace(name="backwards: width 25 mm wrong", width_error_mm=25.0),
    _TOLD_SQUARE._replace(name="backwards: told square"),
    _TOLD_SQUARE._replace(name="backwards: told square, one 5 mm wrong", slip=planted(1, 5.0)),
    _TOLD_SQUARE._replace(name="backwards: told square, one 15 mm wrong", slip=planted(1, 15.0)),
    _TOLD_SQUARE._replace(name="backwards: told square, width 25 mm wrong", width_error_mm=25.0),
]
"""What is told square is a rectangle to the program, and truly skewed by 1 %."""

_TWO_ANSWERS = [
    *(
        Regime(f"two answers: mixed, {shots} shots{words}", shots, draw=from_anywhere, targets=told)
        for shots in (3, 4)
        for told, words in ((True, ""), (False, ", no target"))
    ),
    Regime("two answers: 2 to walls and the seat", 2, draw=from_anywhere, more=_SEAT),
    Regime("two answers: 3 to walls and the seat", 3, draw=from_anywhere, more=_SEAT),
    Regime(
        "two answers: 3 and the seat, no target", 3, draw=from_anywhere, more=_SEAT, targets=False
    ),
]

_BLUNDERS = [
    Regime("blunders: 12 shots, one", 6, slip=planted(1), weight=10),
    Regime("blunders: 12 shots, one of 15 mm", 6, slip=planted(1, 15.0)),
    Regime("blunders: 12 shots, one of 50 mm", 6, slip=planted(1, 50.0)),
    Regime("blunders: 8 shots, one", 4, slip=planted(1)),
    Regime("blunders: 12 shots, two", 6, slip=planted(2)),
]

_UNITS = [
    Regime("units: all feet taken as metres", slip=all_times(FEET_PER_METRE)),
    Regime("units: all metres taken as feet", slip=all_times(1 / FEET_PER_METRE)),
    Regime("units: all with the decimal point off", slip=all_times(10.0, 0.1)),
    Regime("units: all bare metres as mm", slip=all_times(0.001)),
    Regime("units: one in feet or metres", slip=one_times(FEET_PER_METRE, 1 / FEET_PER_METRE)),
    Regime("units: one with the decimal point off", slip=one_times(10.0, 0.1)),
    Regime("units: one of bare metres as mm", slip=one_times(0.001)),
]

_ZERO = [
    Regime("zero: 100 mm unknown, 12 shots", 6, meter=_FAR_ZERO),
    Regime("zero: 100 mm unknown, 8 shots", 4, meter=_FAR_ZERO),
    Regime("zero: 100 mm unknown, 12, no target", 6, targets=False, meter=_FAR_ZERO),
    Regime("zero: 100 mm unknown, 12, four walls", 6, draw=across_the_room, meter=_FAR_ZERO),
    Regime(
        "zero: 100 mm unknown, 12, four walls, no target",
        6,
        draw=across_the_room,
        targets=False,
        meter=_FAR_ZERO,
    ),
    Regime("zero: 100 mm unknown, 12, 0 to 45°", 6, toe_in_deg=_FAR_TURNED, meter=_FAR_ZERO),
    Regime("zero: 100 mm unknown, 12, seat and spot", 6, more=SEAT_AND_SPOT, meter=_FAR_ZERO),
    Regime("zero: 100 mm unknown, 12, wall, 2 % skewed", 6, _WALL, skew=0.02, meter=_FAR_ZERO),
    *(
        Regime(
            f"steps of {step:g} mm, held {name}, 0°",
            4,
            _HOLDS[name],
            draw=the_walk,
            toe_in_deg=_STRAIGHT,
            meter=_coarse(step),
        )
        for step in (1.0, 2.0, 5.0)
        for name in ("wall", "cabinet")
    ),
    Regime("steps of 5 mm, mixed, 12 shots, 0°", 6, toe_in_deg=_STRAIGHT, meter=_coarse(5.0)),
    Regime("steps of 5 mm, mixed, 8 shots", 4, meter=_coarse(5.0)),
]

REGIMES: Final = {
    regime.name: regime
    for regime in (*_CLEAN, *_BACKWARDS, *_TWO_ANSWERS, *_BLUNDERS, *_UNITS, *_ZERO)
}
"""Every regime by its name."""
