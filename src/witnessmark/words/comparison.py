"""What moved between two measurings, in sentences."""

from __future__ import annotations

from collections.abc import Iterator

from witnessmark.lengths import Units
from witnessmark.locate.compare import CabinetChange, Change, Comparison
from witnessmark.model import Setup, Side
from witnessmark.words.nudge import nudge_length


def comparison_words(setup: Setup, found: Comparison) -> tuple[str, ...]:
    """Return what moved by more than the meter can tell, and how little it can tell of the rest."""
    return tuple(_moves(setup, found))


def moved_in_short(setup: Setup, found: Comparison) -> Iterator[str]:
    """Yield which cabinet moved how far in which direction, and which has not, a sentence each."""
    for side in sorted(Side, key=lambda side: not found.cabinets[side].seen):
        moved = found.cabinets[side]
        if moved.seen:
            changes = _own_changes(setup, side, moved)
            yield f"{side} moved: {', '.join(change.partition(' (')[0] for change in changes)}"
        else:
            yield f"{side} has not moved"


def _moves(setup: Setup, found: Comparison) -> Iterator[str]:
    cabinets, units = found.cabinets, setup.units
    if not found.seen:
        limit = _limit(units, *cabinets)
        yield f"no movement larger than the meter can detect ({limit})"
    for side in Side:
        if cabinets[side].seen:
            yield from _one_cabinet(setup, side, cabinets[side])
        elif found.seen:
            limit = _limit(units, cabinets[side])
            yield f"the {side} cabinet has not moved by more than the meter can detect ({limit})"
    yet = "" if found.seen else "yet "
    yield from _against_each_other(
        f"{yet}relative to the right cabinet, the left one", found, units
    )


def _limit(units: Units, *cabinets: CabinetChange) -> str:
    """The widest of the intervals of places and of angles."""
    angles = [one for each in cabinets for one in (each.toe_in_deg, each.tilt_deg)]
    width = max(one.expanded for each in cabinets for one in (each.side_mm, each.setback_mm))
    angle = max(one.expanded for one in angles if one is not None)
    return f"±{nudge_length(width, units)} and ±{angle:.2f}°"


def _one_cabinet(setup: Setup, side: Side, moved: CabinetChange) -> Iterator[str]:
    yield f"the {side} cabinet moved: {', '.join(_own_changes(setup, side, moved))}"
    if moved.toe_in_deg.seen:
        yield from _farthest_foot(setup, side, moved)


def _own_changes(setup: Setup, side: Side, moved: CabinetChange) -> tuple[str, ...]:
    units = setup.units
    return (
        *_length(moved.setback_mm, _to_and_from("the front wall"), units),
        *_length(moved.side_mm, _to_and_from(f"the {side} wall"), units),
        *_turned(moved.toe_in_deg),
        *_leaning(moved.tilt_deg),
    )


def _farthest_foot(setup: Setup, side: Side, moved: CabinetChange) -> Iterator[str]:
    """The foot that a turn moved most, which is where a person would look."""
    feet = {name: moved.points[name] for name in setup.cabinets[side].standing_points}
    far = {name: max(abs(f.side_mm.amount), abs(f.setback_mm.amount)) for name, f in feet.items()}
    name = max(far, key=lambda foot: far[foot])
    foot = feet[name]
    changes = (
        *_length(foot.setback_mm, _to_and_from("the front wall"), setup.units),
        *_length(foot.side_mm, _to_and_from(f"the {side} wall"), setup.units),
    )
    if changes:
        yield f"its {name} foot moved: {', '.join(changes)}"


def _to_and_from(wall: str) -> tuple[str, str]:
    return f"nearer {wall}", f"farther from {wall}"


def _against_each_other(subject: str, found: Comparison, units: Units) -> Iterator[str]:
    """Yield how the two moved against each other, which is seen finer where they share an error."""
    moved = found.symmetry
    changes = (
        *_length(moved.setback_mm, _to_and_from("the front wall"), units),
        *_length(moved.side_mm, ("farther outward", "farther inward"), units),
        *_length(moved.path_to_seat_mm, _to_and_from("the seat"), units),
        *_turned(moved.toe_in_deg),
        *_leaning(moved.tilt_deg),
    )
    if changes:
        yield f"{subject} moved: {', '.join(changes)}"


def _length(moved: Change, ways: tuple[str, str], units: Units) -> Iterator[str]:
    if moved.seen:
        far, known = nudge_length(moved.amount, units), nudge_length(moved.expanded, units)
        yield f"{far} {ways[moved.amount > 0]} (±{known})"


def _turned(moved: Change) -> Iterator[str]:
    if moved.seen:
        way = "in" if moved.amount > 0 else "out"
        yield f"turned {way} by {abs(moved.amount):.2f}° (±{moved.expanded:.2f}°)"


def _leaning(moved: Change | None) -> Iterator[str]:
    if moved is not None and moved.seen:
        way = "more" if moved.amount > 0 else "less"
        yield f"leaning back {abs(moved.amount):.2f}° {way} (±{moved.expanded:.2f}°)"
