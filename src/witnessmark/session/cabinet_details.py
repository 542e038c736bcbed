"""What makes a cabinet more than a plain box: its own touch points and its feet, entry by entry."""

from __future__ import annotations

import enum
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.lengths import Units, format_length
from witnessmark.model import BOX_POINTS, STRAIGHTEDGE_POINTS, Cabinet, TouchPoint
from witnessmark.model.limits import TURNS
from witnessmark.sentences import listed

FARTHEST_FOOT_MM: Final = 150.0
"""Farthest that a spike stands outside the box, mm, outriggers included; common practice, no
source."""
FARTHEST_POINT_MM: Final = 500.0
MOST_FEET, FEWEST_FEET = 4, 3
_HARDLY_MM = 2.0
"""Distance from the box, mm, within which a corner found by tape is on it."""
_SAME_MM = 0.05
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_LONGEST_NAME = 20
_TURNS_OF_FOOT = re.compile(r"(?P<foot>.+?)[\s:=]+(?P<turns>[-+]?[\d.]+)")


class PointKind(enum.StrEnum):
    """What an entry is."""

    POINT = "touch point"
    FOOT = "foot"


class NamedPoint(NamedTuple):
    """A touch point that the person added, or a foot, with its name."""

    kind: PointKind
    name: str
    at: TouchPoint

    def words(self, units: Units) -> str:
        """Return one line that says where it is."""
        inward, back = self.at.inward_mm, self.at.back_mm
        way = "in" if inward >= 0 else "out"
        depth = "back" if back >= 0 else "ahead"
        told = (
            f"{'foot ' if self.kind is PointKind.FOOT else ''}{self.name}: "
            f"{format_length(abs(inward), units)} {way}, {format_length(abs(back), units)} {depth}"
        )
        if self.at.height_mm:
            told += f", meter at {format_length(self.at.height_mm, units)}"
        return told


def point_name(text: str) -> str:
    """Return the name of a point as it is written everywhere: ``Plinth rear`` is ``plinth-rear``.

    Raises:
        BadInput: when it cannot be one.
    """
    name = "-".join(text.casefold().split())
    if not _NAME.fullmatch(name) or len(name) > _LONGEST_NAME:
        raise BadInput(
            f'"{text}" cannot name a point: use up to {_LONGEST_NAME} letters a to z, digits and '
            "hyphens, such as plinth-rear"
        )
    return name


def read_turns(text: str, feet: Sequence[str]) -> dict[str, float]:
    """Return how many turns each spike is out, by the names of the cabinet's feet.

    Raises:
        BadInput: when a part is no foot with a number, there is no such foot, or one stands twice.
    """
    turns: dict[str, float] = {}
    for part in filter(None, (each.strip() for each in text.split(","))):
        foot, count = _turns_of_foot(part)
        if foot not in feet:
            raise BadInput(f'there is no foot "{foot}"; there are {listed(feet)}')
        if foot in turns:
            raise BadInput(f'"{foot}" stands there twice; name each foot once')
        turns[foot] = count
    return turns


def _turns_of_foot(part: str) -> tuple[str, float]:
    match = _TURNS_OF_FOOT.fullmatch(part)
    try:
        count = float(match["turns"]) if match else math.nan
    except ValueError:
        count = math.nan
    if match is None or not TURNS.admits(count):
        raise BadInput(f'"{part}" is not a foot with its turns; write it as front 2.5')
    return match["foot"], count


def turns_words(turns: Mapping[str, float]) -> str:
    """Return how far each spike is turned out, as it is typed."""
    return ", ".join(f"{foot} {count:g}" for foot, count in turns.items())


def is_plain(cabinet: Cabinet) -> bool:
    """Return whether it is a box on its four corners, and no more."""
    return not (cabinet.points or cabinet.feet or cabinet.straightedge_mm)


def corner(cabinet: Cabinet, name: str) -> TouchPoint:
    """Return where the box has one of its four corners, whatever was entered for it."""
    return msgspec.structs.replace(cabinet, points={}).body_points[name]


def mirrored(cabinet: Cabinet, kind: PointKind, name: str) -> TouchPoint | None:
    """Return the mirror image of the entry of this name on the other side; None without one."""
    swapped = {"inner": "outer", "outer": "inner"}
    other = "-".join(swapped.get(word, word) for word in name.split("-"))
    kept = cabinet.points if kind is PointKind.POINT else cabinet.feet
    if other == name or other not in kept:
        return None
    return msgspec.structs.replace(kept[other], inward_mm=-kept[other].inward_mm)


def entries(cabinet: Cabinet) -> list[NamedPoint]:
    """Return all that was entered, in its order: touch points, then feet."""
    points = [NamedPoint(PointKind.POINT, name, at) for name, at in cabinet.points.items()]
    return points + [NamedPoint(PointKind.FOOT, name, at) for name, at in cabinet.feet.items()]


