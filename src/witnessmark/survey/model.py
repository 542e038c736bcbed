"""What the distances of a survey read for given corners, where to begin, and what is missing.

Unknowns are x of the front-right corner and x and y of the two back corners; the front wall lies
along x with the front-left corner at the origin. A reading is

    straight    |p - q|              between two marks
    shortest    h = n.(p - c)        from a mark square to a wall of normal n
    flush       h / -n.m             m the normal of the wall that the meter's back stands on

times (1 + scale) plus the zero error of the meter, two unknowns that all its readings share.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from functools import cached_property

import numpy as np

from witnessmark.geometry.adjust import FloatArray, adjust
from witnessmark.model import (
    Corner,
    FloorMark,
    Flush,
    Measure,
    Meter,
    PlanPoint,
    Room,
    Shortest,
    Straight,
    Wall,
)
from witnessmark.model.survey import diagonal, wall_length
from witnessmark.survey.corners import (
    COORDINATES,
    Indices,
    Plan,
    Points,
    Scalar,
    ends_of,
    place_of,
)

FREE = [2, 4, 5, 6, 7]
"""The coordinates that are unknown; front-left and the front wall's direction are the frame's."""
MOST_STEPS = 12
"""Most steps of the iteration: six reach any room from a rectangle, more chase a wrong reading."""

USUAL_MM = 4000.0
"""Length of a side, mm, of a room of which nothing is known yet."""

_USELESS = 1e-3
"""Singular value of the design, mm per mm, below which distances tell nothing of a corner."""


class SurveyModel:
    """Predicted readings and their Jacobian for a fixed list of measures.

    The unknowns are the five free coordinates, then the zero error in mm if ``meter.zero_mm`` is
    above 0, then the scale error in ppm if ``meter.scale_ppm`` is. The rows are the measures in
    order, then one that holds each of these two to its prior of 0.
    """

    def __init__(self, measures: Sequence[Measure], meter: Meter) -> None:
        """Take the readings and the error model of what they were taken with."""
        self.distances = Distances(measures)
        self.has_zero, self.has_scale = meter.zero_mm > 0, meter.scale_ppm > 0
        priors = [value for value in (meter.zero_mm, meter.scale_ppm) if value > 0]
        self.unknowns = len(FREE) + len(priors)
        self.sigma: FloatArray = np.array([meter.shot_sigma_mm] * len(measures) + priors)
        self.observed: FloatArray = np.zeros(len(self.sigma))
        self.observed[: len(measures)] = [measure.reading_mm for measure in measures]

    def __call__(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return predicted observations (m,) and Jacobian (m, n), priors included.

        Raises:
            ArithmeticError: when corners or marks coincide.
        """
        count, corners = self.distances.count, len(FREE)
        with np.errstate(divide="raise", invalid="raise", over="raise"):
            distances = self.distances(plan_of(unknowns))
        values, jacobian = np.zeros(len(self.sigma)), np.zeros((len(self.sigma), self.unknowns))
        values[:count], jacobian[:count, :corners] = distances.value, distances.by[:, FREE]
        if self.has_scale:
            factor = 1 + unknowns[-1] * 1e-6
            jacobian[:count, -1] = values[:count] * 1e-6
            values[:count] *= factor
            jacobian[:count, :corners] *= factor
            values[-1], jacobian[-1, -1] = unknowns[-1], 1.0
        if self.has_zero:
            values[:count] += unknowns[corners]
            values[count] = unknowns[corners]
            jacobian[: count + 1, corners] = 1.0
        return values, jacobian

    @cached_property
    def start(self) -> FloatArray:
        """The rectangle that fits best; where its two sides are not both told, one that is near."""
        spread = np.zeros((self.unknowns, self.unknowns - 3))
        spread[[0, 1], 0] = 1.0  # the width is x of both right corners
        spread[[2, 4], 1] = 1.0  # the length is y of both back corners
        spread[5:, 2:] = np.eye(self.unknowns - 5)

        def rectangle(sizes: FloatArray) -> tuple[FloatArray, FloatArray]:
            values, jacobian = self(spread @ sizes)
            return values, jacobian @ spread

        guess = np.zeros(self.unknowns - 3)
        measured = self.observed[: self.distances.count]
        guess[:2] = np.median(measured) if len(measured) else USUAL_MM
        with contextlib.suppress(ArithmeticError):  # one of the two is not told, or nothing fits
            best = adjust(rectangle, guess, self.observed, self.sigma, most_steps=MOST_STEPS)
            guess[:2] = np.abs(best.estimate[:2])
        return spread @ guess

    def missing(self) -> list[Straight]:
        """Return the lengths and diagonals without which the measures do not fix the corners.

        What matters is what they tell of a room near a rectangle. There only a diagonal tells a
        square room from one that leans, whatever little more the walls of a skew one would tell.
        """
        plan, enough = plan_of(self.start), list(_enough())
        design = list(self.distances(plan).by[:, FREE])
        wanted = []
        for candidate, row in zip(enough, Distances(enough)(plan).by[:, FREE], strict=True):
            if _rank([*design, row]) > _rank(design):
                design.append(row)
                wanted.append(candidate)
        return wanted


