"""Whether left and right stand alike: the answer, what would settle it, and the figures."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units, format_length
from witnessmark.locate.symmetry import Symmetry
from witnessmark.model import OF_PAIR, Mirror, Pair, Placement, Quantity, RoomKnown, Setup, Side
from witnessmark.placing.alike import SettlingShot, differences
from witnessmark.sentences import listed
from witnessmark.words.nudge import difference_length, expanded_length

_FIGURES = {Verdict.IN: "ALIKE", Verdict.OUT: "NOT ALIKE", Verdict.UNSURE: "UNSURE"}
_COARSE_DEG = 0.2
"""Tolerance of an angle, degrees, from which a tenth of a degree is fine enough for words."""


def alike_figure(pair: Symmetry) -> str:
    """Return whether they stand alike, for the large characters."""
    return _FIGURES[pair.worst]


def alike_words(setup: Setup, pair: Symmetry) -> tuple[str, ...]:
    """Return whether they stand alike: each difference, and what to do about it, a sentence each.

    What is out comes first, then what is not known yet; where all is in there is one sentence.
    """
    out, unsure = differences(pair, Verdict.OUT), differences(pair, Verdict.UNSURE)
    if not out:
        return (symmetry_words(setup, pair),)
    # where the cabinets stand apart, their paths to the seat follow from that
    told = [one for one in out if one is not Quantity.PATH_TO_SEAT] or out
    words = [_how_it_differs(setup, pair, one) for one in told]
    words += [f"unsure: {_difference(setup, pair, one)}" for one in unsure]
    return tuple(words)


def alike_in_one(setup: Setup, pair: Symmetry) -> str:
    """Return the whole answer as one sentence."""
    return "; ".join(alike_words(setup, pair))


def _how_it_differs(setup: Setup, pair: Symmetry, quantity: Quantity) -> str:
    """Return how left differs from right, and which turn would end it."""
    if quantity is Quantity.TILT and pair.tilt is not None:
        less_or_more = "more" if pair.tilt.tilt_deg > 0 else "less"
        return f"left leans back {abs(pair.tilt.tilt_deg):.2f}° {less_or_more} than right"
    error = quantity.of(pair.error)
    if quantity is Quantity.TOE_IN:
        angle = _degrees(error, quantity.tolerance(setup))
        left, right = ("out", "in") if error > 0 else ("in", "out")
        return f"toe-in differs by {angle}: turn left {left} {angle} or right {right}"
    far = difference_length(error, setup.units)
    if quantity is Quantity.PATH_TO_SEAT:
        return f"left is {far} {'farther from' if error > 0 else 'nearer'} the seat than right"
    if quantity is Quantity.SETBACK:
        return (
            f"left is {far} {'farther from' if error > 0 else 'nearer'} the front wall than right"
        )
    if pair.mirror is Mirror.ROOM:
        return f"left is {far} {'farther from' if error > 0 else 'nearer'} its side wall than right"
    return (
        f"left is {far} {'nearer' if error > 0 else 'farther from'} {pair.mirror.words} than right"
    )


def _degrees(angle: float, limit: float) -> str:
    return f"{abs(angle):.{1 if limit >= _COARSE_DEG else 2}f}°"


def settling_words(setup: Setup, settling: SettlingShot) -> str:
    """Return which shot would tell most, and what it would bring."""
    quantity, kind = settling.quantity, settling.kind
    if quantity.is_length:
        known = expanded_length(settling.expanded, setup.units)
    else:
        known = f"{settling.expanded:.2f}°"
    what = f"the difference in {quantity.label} is then known to ±{known}"
    settles = "this would settle it" if settling.settles else "this would tell most"
    return f"shoot {kind.words} of the {kind.cabinet} cabinet: {settles}; {what}"


def stands_words(side: Side, stands: Placement, units: Units) -> str:
    """Return where a cabinet stands, as it was measured."""
    from_side, from_front = (
        format_length(mm, units.finer) for mm in (stands.side_mm, stands.setback_mm)
    )
    return (
        f"{side}: {from_side} from its side wall, {from_front} from the front wall, "
        f"toe-in {stands.toe_in_deg:.2f}°"
    )


def about_the_line(setup: Setup, measured: Pair[Placement | None]) -> Iterator[str]:
    """Yield how far each stands from the room's centre line, where its width is known."""
    left, right = measured
    if setup.known_of_room is RoomKnown.NOTHING or left is None or right is None:
        return
    half = setup.room.width_mm / 2
    named = zip(Side, (left, right), strict=True)
    far = [f"{side} {difference_length(half - one.side_mm, setup.units)}" for side, one in named]
    yield f"from {Mirror.ROOM.words}: {listed(far)}"


def symmetry_words(setup: Setup, pair: Symmetry) -> str:
    """Return the symmetry of the pair in one sentence, with how well it is known.

    Where it is in doubt, the quantities in doubt are named with their limits; the tilts only where
    they alone are.
    """
    about = "" if pair.other_side is None else f" about {pair.mirror.words}"
    apart = _apart(setup, pair)
    if pair.worst is not Verdict.UNSURE:
        match = "match" if pair.worst is Verdict.IN else "do not match"
        return f"left and right {match}{about}: {apart}"
    unsure = [one for one in OF_PAIR if pair.verdict.get(one) is Verdict.UNSURE]
    if not unsure and pair.tilt is not None:
        tilt, limit = pair.tilt, setup.tolerance.tilt_deg
        differs = _angle(Quantity.TILT, tilt.tilt_deg, tilt.expanded_deg, limit)
        return f"cannot yet tell whether left and right lean alike: {differs}; {apart}"
    differs = ", ".join(_difference(setup, pair, one) for one in unsure)
    return f"cannot yet tell whether left and right match{about}: {differs}"


def _apart(setup: Setup, pair: Symmetry) -> str:
    units, error, expanded = setup.units, pair.error, pair.expanded
    return (
        f"side {difference_length(error.side_mm, units)}, setback "
        f"{difference_length(error.setback_mm, units)}, toe-in {abs(error.toe_in_deg):.2f}° apart, "
        f"known to ±{expanded_length(max(expanded.side_mm, expanded.setback_mm), units)} "
        f"and ±{expanded.toe_in_deg:.2f}°"
    )


def _difference(setup: Setup, pair: Symmetry, quantity: Quantity) -> str:
    """Return how far left and right differ in a quantity, and how far they may."""
    error, expanded = abs(quantity.of(pair.error)), quantity.of(pair.expanded)
    limit = quantity.tolerance(setup)
    if not quantity.is_length:
        return _angle(quantity, error, expanded, limit)
    far, most = difference_length(error, setup.units), difference_length(limit, setup.units)
    known = expanded_length(expanded, setup.units)
    return f"{quantity.label} differs by {far} ±{known} (limit {most})"


def _angle(quantity: Quantity, error: float, expanded: float, limit: float) -> str:
    return f"{quantity.label} differs by {abs(error):.2f}° ±{expanded:.2f}° (limit {limit:g}°)"


def other_side_words(setup: Setup, pair: Symmetry) -> Iterator[str]:
    """Yield the side error about the line that was not chosen, where the two lines differ."""
    if pair.other_side is not None:
        error, expanded = pair.other_side.error_mm, pair.other_side.expanded_mm
        far = difference_length(error, setup.units)
        yield (
            f"about {pair.mirror.other.words} their sides are {far} apart, "
            f"known to ±{expanded_length(expanded, setup.units)}"
        )
