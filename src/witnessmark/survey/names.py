"""The distances of a survey in words."""

from __future__ import annotations

from typing import NamedTuple

from witnessmark.lengths import Units, format_length
from witnessmark.model import Corner, FloorMark, Measure, Shortest, Straight, Wall


class SurveyNames(NamedTuple):
    """How a survey is put into words: which sides are lines instead of walls, and the units."""

    datum: tuple[Wall, ...] = ()
    units: Units = Units.MM

    def length(self, mm: float) -> str:
        """Return a length in the person's units."""
        return format_length(mm, self.units)

    def side(self, wall: Wall) -> str:
        """Return a side of the room."""
        return f"the {wall} datum line" if wall in self.datum else f"the {wall} wall"

    def measure(self, measure: Measure) -> str:
        """Return from where to where a distance was taken."""
        start = self.mark(measure.start)
        if isinstance(measure, Shortest):
            return f"the way from {start} square to {self.side(measure.wall)}"
        if not isinstance(measure, Straight):
            at, corner = self.length(measure.start.at_mm), measure.start.corner
            return f"the beam square off {self.side(measure.back)}, {at} from the {corner} corner"
        between = corners_between(measure)
        if between is None:
            return self._between_marks(measure)
        side = side_measured(measure)
        return self.side(side) if side else f"the diagonal from {between[0]} to {between[1]}"

    def _between_marks(self, measure: Straight) -> str:
        near = _alike(measure)
        if near is None:
            return f"the distance from {self.mark(measure.start)} to {self.mark(measure.end)}"
        what = "width" if near in (Wall.FRONT, Wall.BACK) else "length"
        return f"the {what} {self.length(measure.start.at_mm)} from {self.side(near)}"

    def mark(self, mark: FloorMark) -> str:
        """Return a place at the foot of the walls."""
        if mark.along is None or mark.at_mm == 0:
            return f"the {mark.corner} corner"
        return (
            f"{self.length(mark.at_mm)} along {self.side(mark.along)} from the {mark.corner} corner"
        )


def corners_between(measure: Measure) -> tuple[Corner, Corner] | None:
    """Return the two corners that a straight measure joins; None when it joins anything else."""
    if not isinstance(measure, Straight) or measure.start.at_mm or measure.end.at_mm:
        return None
    return measure.start.corner, measure.end.corner


def side_measured(measure: Measure) -> Wall | None:
    """Return the side that a measure is the length of; None when it is of anything else."""
    between = corners_between(measure) or ()
    return next((wall for wall in Wall if set(wall.ends) == set(between)), None)


def _alike(measure: Straight) -> Wall | None:
    """Return the wall from which both marks lie equally far along two opposite walls, if any."""
    start, end = measure.start, measure.end
    shared = set(start.corner.walls) & set(end.corner.walls)
    if start.along is None or end.along is not start.along.opposite or len(shared) != 1:
        return None
    return shared.pop() if start.at_mm == end.at_mm else None