class Distances:
    """What a fixed list of measures reads in a plan by a meter without error, mm."""

    def __init__(self, measures: Sequence[Measure]) -> None:
        """Sort the measures into their three kinds."""
        self.count = len(measures)
        straight = [(row, one) for row, one in enumerate(measures) if isinstance(one, Straight)]
        shortest = [(row, one) for row, one in enumerate(measures) if isinstance(one, Shortest)]
        flush = [(row, one) for row, one in enumerate(measures) if isinstance(one, Flush)]
        self._rows = [[row for row, _ in kind] for kind in (straight, shortest, flush)]
        self._starts = [
            _Marks([one.start for _, one in kind]) for kind in (straight, shortest, flush)
        ]
        self._ends = _Marks([one.end for _, one in straight])
        self._walls = _ends([one.wall for _, one in shortest])
        self._backs = _ends([one.back for _, one in flush])
        self._opposite = _ends([one.back.opposite for _, one in flush])

    def __call__(self, plan: Plan) -> Scalar:
        """Return the readings (m,) and their gradients (m, 8)."""
        distances = Scalar(np.zeros(self.count), np.zeros((self.count, COORDINATES)))
        first, second, third = (marks(plan) for marks in self._starts)
        kinds = (
            self._ends(plan).minus(first).length(),
            plan.height(second, *self._walls),
            self._flush(plan, third),
        )
        for rows, kind in zip(self._rows, kinds, strict=True):
            distances.value[rows], distances.by[rows] = kind
        return distances

    def _flush(self, plan: Plan, start: Points) -> Scalar:
        away = plan.inward(*self._backs).dot(plan.inward(*self._opposite))
        towards = Scalar(-away.value, -away.by)
        return plan.height(start, *self._opposite).over(towards)


class _Marks:
    """Where marks are: a corner, another to which the wall leads, and how far along."""

    def __init__(self, marks: Sequence[FloorMark]) -> None:
        self._start = np.array([place_of(mark.corner) for mark in marks], dtype=np.intp)
        self._end = np.array([_other_end(mark) for mark in marks], dtype=np.intp)
        self._at = np.array([mark.at_mm for mark in marks])

    def __call__(self, plan: Plan) -> Points:
        along = plan.along(self._start, self._end).unit()
        return plan.corner(self._start).plus(along, self._at)


def _other_end(mark: FloorMark) -> int:
    wall = mark.along or mark.corner.walls[0]
    start, end = ends_of(wall)
    return end if start == place_of(mark.corner) else start


def _ends(walls: Sequence[Wall]) -> tuple[Indices, Indices]:
    ends = np.array([ends_of(wall) for wall in walls], dtype=np.intp).reshape(-1, 2)
    return ends[:, 0], ends[:, 1]


def plan_of(unknowns: FloatArray) -> Plan:
    """Return the plan whose free coordinates the unknowns begin with."""
    coordinates = np.zeros(COORDINATES)
    coordinates[FREE] = unknowns[: len(FREE)]
    return Plan(coordinates.reshape(4, 2))


def predict_measure(room: Room, measure: Measure) -> float:
    """Return what a measure reads in a room by a meter without error, mm."""
    return float(Distances([measure])(Plan(room.corners)).value[0])


def measure_ends(room: Room, measure: Measure) -> tuple[PlanPoint, PlanPoint]:
    """Return from where to where in plan a measure goes."""
    plan = Plan(room.corners)
    start = _Marks([measure.start])(plan)
    if isinstance(measure, Straight):
        return _point(start), _point(_Marks([measure.end])(plan))
    if isinstance(measure, Shortest):
        end = start.plus(plan.inward(*ends_of(measure.wall)), -predict_measure(room, measure))
    else:
        end = start.plus(plan.inward(*ends_of(measure.back)), predict_measure(room, measure))
    return _point(start), _point(end)


def _point(place: Points) -> PlanPoint:
    x, y = place.value.ravel().tolist()
    return x, y


def _enough() -> Iterator[Straight]:
    """Yield lengths that fix any room, the most usual first."""
    for wall in (Wall.FRONT, Wall.LEFT, Wall.RIGHT, Wall.BACK):
        yield wall_length(wall, 0.0)
    yield diagonal(Corner.FRONT_LEFT, 0.0)
    yield diagonal(Corner.FRONT_RIGHT, 0.0)


def _rank(design: list[FloatArray]) -> int:
    return int(np.linalg.matrix_rank(np.array(design), tol=_USELESS)) if design else 0
