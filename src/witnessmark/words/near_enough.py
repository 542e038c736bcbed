"""How near is near enough: within what a cabinet is called in, how sure it is, what would help."""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.lengths import format_at_most, format_length
from witnessmark.model import OF_CABINET, Act, Placement, Quantity, Setup
from witnessmark.model.meter import ROUNDS_OF_MARKS
from witnessmark.placing.guidance import Guidance
from witnessmark.placing.judge import Appraisal
from witnessmark.sentences import percent
from witnessmark.shots.narrowing import Narrowed, Remedy, widest

_REMEDIES = {
    Remedy.ZERO: f"checking the meter's zero (three marks, {ROUNDS_OF_MARKS} times)",
    Remedy.AGAIN: "shooting all of it once more",
    Remedy.SWEEP: "sweeping each shot to a wall",
}


def near_enough_words(now: Guidance) -> Iterator[str]:
    """Yield how sure the cabinet in hand is to be in, within what it would be, and what helps."""
    yield from enough_words(now)
    against = now.own and now.own.against_target
    if against:
        yield _window_words(now.setup, against.window)
    for one in now.narrowed:
        yield from _narrowed_words(now.setup, one)


def enough_words(now: Guidance) -> Iterator[str]:
    """Yield that a nudge is less than hands can do, and that the cabinet may be left as it is."""
    is_tiny = now.is_less_than_hands_can
    within = within_words(now.own)
    if Act.ENOUGH in now.offered:
        if is_tiny:
            yield f"less than hands can usually do. Press d if {within} is good enough"
        else:
            yield f"{within} to be within tolerance. Press d if that is good enough"
    elif is_tiny:
        yield "less than hands can usually do"


def within_words(one: Appraisal | None) -> str:
    """Return how sure a cabinet is to be within tolerance; empty where that is not computed."""
    against = one and one.against_target
    return "" if not against or against.within is None else f"{percent(against.within)} sure"


def _window_words(setup: Setup, window: Placement) -> str:
    """Within what each quantity is called in; those that cannot be are left to the remark."""
    parts = [_window(setup, one, one.of(window)) for one in OF_CABINET if one.of(window) > 0]
    return f"called in within {', '.join(parts)}" if parts else "this meter cannot call it in"


def _narrowed_words(setup: Setup, narrowed: Narrowed) -> Iterator[str]:
    """What would widen one of these, and to what."""
    first = widest(setup, narrowed.expanded)
    window = first.tolerance(setup) - first.of(narrowed.expanded)
    if window <= 0:
        return
    what = _REMEDIES.get(narrowed.by)
    if narrowed.straightedge_mm is not None:
        what = f"a straightedge of {format_length(narrowed.straightedge_mm, setup.units.whole)}"
    yield f"{what} would make it {_window(setup, first, window)}"


def _window(setup: Setup, quantity: Quantity, window: float) -> str:
    """A window, rounded down: no one is told that more will do than does."""
    if quantity.is_length:
        width = format_at_most(window, setup.units)
    else:
        width = f"{math.floor(100 * window) / 100:.2f}°"
    return f"±{width} ({quantity.label})"
