"""How near is near enough: within what a cabinet is called in, how sure it is, what would help."""

from __future__ import annotations

import math
from collections.abc import Iterator

from witnessmark.lengths import format_at_most, format_length
from witnessmark.model import OF_CABINET, Act, Placement, Quantity, Setup
from witnessmark.model.meter import ROUNDS_OF_MARKS
from witnessmark.placing.guidance import Guidance
from witnessmark.placing.judge import Appraisal
from witnessmark.sentences import listed, percent
from witnessmark.shots.narrowing import Narrowed, Remedy, widest

_REMEDIES = {
    Remedy.ZERO: f"checking the meter's zero (three marks, {ROUNDS_OF_MARKS} times)",
    Remedy.AGAIN: "shooting all of it once more",
    Remedy.SWEEP: "sweeping each shot to a wall",
}


def near_enough_words(now: Guidance) -> Iterator[str]:
    """Yield how sure the cabinet in hand is to be in, within what it would be, and what helps."""
    yield from enough_words(now)
    own = now.own
    if own is None or own.against_target is None:
        return
    yield _window_words(now.setup, own.against_target.window)
    first = widest(now.setup, own.expanded)
    can_be_in = first.of(own.against_target.window) > 0
    for one in now.narrowed:
        yield from _narrowed_words(now.setup, first, one, can_be_in=can_be_in)


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
    """Within what each quantity is called in, and which cannot be, wherever the cabinet stands."""
    never = [one.label for one in OF_CABINET if one.of(window) <= 0]
    if never:
        return f"this meter does not know the {listed(never)} well enough to call it in"
    parts = (_window(setup, one, one.of(window)) for one in OF_CABINET)
    return f"called in within {', '.join(parts)}"


def _narrowed_words(
    setup: Setup, first: Quantity, narrowed: Narrowed, *, can_be_in: bool
) -> Iterator[str]:
    """Yield what would widen the narrowest of these, and to what."""
    window = first.tolerance(setup) - first.of(narrowed.expanded)
    if window <= 0:
        return
    what = _REMEDIES.get(narrowed.by)
    if narrowed.straightedge_mm is not None:
        what = f"a straightedge of {format_length(narrowed.straightedge_mm, setup.units.whole)}"
    brings = "make it" if can_be_in else "let it be called in within"
    yield f"{what} would {brings} {_window(setup, first, window)}"


def _window(setup: Setup, quantity: Quantity, window: float) -> str:
    """Return a window, rounded down so that it never promises more than is true."""
    if quantity.is_length:
        width = format_at_most(window, setup.units)
    else:
        width = f"{math.floor(100 * window) / 100:.2f}°"
    return f"±{width} ({quantity.label})"
