"""The check of a meter in words: how it is done, what is asked for now, and what was found."""

from __future__ import annotations

from typing import Final

from witnessmark.errors import BadInput
from witnessmark.lengths import Units, format_small
from witnessmark.meters.check import (
    SEGMENTS,
    SHOTS,
    CheckKind,
    Repeatability,
    ZeroError,
    next_segment,
)
from witnessmark.model import Edge, Meter
from witnessmark.model.meter import ROUNDS_OF_MARKS
from witnessmark.words.holding import edge_words

_HOW: Final = {
    CheckKind.MAKERS: "A plus-or-minus figure is either a limit that no reading passes, or two "
    "standard deviations, which one reading in twenty passes. Its instructions may say which.",
    CheckKind.THREE_MARKS: "Put three marks on one straight line, a metre or more apart, along a "
    "wall or a string where nobody will trip:\n"
    "\n"
    " A ──────── B ──────────── C\n"
    "\n"
    "Hold {edge} on the first mark, and a board upright on the mark you shoot at. "
    "You need not know the lengths: AB plus BC minus AC is the zero error.",
    CheckKind.FIVE_SHOTS: "Measure one distance five times, such as to a wall. Hold {edge} on the "
    "same mark, and lift the meter away between shots, as you do when measuring.",
}


def how_to_check(kind: CheckKind, edge: Edge) -> str:
    """Return how a check is done with the meter held by this edge."""
    return _HOW[kind].format(edge=edge_words(edge))


def asked_words(kind: CheckKind, readings_mm: tuple[float, ...]) -> str:
    """Return the one thing to do now, after these readings."""
    if kind is CheckKind.MAKERS:
        return "Type the figure from the meter's instructions."
    taken = len(readings_mm)
    if kind is CheckKind.FIVE_SHOTS:
        if taken >= SHOTS:
            return f"{taken} shots taken; more make it more certain."
        return f"Shot {taken + 1} of {SHOTS}: press the meter's button."
    if not (segment := next_segment(readings_mm)):
        return f"All three taken {ROUNDS_OF_MARKS} times."
    shots = len(SEGMENTS)
    once_more = "Again, more certain: shot" if taken >= shots else "Shot"
    return (
        f"{once_more} {taken % shots + 1} of {shots}, from {segment[0]} to {segment[1]}: "
        "press the meter's button."
    )


def refused_words(error: BadInput) -> str:
    """Return why the readings cannot be used, and what helps."""
    return f"✗ {error}; Ctrl+U undoes the last"


def figure_words(sigma_mm: float, units: Units) -> str:
    """Return what a maker's plus-or-minus figure says of one shot."""
    return f"One standard deviation of it is {_figure(sigma_mm, units)}."


def zero_words(
    zero: ZeroError,
    units: Units,
    *,
    no_better_than_mm: float | None = None,
    is_of_another_edge: bool = False,
) -> str:
    """Return the zero error that was found, and what that means.

    ``no_better_than_mm`` is the uncertainty that is set now, where what was found may be chance.
    """
    kind = "long" if zero.error_mm > 0 else "short"
    error = _figure(abs(zero.error_mm), units)
    words = f"It reads {error} too {kind}, known to ±{_figure(2 * zero.uncertainty_mm, units)}."
    if no_better_than_mm is not None:
        return (
            f"{words} That may be chance, and the {_figure(no_better_than_mm, units)} set now are "
            "just as good: shoot the three again, or check with five shots how well it repeats."
        )
    if is_of_another_edge:
        words += " That much means another edge than the one held; the correction covers it."
    return words


def repeats_words(found: Repeatability, units: Units) -> str:
    """Return how well the meter repeats itself."""
    if found.sigma_mm == 0:
        return "All are the same: the display's steps hide any scatter."
    return (
        f"One standard deviation is {_figure(found.sigma_mm, units)}, "
        f"itself known to about ±{_figure(2 * found.uncertainty_mm, units)}."
    )


def figures(meter: Meter, units: Units) -> str:
    """Return the figures that a check may change, a line each."""
    correction = format_small(meter.zero_correction_mm, units, signed=True, fine=True)
    return "\n".join(
        (
            f"Repeatability  {_figure(meter.repeatability_mm, units)}",
            f"Zero error     {_figure(meter.zero_mm, units)}",
            f"Correction    {correction}",
        )
    )


def _figure(mm: float, units: Units) -> str:
    """Return a figure of the meter, which is small."""
    return format_small(mm, units, fine=abs(mm) < 9.95)
