"""Finding a point of a cabinet with a tape: from where to measure next, and what was found."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import msgspec

from witnessmark.errors import BadInput
from witnessmark.geometry.touch import (
    Face,
    FoundPoint,
    TapeReading,
    TwoPlaces,
    expected_reading,
    find_point,
)
from witnessmark.lengths import Units
from witnessmark.model import BOX_POINTS, Cabinet, TouchPoint
from witnessmark.sentences import sentence
from witnessmark.session.cabinet_details import PointKind, corner
from witnessmark.words.tape import TWO_FIX_IT, one_more_words

_WORTH_IT = 0.8
"""Part of the worse figure to which one more reading must narrow it to be worth taking."""
_REAR_CORNERS = ("rear-inner", "rear-outer")


class Sought(NamedTuple):
    """The point that is looked for, by kind and name; its own old place does not count."""

    kind: PointKind
    name: str

    def in_box(self, cabinet: Cabinet) -> Cabinet:
        """Return the cabinet without it, so that nothing is measured from the point itself."""
        if self.kind is PointKind.FOOT:
            return cabinet
        others = {name: at for name, at in cabinet.points.items() if name != self.name}
        return msgspec.structs.replace(cabinet, points=others)


class TapeFinding(NamedTuple):
    """What the readings say so far; ``found`` is None while they do not fix the point."""

    words: str
    found: FoundPoint | None = None
    telling: str | None = None
    """From where one more reading would tell the most, where that is known."""


def starts(cabinet: Cabinet, sought: Sought) -> list[str]:
    """Return the places from which a tape can be laid to the point, the most telling first."""
    known = list(sought.in_box(cabinet).body_points)
    if sought.kind is PointKind.POINT:
        known = [name for name in known if name != sought.name]
    if sought.kind is PointKind.POINT and sought.name in _REAR_CORNERS:
        # where one rear corner is not where a plain box has it, the other hardly is
        known = [name for name in known if name not in _REAR_CORNERS or name in cabinet.points]
    return list(dict.fromkeys((*_telling(sought), *Face, *known)))


def _telling(sought: Sought) -> tuple[str, ...]:
    """Return the starts that fix a point of this name, and check it."""
    if sought.name in _REAR_CORNERS and sought.kind is PointKind.POINT:
        return "front-inner", "front-outer", Face.BAFFLE
    parts = sought.name.split("-")
    along = Face.REAR if "rear" in parts and sought.kind is PointKind.POINT else Face.BAFFLE
    across = (Face.OUTER, Face.INNER) if "outer" in parts else (Face.INNER, Face.OUTER)
    return along, *across


def next_start(cabinet: Cabinet, sought: Sought, readings: tuple[TapeReading, ...]) -> str:
    """Return the place from which the next reading tells the most."""
    telling = finding(cabinet, sought, readings, Units.MM).telling
    if telling is not None:
        return telling
    taken = {reading.start for reading in readings}
    offered = starts(cabinet, sought)
    return next((start for start in offered if start not in taken), offered[0])


@lru_cache(maxsize=16)
def finding(
    cabinet: Cabinet, sought: Sought, readings: tuple[TapeReading, ...], units: Units
) -> TapeFinding:
    """Return what the readings say of where the point is."""
    if len(readings) < 2:
        return TapeFinding(TWO_FIX_IT)
    try:
        found = find_point(sought.in_box(cabinet), readings, units=units)
    except TwoPlaces as error:
        return TapeFinding(sentence(error), telling=error.telling)
    except BadInput as error:
        return TapeFinding(sentence(error))
    further = _further(sought.in_box(cabinet), starts(cabinet, sought), readings, found)
    if further is None:
        return TapeFinding(sentence(found.words), found)
    start, which, width_mm = further
    more = one_more_words(start, which, width_mm, units)
    return TapeFinding(f"{sentence(found.words)} {more}", found, start)


def _further(
    cabinet: Cabinet, offered: Sequence[str], readings: Sequence[TapeReading], found: FoundPoint
) -> tuple[str, str, float] | None:
    """The start that narrows the worse figure the most, that figure, and the uncertainty then.

    None where no reading is worth its while, or those there are contradict one another.
    """
    if found.suspect is not None:
        return None
    inward_is_worse = found.inward_expanded_mm > found.back_expanded_mm
    taken = {reading.start for reading in readings}
    widths = {}
    for start in offered:
        more = None if start in taken else _with_one_from(cabinet, start, readings, found)
        if more is not None:
            widths[start] = more.inward_expanded_mm if inward_is_worse else more.back_expanded_mm
    start, width_mm = min(widths.items(), key=lambda one: round(one[1], 3), default=("", math.inf))
    if width_mm > _WORTH_IT * max(found.inward_expanded_mm, found.back_expanded_mm):
        return None
    return start, "inward" if inward_is_worse else "back", width_mm


def _with_one_from(
    cabinet: Cabinet, start: str, readings: Sequence[TapeReading], found: FoundPoint
) -> FoundPoint | None:
    """Return what the readings would say with one more that fits; None where it cannot be taken."""
    try:
        more = expected_reading(cabinet, start, found.point)
        return find_point(cabinet, [*readings, more])
    except BadInput:  # too short for a tape, or on a line on which they leave two places
        return None


def may_taper(cabinet: Cabinet, sought: Sought) -> bool:
    """Return whether a board along a side may not be square to the baffle."""
    names = set(cabinet.points) | ({sought.name} if sought.kind is PointKind.POINT else set())
    return not names.isdisjoint(_REAR_CORNERS)


def likely_place(cabinet: Cabinet, sought: Sought) -> TouchPoint:
    """Return where a point of this name may be, to draw it before it is found."""
    parts, half = sought.name.split("-"), cabinet.width_mm / 2
    inward = (("inner" in parts) - ("outer" in parts)) * half
    back = cabinet.depth_mm * (0.0 if "front" in parts else 1.0 if "rear" in parts else 0.6)
    if sought.kind is PointKind.FOOT:
        return TouchPoint(0.8 * inward, 0.1 * cabinet.depth_mm + 0.8 * back)
    if "plinth" in parts:
        return TouchPoint(1.2 * inward, 1.2 * back - 0.1 * cabinet.depth_mm)
    if sought.name in BOX_POINTS:
        at = corner(cabinet, sought.name)
        return TouchPoint((0.7 if "rear" in parts else 1.0) * at.inward_mm, at.back_mm)
    return TouchPoint(inward or 0.3 * half, back)
