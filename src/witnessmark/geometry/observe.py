"""The observation equations: what each kind of shot reads for given poses, and its derivatives.

Unknowns of one cabinet: side and setback of its reference point, mm, and its toe-in t, radians.
With forward f = (sin t, cos t), inward i = (cos t, -sin t) and a touch point p = r + I i - b f, a
wall of unit normal n (into the room) and offset c stands at h = n.p + c from the point. Then

    wall      h                                    the meter square to the wall
    cabinet   h / q, q = -n.e                      e the beam: -f, +f, -i or +i
    point     |p - seat|, or |p_left - p_right|    straight
    spot      n.(p + L f) + c, L = h_back / q      the dot on the back wall, from a side wall

and dp/dt = -I f - b i. A reading is that distance times (1 + scale) plus the zero error of the
meter, two unknowns that all its shots share.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.frame import SideFrame, side_frame
from witnessmark.model import AimedAt, Held, Setup, Shot, ShotKind, Side, TouchPoint, Wall

_WALL_AIMS = tuple(AimedAt(wall.value) for wall in Wall)
_AIMS = {
    Held.WALL: _WALL_AIMS,
    Held.CABINET: _WALL_AIMS,
    Held.POINT: (AimedAt.SEAT, AimedAt.CABINET),
    Held.SPOT: (AimedAt.LEFT, AimedAt.RIGHT),
}

Gradient = tuple[float, float, float]
"""Derivatives by side, setback (mm per mm) and toe-in (mm per radian)."""


def touch_point(setup: Setup, kind: ShotKind) -> TouchPoint:
    """The point of the cabinet that a shot is taken from.

    Raises:
        BadInput: when the cabinet has no such point, or the shot cannot be held and aimed so.
    """
    if kind.to not in _AIMS[kind.held]:
        right = ", ".join(_AIMS[kind.held])
        raise BadInput(f'to: "{kind.to}" cannot be read held = "{kind.held}"; it goes to {right}')
    points = setup.cabinets[kind.cabinet].touch_points
    if kind.point not in points:
        known = ", ".join(points)
        raise BadInput(f'point: the {kind.cabinet} cabinet has no "{kind.point}"; it has {known}')
    return points[kind.point]


class ShotModel:
    """Predicted readings and their Jacobian for a fixed list of shots.

    The unknowns are three for each cabinet of ``sides`` in order, then the zero error in mm if
    ``meter.zero_mm`` is above 0, then the scale error in ppm if ``meter.scale_ppm`` is. The rows
    are the shots in order, then one that holds each of these two to its prior of 0.
    """

    def __init__(self, setup: Setup, kinds: Sequence[ShotKind]) -> None:
        """Sort the shots into families; every shot is checked by ``touch_point``."""
        meter = setup.meter
        shot_sides = {kind.cabinet for kind in kinds}
        if any(kind.to is AimedAt.CABINET for kind in kinds):
            shot_sides = set(Side)
        self.sides = [side for side in Side if side in shot_sides]
        self.column = {side: 3 * place for place, side in enumerate(self.sides)}
        poses = 3 * len(self.sides)
        self.zero_column = poses if meter.zero_mm > 0 else None
        self.scale_column = poses + (meter.zero_mm > 0) if meter.scale_ppm > 0 else None
        priors = [value for value in (meter.zero_mm, meter.scale_ppm) if value > 0]
        self.unknowns = poses + len(priors)
        self.shots = len(kinds)
        self.sigma: FloatArray = np.array([meter.shot_sigma_mm] * len(kinds) + priors)
        self._base = np.zeros((self.shots + len(priors), self.unknowns))
        for row in range(len(priors)):
            self._base[self.shots + row, poses + row] = 1.0
        if self.zero_column is not None:
            self._base[: self.shots, self.zero_column] = 1.0
        points = [touch_point(setup, kind) for kind in kinds]
        self.planar = PlanarShots(setup, kinds, points, self.column)
        self._others = [
            (row, setup, kind, point)
            for row, (kind, point) in enumerate(zip(kinds, points, strict=True))
            if kind.held in (Held.POINT, Held.SPOT)
        ]

    def observed(self, shots: Sequence[Shot]) -> FloatArray:
        """The readings, followed by the priors' zeros."""
        readings = np.zeros(len(self._base))
        readings[: self.shots] = [shot.reading_mm for shot in shots]
        return readings

    def __call__(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Predicted observations (m,) and Jacobian (m, n), priors included."""
        jacobian = self._base.copy()
        predicted = np.zeros(len(jacobian))
        self.planar.fill(unknowns, predicted, jacobian)
        for row, setup, kind, point in self._others:
            distance, gradients = self._one(unknowns, setup, kind, point)
            predicted[row] = distance
            for side, gradient in gradients.items():
                column = self.column[side]
                jacobian[row, column : column + 3] = gradient
        if self.scale_column is not None:
            factor = 1 + unknowns[self.scale_column] * 1e-6
            jacobian[: self.shots, self.scale_column] = predicted[: self.shots] * 1e-6
            predicted[: self.shots] *= factor
            jacobian[: self.shots, : 3 * len(self.sides)] *= factor
            predicted[-1] = unknowns[self.scale_column]
        if self.zero_column is not None:
            predicted[: self.shots] += unknowns[self.zero_column]
            predicted[self.shots] = unknowns[self.zero_column]
        return predicted, jacobian

    def _one(
        self, unknowns: FloatArray, setup: Setup, kind: ShotKind, point: TouchPoint
    ) -> tuple[float, dict[Side, Gradient]]:
        poses = {
            side: tuple(map(float, unknowns[column : column + 3]))
            for side, column in self.column.items()
        }
        own = _Stand(setup, kind.cabinet, poses[kind.cabinet], point)
        if kind.held is Held.SPOT:
            return own.spot(Wall(kind.to.value))
        if kind.to is AimedAt.SEAT:
            return own.straight_to(own.frame.from_plan(setup.seat.plan))
        other_side = kind.cabinet.other
        other_point = touch_point(setup, ShotKind(other_side, kind.point, kind.to, kind.held))
        other = _Stand(setup, other_side, poses[other_side], other_point)
        distance, gradient = own.straight_to(own.frame.from_plan(other.in_plan))
        _, mirrored = other.straight_to(other.frame.from_plan(own.in_plan))
        return distance, gradient | mirrored


class PlanarShots:
    """All shots to a wall, held on the wall or on the cabinet, as arrays of one entry a shot."""

    def __init__(
        self,
        setup: Setup,
        kinds: Sequence[ShotKind],
        points: Sequence[TouchPoint],
        column: dict[Side, int],
    ) -> None:
        rows = [row for row, kind in enumerate(kinds) if kind.held in (Held.WALL, Held.CABINET)]
        table = np.array([_planar_row(setup, kinds[row], points[row]) for row in rows])
        self.rows = np.array(rows, dtype=int)
        self.columns = np.array([column[kinds[row].cabinet] for row in rows], dtype=int)
        (
            self.normal_along,
            self.normal_out,
            self.offset,
            self.by_side,
            self.by_setback,
            self.inward,
            self.back,
            self.on_forward,
            self.on_inward,
            self.on_normal,
        ) = table.reshape(-1, 10).T
        self.one_cabinet = len(set(self.columns.tolist())) == 1

    def fill(self, unknowns: FloatArray, predicted: FloatArray, jacobian: FloatArray) -> None:
        """Write these shots' rows of the prediction and the Jacobian."""
        if not len(self.rows):
            return
        rows, columns = self.rows, self.columns
        toe_in = unknowns[columns + 2]
        sine, cosine = np.sin(toe_in), np.cos(toe_in)
        n_forward = self.normal_along * sine + self.normal_out * cosine
        n_inward = self.normal_along * cosine - self.normal_out * sine
        height = (
            self.by_side * unknowns[columns]
            + self.by_setback * unknowns[columns + 1]
            + self.offset
            + n_inward * self.inward
            - n_forward * self.back
        )
        along_beam = self.on_forward * n_forward + self.on_inward * n_inward + self.on_normal
        distance = height / along_beam
        height_turn = -n_forward * self.inward - n_inward * self.back
        beam_turn = self.on_forward * n_inward - self.on_inward * n_forward
        predicted[rows] = distance
        jacobian[rows, columns] = self.by_side / along_beam
        jacobian[rows, columns + 1] = self.by_setback / along_beam
        jacobian[rows, columns + 2] = (height_turn - distance * beam_turn) / along_beam

    def closed_form(self, readings: FloatArray, column: int) -> tuple[float, float, float] | None:
        """Side, setback and toe-in (radians) of one cabinet from its shots to walls alone.

        Every such shot is linear in (side, setback, sin t, cos t), so three of them leave a line
        that meets the circle sin^2 + cos^2 = 1; of its two points the one that fits further shots
        is taken, else the one that faces the room more. Exact for three shots; near enough to
        start from for more. None when there are fewer, or they leave more than that line.
        """
        mine = self.columns == column
        if mine.sum() < 3:
            return None
        n_a, n_o = self.normal_along[mine], self.normal_out[mine]
        reading = readings[self.rows[mine]]
        forward, inward = self.on_forward[mine] * reading, self.on_inward[mine] * reading
        design = np.column_stack(
            (
                self.by_side[mine],
                self.by_setback[mine],
                -n_o * self.inward[mine] - n_a * self.back[mine] - forward * n_a + inward * n_o,
                n_a * self.inward[mine] - n_o * self.back[mine] - forward * n_o - inward * n_a,
            )
        )
        return _on_circle(design, self.on_normal[mine] * reading - self.offset[mine])


def _on_circle(design: FloatArray, right: FloatArray) -> tuple[float, float, float] | None:
    """Solve ``design @ (side, setback, s, c) = right`` with s^2 + c^2 = 1."""
    left, singular, directions = np.linalg.svd(design, full_matrices=True)
    if singular[2] < 1e-6 * singular[0]:
        return None
    fixed = directions[:3].T @ ((left[:, :3].T @ right) / singular[:3])
    free = directions[3]
    square = free[2] ** 2 + free[3] ** 2
    if square < 1e-18:
        return None
    half = (fixed[2] * free[2] + fixed[3] * free[3]) / square
    rest = (fixed[2] ** 2 + fixed[3] ** 2 - 1) / square
    # noise can lift the line off the circle: then its nearest point serves
    root = math.sqrt(max(half * half - rest, 0.0))

    def misfit(answer: FloatArray) -> float:
        off = design @ answer - right
        # less the cosine: where both answers fit to a millimetre, the one that faces the room
        return float(off @ off - answer[3])

    best = min((fixed + shift * free for shift in (-half + root, -half - root)), key=misfit)
    return float(best[0]), float(best[1]), math.atan2(best[2], best[3])


def _planar_row(setup: Setup, kind: ShotKind, point: TouchPoint) -> tuple[float, ...]:
    frame = side_frame(setup.room, kind.cabinet)
    wall = Wall(kind.to.value)
    normal_along, normal_out, offset = frame.walls[wall]
    return (
        normal_along,
        normal_out,
        offset,
        normal_along * frame.per_side,
        normal_along * frame.per_setback + normal_out,
        point.inward_mm,
        point.back_mm,
        *_beam(frame, wall, kind.held),
    )


def _beam(frame: SideFrame, wall: Wall, held: Held) -> tuple[float, float, float]:
    """Factors of n.f, n.i and 1 in q, the part of the beam that runs square to the wall."""
    if held is Held.WALL:
        return 0.0, 0.0, 1.0
    if wall is Wall.FRONT:
        return 1.0, 0.0, 0.0
    if wall is Wall.BACK:
        return -1.0, 0.0, 0.0
    return (0.0, 1.0, 0.0) if wall is frame.own_wall else (0.0, -1.0, 0.0)


class _Stand:
    """One touch point of one cabinet in a pose, with its derivatives."""

    def __init__(
        self, setup: Setup, side: Side, pose: tuple[float, ...], point: TouchPoint
    ) -> None:
        self.side = side
        self.frame = side_frame(setup.room, side)
        side_mm, setback_mm, toe_in = pose
        self.forward = (math.sin(toe_in), math.cos(toe_in))
        self.inward = (self.forward[1], -self.forward[0])
        along = self.frame.per_side * side_mm + self.frame.per_setback * setback_mm
        self.position = (
            along + self.inward[0] * point.inward_mm - self.forward[0] * point.back_mm,
            setback_mm + self.inward[1] * point.inward_mm - self.forward[1] * point.back_mm,
        )
        self.turning = (
            -self.forward[0] * point.inward_mm - self.inward[0] * point.back_mm,
            -self.forward[1] * point.inward_mm - self.inward[1] * point.back_mm,
        )

    @property
    def in_plan(self) -> tuple[float, float]:
        return self.frame.to_plan(self.position)

    def _gradient(self, by_along: float, by_out: float) -> Gradient:
        """Derivatives by side, setback and toe-in of something that depends on the position."""
        return (
            by_along * self.frame.per_side,
            by_along * self.frame.per_setback + by_out,
            by_along * self.turning[0] + by_out * self.turning[1],
        )

    def straight_to(self, mark: tuple[float, float]) -> tuple[float, dict[Side, Gradient]]:
        distance = math.dist(self.position, mark)
        toward = (
            (self.position[0] - mark[0]) / distance,
            (self.position[1] - mark[1]) / distance,
        )
        return distance, {self.side: self._gradient(*toward)}

    def spot(self, wall: Wall) -> tuple[float, dict[Side, Gradient]]:
        back, measured = self.frame.walls[Wall.BACK], self.frame.walls[wall]
        slope = -(back.normal_along * self.forward[0] + back.normal_out * self.forward[1])
        slope_turn = -(back.normal_along * self.inward[0] + back.normal_out * self.inward[1])
        beam = back.distance_mm(self.position) / slope
        drift = measured.normal_along * self.forward[0] + measured.normal_out * self.forward[1]
        drift_turn = measured.normal_along * self.inward[0] + measured.normal_out * self.inward[1]
        by_along, by_out, turn = self._gradient(
            measured.normal_along + drift / slope * back.normal_along,
            measured.normal_out + drift / slope * back.normal_out,
        )
        turn += beam * (drift_turn - drift * slope_turn / slope)
        distance = measured.distance_mm(self.position) + beam * drift
        return distance, {self.side: (by_along, by_out, turn)}