def with_entry(
    cabinet: Cabinet, entry: NamedPoint, units: Units, *, instead_of: str | None = None
) -> Cabinet:
    """Return the cabinet with one more entry, or with this in the place of the one that is named.

    Raises:
        BadInput: when the name is taken, the place is far outside the cabinet, or there are feet
            enough.
    """
    kept = cabinet.points if entry.kind is PointKind.POINT else cabinet.feet
    if entry.name != instead_of and entry.name in kept:
        raise BadInput(
            f"there already is a {entry.kind} {entry.name}: change that one, or give another name"
        )
    if entry.name in STRAIGHTEDGE_POINTS:
        raise BadInput(f"{entry.name} is an end of the straightedge: give another name")
    _check_place(cabinet, entry, units)
    if entry.kind is PointKind.FOOT and instead_of is None and len(kept) >= MOST_FEET:
        raise BadInput("a cabinet stands on three or four feet: change one, or remove one first")
    changed = {
        entry.name if name == instead_of else name: entry.at if name == instead_of else at
        for name, at in kept.items()
    }
    return _with(cabinet, entry.kind, changed | {entry.name: entry.at})


def _check_place(cabinet: Cabinet, entry: NamedPoint, units: Units) -> None:
    farthest = FARTHEST_FOOT_MM if entry.kind is PointKind.FOOT else FARTHEST_POINT_MM
    outside = outside_mm(cabinet, entry.at)
    if outside > farthest:
        raise BadInput(
            f"the {entry.kind} {entry.name} would be {format_length(outside, units)} outside the "
            f"cabinet, and {format_length(farthest, units)} is the most: check figures and signs"
        )


def with_heights(cabinet: Cabinet, height_mm: float) -> Cabinet:
    """Return the cabinet with the meter held at one height at all four corners."""
    points = dict(cabinet.points)
    for name in BOX_POINTS:
        at = cabinet.body_points[name]
        points[name] = msgspec.structs.replace(at, height_mm=height_mm)
    return _with(cabinet, PointKind.POINT, points)


def without(cabinet: Cabinet, entry: NamedPoint) -> Cabinet:
    """Return the cabinet with an entry taken out."""
    kept = cabinet.points if entry.kind is PointKind.POINT else cabinet.feet
    return _with(cabinet, entry.kind, {name: at for name, at in kept.items() if name != entry.name})


def _with(cabinet: Cabinet, kind: PointKind, changed: dict[str, TouchPoint]) -> Cabinet:
    if kind is PointKind.FOOT:
        return msgspec.structs.replace(cabinet, feet=changed)
    # what is just as the box has it says nothing
    told = {
        name: at
        for name, at in changed.items()
        if at.height_mm or name not in BOX_POINTS or not _is_at(at, corner(cabinet, name))
    }
    return msgspec.structs.replace(cabinet, points=told)


def with_corners_moved(cabinet: Cabinet, box: Cabinet) -> Cabinet:
    """Return the cabinet that became ``box`` when its size was changed, with its corners moved.

    The box's corners go with the box; what else was entered stays where it is.
    """
    moved = {
        name: msgspec.structs.replace(corner(box, name), height_mm=at.height_mm)
        for name, at in cabinet.points.items()
        if name in BOX_POINTS and _is_at(at, corner(cabinet, name))
    }
    return msgspec.structs.replace(box, points=box.points | moved)


def contradictions(cabinet: Cabinet, units: Units) -> tuple[str, ...]:
    """Return what of the entries does not go with the size of the box, or with one another."""
    return tuple(_contradictions(cabinet, units))


def _contradictions(cabinet: Cabinet, units: Units) -> Iterator[str]:
    for name in BOX_POINTS:
        outside = outside_mm(cabinet, cabinet.body_points[name])
        if outside > _HARDLY_MM:
            yield (
                f"{name} is {format_length(outside, units)} outside a box of "
                f"{format_length(cabinet.width_mm, units)} by "
                f"{format_length(cabinet.depth_mm, units)}: check the size, or change the point"
            )
    for name, foot in cabinet.feet.items():
        outside = outside_mm(cabinet, foot)
        if outside > FARTHEST_FOOT_MM:
            far = format_length(outside, units)
            yield f"foot {name} is {far} outside the box: check the size, or change the foot"
    if 0 < len(cabinet.feet) < FEWEST_FEET:
        yield "a cabinet stands on three or four feet: enter the others as well"


def outside_mm(cabinet: Cabinet, at: TouchPoint) -> float:
    """Return how far a point is outside the box, mm, the farther of two ways; 0 inside."""
    beside = abs(at.inward_mm) - cabinet.width_mm / 2
    return max(beside, at.back_mm - cabinet.depth_mm, -at.back_mm, 0.0)


def _is_at(one: TouchPoint, other: TouchPoint) -> bool:
    across, along = one.inward_mm - other.inward_mm, one.back_mm - other.back_mm
    return max(abs(across), abs(along)) < _SAME_MM
