"""A tilt: how it is measured, what it does at the seat, and which spikes bring it to its target."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from fractions import Fraction
from typing import Final

from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units, format_length
from witnessmark.locate.spikes import FootTurn, SpikePlan
from witnessmark.locate.tilt import AxisHeight, TiltSymmetry
from witnessmark.model import Setup, Side
from witnessmark.placing.guidance import TiltStatus
from witnessmark.sentences import listed
from witnessmark.words.cautions import SPIKES

_EIGHTH = Fraction(1, 8)
HELD_TO_PLUMB_LINE: Final = (
    "Hang a plumb line just in front of the baffle, where nobody runs into it. Hold "
    "{edge} to it, level and square to the baffle: first low, then higher by the spacing."
)
HELD_ON_BAFFLE: Final = (
    "Hold {edge} flush on the baffle, firing ahead at an upright wall: first low, then "
    "higher by the spacing."
)
HELD_ON_REAR: Final = (
    "Hold {edge} flush on the rear face, firing at an upright wall behind: first low, "
    "then higher by the spacing. The rear must be parallel to the baffle."
)
UPRIGHT_ON_BAFFLE: Final = (
    "Hold the instrument upright on the baffle, type what it shows, then Enter. Leaning "
    "back is above 0. If it shows 90° on an upright baffle, type the reading minus 90."
)


def type_angle_words(side: Side) -> str:
    """Return whose angle is to be typed now."""
    return f"{side.capitalize()} cabinet: type the angle."


def measure_words(side: Side, low_mm: float | None, units: Units) -> str:
    """Return which distance is to be measured now: the low one, or the high one after it."""
    if low_mm is None:
        return f"{side.capitalize()} cabinet, low: press the meter's button."
    low = format_length(low_mm, units)
    return f"{side.capitalize()} cabinet, high (low was {low}): press the meter's button."


def tilt_words(setup: Setup, status: TiltStatus) -> Iterator[str]:
    """Yield where the axis passes the seat, and which spikes to turn how far, with the caution."""
    if status.axis is not None:
        yield axis_words(status.axis, setup.units)
    if status.spikes is not None and status.spikes.feet:
        yield from spike_words(status.spikes, setup.units.finer)
        yield SPIKES
    elif status.no_spikes:
        yield status.no_spikes


def axis_words(axis: AxisHeight, units: Units) -> str:
    """Return where an axis passes the seat in height, as a sentence."""
    sentence = (
        f"the axis passes the seat {format_length(axis.height_mm, units)} above the floor, "
        f"known to ±{format_length(axis.expanded_mm, units)}"
    )
    if axis.over_ear_mm is None:
        return sentence
    if abs(axis.over_ear_mm) <= axis.expanded_mm:
        return f"{sentence}: at ear height, as far as the measurement can tell"
    where = "above" if axis.over_ear_mm > 0 else "below"
    return f"{sentence}: {format_length(abs(axis.over_ear_mm), units)} {where} the ears"


def tilt_symmetry_words(pair: TiltSymmetry) -> str:
    """Return how the two tilts differ, as a sentence."""
    known = f"known to ±{pair.expanded_deg:.2f}°"
    if pair.verdict is Verdict.IN:
        return f"left and right lean alike: {abs(pair.tilt_deg):.2f}° apart, {known}"
    one, other = ("left", "right") if pair.tilt_deg > 0 else ("right", "left")
    sentence = (
        f"the {one} cabinet leans back {abs(pair.tilt_deg):.2f}° more than the {other}, {known}"
    )
    if pair.verdict is Verdict.OUT:
        return sentence
    return f"{sentence}: too coarse to tell whether they lean alike"


def spike_words(plan: SpikePlan, units: Units) -> tuple[str, ...]:
    """Return what to do with the spikes, and what would do as well; empty for no turn."""
    if not plan.feet:
        return ()
    best, other = (_spike_turns(feet, plan.turn_deg, units) for feet in (plan.feet, plan.otherwise))
    return best, f"or {other}"


def _spike_turns(moves: Mapping[str, FootTurn], turn_deg: float, units: Units) -> str:
    """Return what to do with the feet; those that are turned alike are named together."""
    alike: dict[str, list[str]] = {}
    for name, move in moves.items():
        alike.setdefault(_turn_words(move, units), []).append(name)
    parts = []
    for what, names in alike.items():
        each, spikes = (" each", "spikes") if len(names) > 1 else ("", "spike")
        parts.append(what.format(spikes=f"{spikes} at {listed(names)}", each=each))
    leans = "back" if turn_deg > 0 else "forward"
    return f"{', '.join(parts)}: the baffle leans {abs(turn_deg):.2f}° further {leans}"


def _turn_words(move: FootTurn, units: Units) -> str:
    out = move.raise_mm > 0
    length = format_length(abs(move.raise_mm), units)
    if move.turns is None:
        return f"{'lengthen' if out else 'shorten'} the {{spikes}} by {length}{{each}}"
    way, clock, effect = (
        ("out", "clockwise", "raises") if out else ("in", "anticlockwise", "lowers")
    )
    return (
        f"turn the {{spikes}} {way} {turns_text(move.turns)}{{each}} ({clock} seen from above, "
        f"which {effect} the cabinet there by {length})"
    )


def turns_text(turns: float) -> str:
    """Return turns to the nearest eighth, without a sign: ``1 3/8 turns``, ``1/8 turn``."""
    eighths = round(abs(turns) / _EIGHTH)
    whole, part = divmod(eighths * _EIGHTH, 1)
    if not eighths:
        return "less than 1/8 turn"
    number = " ".join(str(value) for value in (whole, part) if value)
    return f"{number} turn{'s' if eighths > 8 else ''}"
