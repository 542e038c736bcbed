"""Marks: saving one, what moved since it or between two, and what was entered otherwise since."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from witnessmark.lengths import NOT_PRINTED_MM, Units
from witnessmark.locate.compare import CabinetChange, Change, Comparison
from witnessmark.model import Cabinet, Edge, Mark, Meter, Room, Setup, Side, Wall
from witnessmark.placing.guidance import Guidance
from witnessmark.placing.marks import is_known, moved_between
from witnessmark.sentences import listed, sentence
from witnessmark.words.nudge import difference_length, expanded_length

BEFORE_NUDGE: Final = "as it was measured before the requested nudge"
TARGETS_STAY: Final = "The targets stay at that mark's position; set others on the layout screen."
_HELD_BY = {
    Edge.REAR: "its rear edge",
    Edge.FRONT: "its front edge",
    Edge.THREAD: "its thread",
    Edge.OTHER: "an end piece",
}


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
    return f"±{expanded_length(width, units)} and ±{angle:.2f}°"


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
        far, known = (
            difference_length(moved.amount, units),
            expanded_length(moved.expanded, units),
        )
        yield f"{far} {ways[moved.amount > 0]} (±{known})"


def _turned(moved: Change) -> Iterator[str]:
    if moved.seen:
        way = "in" if moved.amount > 0 else "out"
        yield f"turned {way} by {abs(moved.amount):.2f}° (±{moved.expanded:.2f}°)"


def _leaning(moved: Change | None) -> Iterator[str]:
    if moved is not None and moved.seen:
        way = "more" if moved.amount > 0 else "less"
        yield f"leaning back {abs(moved.amount):.2f}° {way} (±{moved.expanded:.2f}°)"


def why_unknown(guidance: Guidance | None) -> str | None:
    """Return why it is not known where the pair stands now, as a sentence; None where it is."""
    if guidance is None:
        return "nothing is measured yet: first shoot both cabinets on the live screen"
    for side in Side:
        status = guidance.cabinets[side]
        if status.appraisal is None:
            return f"the {side} cabinet is not measured yet: first shoot it on the live screen"
        if status.stale:
            return f"the {side} cabinet is being measured again: first shoot it on the live screen"
    if is_known(guidance):
        return None
    return "the shots of the two cabinets do not fit together: measure both again"


def purpose_words(setup: Setup) -> str:
    """Return which mark is being put back or checked, in words; empty where none is."""
    if setup.restoring is None:
        return ""
    doing = "checking" if setup.restoring.is_check else "putting back"
    return f'{doing} "{setup.restoring.name}"'


def marks_advice(setup: Setup) -> str:
    """Return what can be done with marks now, or what is under way and how to stop it."""
    purpose = purpose_words(setup)
    if purpose:
        return f"Under way: {purpose}. Ctrl+L stops this."
    return "Save this position under a name, to put it back another day."


def saved_words(mark: Mark) -> str:
    """Return that a mark is saved."""
    return f'"{mark.name}" is saved.'


def not_saved_words(why: str) -> str:
    """Return that no mark can be saved, and ``why``."""
    return f"No mark can be saved now: {why}."


def nudge_in_doubt_words(side: Side) -> str:
    """Return how to go on where a cabinet may have been nudged since it was measured."""
    return (
        f"A nudge is requested for the {side} cabinet. If nobody has moved it since, press "
        "Ctrl+S again to save it as measured; otherwise shoot it first."
    )


def since_unknown_words(why: str) -> str:
    """Return that nobody knows what moved since a mark, and ``why``."""
    return f"what has moved since is not known: {why}"


def moved_words(then: Mark, now: Mark) -> Iterator[str]:
    """Yield what moved from a mark to a later one, and what was entered otherwise."""
    yield from comparison_words(now.setup, moved_between(then, now))
    yield from entered_otherwise(then.setup, now.setup)


def since_words(mark: Mark, setup: Setup) -> tuple[str, ...]:
    """Return what of room, meter and cabinets was entered otherwise since a mark was made."""
    return entered_otherwise(mark.setup, setup)


def points(sentences: Sequence[str]) -> str:
    """Return sentences as a list of points, one below the other."""
    return "\n".join(f"· {sentence(one)}" for one in sentences)


def entered_otherwise(then: Setup, now: Setup) -> tuple[str, ...]:
    """Return what of room, seat, cabinets and meter is entered otherwise now, as sentences.

    Each says as well what that does to a comparison of then and now; empty where all is the same.
    Lengths are in the units in use now.
    """
    return tuple(
        sentence
        for part in (_room, _walls, _seat, _cabinets, _meter, _others)
        for sentence in part(then, now)
    )


def _by(mm: float, units: Units, less: str, more: str) -> str | None:
    """Return how much, and which way; None where there is no difference."""
    if abs(mm) < NOT_PRINTED_MM:
        return None
    return f"{difference_length(mm, units)} {more if mm > 0 else less}"


def _room(then: Setup, now: Setup) -> Iterator[str]:
    before, after, units = then.room, now.room, now.units
    wider = after.width_mm - before.width_mm
    longer = after.length_mm - before.length_mm
    if change := _by(wider, units, "narrower", "wider"):
        yield (
            f"the room is now entered {change}: distances from the right wall differ by that much"
        )
    if change := _by(longer, units, "shorter", "longer"):
        yield (
            f"the room is now entered {change}: distances from the back wall differ by that much"
        )
    bent = _bent_mm(before, after, wider, longer)
    if bent > NOT_PRINTED_MM:
        yield (
            f"the room's corners are now entered up to {difference_length(bent, units)} elsewhere: "
            "distances from its walls, and toe-in counted from them, change with them"
        )


def _walls(then: Setup, now: Setup) -> Iterator[str]:
    before, after = then.room, now.room
    for wall in Wall:
        if (wall in before.datum) is not (wall in after.datum):
            yield (
                f"there is now a {after.side_name(wall)} where there was a "
                f"{before.side_name(wall)}: distances from the two cannot be compared"
            )
    if before.offsets != after.offsets:
        yield (
            "what sticks out from the walls has changed: beams that meet it differ by as much "
            "as it sticks out"
        )


def _bent_mm(before: Room, after: Room, wider: float, longer: float) -> float:
    """Return how far a corner is from where the change of width and length alone would put it."""
    grown = ((0.0, 0.0), (wider, 0.0), (wider, longer), (0.0, longer))
    return max(
        math.dist(new, (old[0] + by[0], old[1] + by[1]))
        for old, new, by in zip(before.corners, after.corners, grown, strict=True)
    )


def _seat(then: Setup, now: Setup) -> Iterator[str]:
    before, after, units = then.seat, now.seat, now.units
    out = after.from_front_mm - before.from_front_mm
    right = after.from_left_mm - before.from_left_mm
    ways = (
        _by(out, units, "nearer to the front wall", "farther from the front wall"),
        _by(right, units, "to the left", "to the right"),
    )
    moves = [way for way in ways if way]
    if moves:
        yield (
            f"the seat is now entered {listed(moves)}: paths to it and aims at it differ, but "
            "not where the cabinets stand"
        )
    if before.ear_height_mm is None or after.ear_height_mm is None:
        return
    if height := _by(after.ear_height_mm - before.ear_height_mm, units, "lower", "higher"):
        yield f"the ears are now entered {height}: paths and tilt aimed at them differ"


def _cabinets(then: Setup, now: Setup) -> Iterator[str]:
    left, right = (list(_cabinet(then.cabinets[s], now.cabinets[s], now.units)) for s in Side)
    if left == right:
        yield from (f"both cabinets: {change}" for change in left)
        return
    for side, sentences in zip(Side, (left, right), strict=True):
        yield from (f"the {side} cabinet: {change}" for change in sentences)


def _cabinet(before: Cabinet, after: Cabinet, units: Units) -> Iterator[str]:
    if change := _by(after.width_mm - before.width_mm, units, "narrower", "wider"):
        yield (
            f"now entered {change}; shots from its sides or corners place it up to half of that "
            "differently"
        )
    if change := _by(after.depth_mm - before.depth_mm, units, "less deep", "deeper"):
        yield f"now entered {change}; shots from its rear place it that much differently"
    if (before.points, before.straightedge_mm) != (after.points, after.straightedge_mm):
        yield "touch points have changed; shots from them place it differently"
    if before.feet != after.feet:
        yield "feet have changed; movements are those of the present feet"
    if before.acoustic_height_mm != after.acoustic_height_mm:
        yield "the acoustic height has changed; paths to the seat differ"


def _meter(then: Setup, now: Setup) -> Iterator[str]:
    before, after, units = then.meter, now.meter, now.units
    if _figures(before) != _figures(after):
        yield "another meter, or other figures for it: its zero error no longer cancels"
    if before.edge is not after.edge:
        yield (
            f"the meter is now held by {_HELD_BY[after.edge]}, before by "
            f"{_HELD_BY[before.edge]}: an error in the length between them is in every distance"
        )
    elif change := _by(after.edge_offset_mm - before.edge_offset_mm, units, "less", "more"):
        yield (f"{change} is now added for the meter's edge: every distance differs by that much")
    correction = after.zero_correction_mm - before.zero_correction_mm
    if change := _by(correction, units, "less", "more"):
        yield (f"{change} is now added for the meter's zero: every distance differs by that much")


def _figures(meter: Meter) -> tuple[float, float, float, float]:
    return meter.repeatability_mm, meter.resolution_mm, meter.zero_mm, meter.scale_ppm


def _others(then: Setup, now: Setup) -> Iterator[str]:
    if then.inclinometer != now.inclinometer:
        yield ("another inclinometer, or other figures for it: its zero error no longer cancels")
    if then.mirror is not now.mirror:
        yield (
            f"the pair now mirrors about {now.mirror.words}, before about {then.mirror.words}: "
            "symmetry is counted about the present line"
        )
