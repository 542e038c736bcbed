"""A side without a wall: a line in its place, from the distances of its ends from the other sides.

An end at the square distance d from a wall of unit normal n and offset c obeys n.p + c = d, which
is linear in p: two such distances fix it, more than two must agree.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import CRITICAL_STANDARDISED_RESIDUAL, adjust_linear
from witnessmark.geometry.frame import FramePoint, side_frame
from witnessmark.geometry.plan_frame import Shift
from witnessmark.lengths import Units
from witnessmark.model import Corner, DatumLine, KeepClear, PlanPoint, Room, Side, Wall
from witnessmark.model.limits import LENGTH
from witnessmark.model.plan import between
from witnessmark.sentences import listed
from witnessmark.survey.names import SurveyNames

NEAREST_MM = 500.0
"""Shortest line, mm: ends nearer to each other fix its direction too badly."""
_MEET = 0.2
"""Sine of the least angle between two lines of which it is said that they meet."""


class Redrawn(NamedTuple):
    """A room with a line in place of a wall, and what became of the plan before."""

    room: Room
    shift: Shift


def redrawn(
    room: Room,
    line: DatumLine,
    units: Units = Units.MM,
    sigma_mm: float = 1.0,
) -> Redrawn:
    """Return the room with a datum line in place of one wall, in the plan frame that follows.

    Where that wall was in ``room`` does not matter; its neighbours go on, or end, where they meet
    the line. What stands proud of the wall goes with it. A front or left line moves the plan's
    origin: keep-clear zones move along, and a seat is to be moved or measured again.

    Args:
        room: the other three sides.
        line: which side, and how far its ends are from the others.
        units: in which sentences tell lengths.
        sigma_mm: standard deviation of one of these distances.

    Raises:
        BadInput: when the distances do not fix the line, contradict each other, or close no room.
    """
    wall = line.wall
    drawing = _LineBeingDrawn(room, wall, SurveyNames((*room.datum, wall), units), sigma_mm)
    before, after = neighbours(wall)
    first, second = drawing.end(before, line.first), drawing.end(after, line.second)
    drawing.check_apart(first, second)
    corners = dict(zip(Corner, room.corners, strict=True))
    for neighbour in (before, after):
        (corner,) = set(neighbour.ends) & set(wall.ends)
        corners[corner] = drawing.meeting(neighbour, first, second)
    return drawing.closed(corners)


def line_of(room: Room, wall: Wall) -> DatumLine:
    """Return a side as the line from corner to corner, by distances from the opposite side."""
    lines, opposite = side_frame(room, Side.LEFT), wall.opposite

    def end(neighbour: Wall) -> dict[Wall, float]:
        (corner,) = set(neighbour.ends) & set(wall.ends)
        at = dict(zip(Corner, room.corners, strict=True))[corner]
        return {opposite: lines.walls[opposite].distance_mm(lines.from_plan(at))}

    before, after = neighbours(wall)
    return DatumLine(wall, end(before), end(after))


def neighbours(wall: Wall) -> tuple[Wall, Wall]:
    """Return the sides at the first and the second end of a line."""
    if wall in (Wall.LEFT, Wall.RIGHT):
        return Wall.FRONT, Wall.BACK
    return Wall.LEFT, Wall.RIGHT


class _LineBeingDrawn:
    """A line that is being drawn in a room, and how it is spoken of."""

    def __init__(self, room: Room, wall: Wall, names: SurveyNames, sigma_mm: float) -> None:
        self.room = room
        self.wall = wall
        self.names = names
        self.sigma_mm = sigma_mm
        self.frame = side_frame(room, Side.LEFT)
        self.name = names.side(wall)

    def end(self, neighbour: Wall, given: dict[Wall, float]) -> FramePoint:
        """Return where an end of the line is."""
        place = f"{self.name}, its end by {self.names.side(neighbour)}"
        self._check_given(place, given)
        distances = given if len(given) > 1 else {neighbour: 0.0} | given
        lines = [self.frame.walls[wall] for wall in distances]
        design = np.array([(wall.normal_along, wall.normal_out) for wall in lines])
        if np.linalg.matrix_rank(design, tol=_MEET) < 2:
            raise BadInput(
                f"datum: {place}: its distances from two sides that meet are needed, such as "
                f"{self.names.side(neighbour)} and {self.names.side(self.wall.opposite)}"
            )
        observed = np.array(list(distances.values())) - [wall.offset_mm for wall in lines]
        found = adjust_linear(design, observed, np.full(len(observed), self.sigma_mm))
        if np.abs(found.standardised).max() > CRITICAL_STANDARDISED_RESIDUAL:
            read = [f"{self.names.length(mm)} from {self.names.side(w)}" for w, mm in given.items()]
            raise BadInput(
                f"datum: {place}, cannot be {listed(read)}: these contradict each other; measure "
                "them again"
            )
        along, out = found.estimate.tolist()
        return along, out

    def _check_given(self, place: str, given: dict[Wall, float]) -> None:
        if self.wall in given:
            raise BadInput(f"datum: {place}: a line has no distance from itself; name other sides")
        if not all(LENGTH.admits(mm) for mm in given.values()):
            raise BadInput(f"datum: {place}: every distance must lie between 0 and 100 m")

    def check_apart(self, first: FramePoint, second: FramePoint) -> None:
        apart = math.dist(first, second)
        if apart < NEAREST_MM:
            raise BadInput(
                f"datum: the two ends of {self.name} are {self.names.length(apart)} apart; measure "
                f"at places that are {self.names.length(NEAREST_MM)} apart or more"
            )

    def meeting(self, neighbour: Wall, first: FramePoint, second: FramePoint) -> PlanPoint:
        """Return the corner where the line, drawn on, meets a neighbouring side."""
        heights = [self.frame.walls[neighbour].distance_mm(end) for end in (first, second)]
        fall = heights[0] - heights[1]
        if abs(fall) < _MEET * math.dist(first, second):
            raise BadInput(
                f"datum: {self.name} runs along {self.names.side(neighbour)} and never meets it; "
                "check from which side each distance was taken"
            )
        share = heights[0] / fall
        return self.frame.to_plan(between(first, second, share))

    def closed(self, corners: dict[Corner, PlanPoint]) -> Redrawn:
        """Return the room of these corners, moved so that the front lies along x from 0."""
        shift = Shift.to_front(corners[Corner.FRONT_LEFT], corners[Corner.FRONT_RIGHT])
        return Redrawn(self._room([shift.moved(corners[at]) for at in Corner], shift), shift)

    def _room(self, corners: list[PlanPoint], shift: Shift) -> Room:
        room = self.room
        zones = tuple(
            KeepClear(zone.name, tuple(map(shift.moved, zone.corners))) for zone in room.keep_clear
        )
        front_left, front_right, back_right, back_left = corners
        try:
            return Room(
                front_left,
                front_right,
                back_right,
                back_left,
                height_mm=room.height_mm,
                datum=(*(wall for wall in room.datum if wall is not self.wall), self.wall),
                offsets=tuple(offset for offset in room.offsets if offset.wall is not self.wall),
                keep_clear=zones,
            )
        except BadInput:
            raise BadInput(
                f"datum: {self.name} at these distances closes no room in which every corner bends "
                "inward and every side is at least 0.5 m long; check from which side each was taken"
            ) from None
