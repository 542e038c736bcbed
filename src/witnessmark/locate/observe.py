"""The observation equations: what each kind of shot reads for given poses, and its derivatives.

Unknowns of one cabinet: side and setback of its reference point, mm, and its toe-in t, radians.
With forward f = (sin t, cos t), inward i = (cos t, -sin t) and a touch point p = r + I i - b f, a
wall of unit normal n (into the room) and offset c stands at h = n.p + c from the point. Then

    wall      h                                    the meter square to the wall
    cabinet   h / q, q = -n.e                      e the beam: -f, +f, -i or +i
    point     |(p - m, z)|                         straight to a mark m, z above it
    spot      n.(p + L f) + c, L = h_back / q      the dot on the back wall, from a side wall

and dp/dt = -I f - b i. The mark of a point shot is the seat mark on the floor, so that z is the
height of the touch point, or the same point of the other cabinet, so that z is the difference of
their heights. A point shot that names a height of its own was level at it, with z = 0.

What stands proud of a wall by k, at the height of the beam, makes its c less by k. A reading is
that distance times (1 + scale) plus the zero error of the meter, two unknowns that all its shots
share.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from functools import cached_property, lru_cache

import numpy as np

from witnessmark.errors import BadInput
from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.frame import side_frame
from witnessmark.geometry.rounding import repeat_sigma_mm, repeats_help
from witnessmark.locate.walls import WallShots, WeighedWalls, beam_height_mm
from witnessmark.model import AimedAt, Held, Room, Setup, Shot, ShotKind, Side, TouchPoint, Wall

Gradient = tuple[float, float, float]
"""Derivatives by side, setback (mm per mm) and toe-in (mm per radian)."""


def touch_point(setup: Setup, kind: ShotKind) -> TouchPoint:
    """Return the point of the cabinet that a shot is taken from.

    Raises:
        BadInput: when the cabinet has no such point, or the shot cannot be held and aimed so.
    """
    return _point_of(setup.room, kind, setup.cabinets[kind.cabinet].touch_points)


def _point_of(room: Room, kind: ShotKind, points: dict[str, TouchPoint]) -> TouchPoint:
    if kind.to not in kind.held.goes_to:
        right = ", ".join(kind.held.goes_to)
        raise BadInput(f'to: "{kind.to}" cannot be read held = "{kind.held}"; it goes to {right}')
    if kind.point not in points:
        known = ", ".join(points)
        raise BadInput(f'point: the {kind.cabinet} cabinet has no "{kind.point}"; it has {known}')
    _check_there_is_a_wall(room, kind)
    return points[kind.point]


def _check_there_is_a_wall(room: Room, kind: ShotKind) -> None:
    """A beam that leaves the cabinet needs a wall to fall on; a datum line is none."""
    if kind.held is Held.CABINET and Wall(kind.to) in room.datum:
        raise BadInput(
            f"held: the beam of a meter on the cabinet cannot meet the {kind.to} datum line; "
            'measure square to the line with a tape, held = "wall"'
        )
    if kind.held is Held.SPOT and Wall.BACK in room.datum:
        raise BadInput(
            "held: a spot shot needs a back wall for its dot, and there is a datum line; measure "
            'square to the line with a tape, held = "wall"'
        )


class ShotModel:
    """Predicted readings and their Jacobian for a fixed list of shots.

    The unknowns are three for each cabinet of ``sides`` in order, then the zero error in mm if
    ``meter.zero_mm`` is above 0, then the scale error in ppm if ``meter.scale_ppm`` is. The rows
    are the shots in order, then one that holds each of these two to its prior of 0. Shots of one
    kind are repeats of one distance, which share what the display's steps do to it.
    """

    def __init__(self, setup: Setup, kinds: Sequence[ShotKind]) -> None:
        """Sort the shots into families; every shot is checked by ``touch_point``."""
        meter = setup.meter
        seen = {kind.cabinet for kind in kinds}
        if any(kind.to is AimedAt.CABINET for kind in kinds):
            seen = set(Side)
        self.sides = tuple(side for side in Side if side in seen)
        self.column = {side: 3 * place for place, side in enumerate(self.sides)}
        self.to_degrees: FloatArray = np.tile((1.0, 1.0, 180 / math.pi), len(self.sides))
        poses = 3 * len(self.sides)
        self.zero_column = poses if meter.zero_mm > 0 else None
        self.scale_column = poses + (meter.zero_mm > 0) if meter.scale_ppm > 0 else None
        priors = [value for value in (meter.zero_mm, meter.scale_ppm) if value > 0]
        self.unknowns = poses + len(priors)
        self.shots = len(kinds)
        counts = Counter(kinds)
        own = [_sigma_mm(setup, kind, counts[kind]) for kind in kinds]
        self.sigma: FloatArray = np.array(own + priors)
        self._base = np.zeros((self.shots + len(priors), self.unknowns))
        for row in range(len(priors)):
            self._base[self.shots + row, poses + row] = 1.0
        if self.zero_column is not None:
            self._base[: self.shots, self.zero_column] = 1.0
        self._setup = setup
        named = {side: setup.cabinets[side].touch_points for side in self.sides}
        points = [_point_of(setup.room, kind, named[kind.cabinet]) for kind in kinds]
        self.to_walls = WallShots(setup.room, meter, self.sides, kinds, points)
        self._others = [
            (row, kind, point)
            for row, (kind, point) in enumerate(zip(kinds, points, strict=True))
            if not kind.held.is_to_wall
        ]

    def observed(self, shots: Sequence[Shot]) -> FloatArray:
        """Return the readings, followed by the priors' zeros."""
        readings = np.zeros(len(self._base))
        readings[: self.shots] = [shot.reading_mm for shot in shots]
        return readings

    def sigma_of(self, shots: Sequence[Shot]) -> FloatArray:
        """Return the standard deviations of the readings, followed by those of the priors.

        Where the display is coarser than the meter, shots of one cabinet to one wall that read
        alike may be of like distances, which are then rounded alike: weighed as repeats, they leave
        of their mean what the display does to all of them.
        """
        sigma = self.sigma
        if not repeats_help(self._setup.meter):
            counts = _alike(shots, self._setup.meter.resolution_mm)
            sigma = sigma.copy()
            for row, (shot, count) in enumerate(zip(shots, counts, strict=True)):
                sigma[row] = _sigma_mm(self._setup, shot.kind, count)
        own = {row: shot.sigma_mm for row, shot in enumerate(shots) if shot.sigma_mm is not None}
        if own:
            sigma = sigma.copy()
            sigma[list(own)] = list(own.values())
        return sigma

    def weighed_walls(self, sigma: FloatArray) -> WeighedWalls:
        """Return what the shots to walls say by themselves, given all standard deviations (m,)."""
        if sigma is not self.sigma:
            return self.to_walls.weighed(sigma[: self.shots])
        return self._walls_as_stated

    @cached_property
    def _walls_as_stated(self) -> WeighedWalls:
        return self.to_walls.weighed(self.sigma[: self.shots])

    def __call__(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Predicted observations (m,) and Jacobian (m, n), priors included."""
        jacobian = self._base.copy()
        predicted = np.zeros(len(jacobian))
        poses = 3 * len(self.sides)
        predicted[: self.shots], jacobian[: self.shots, :poses] = self.to_walls(unknowns)
        for row, kind, point in self._others:
            predicted[row], gradients = self._one(unknowns, kind, point)
            for side, gradient in gradients.items():
                column = self.column[side]
                jacobian[row, column : column + 3] = gradient
        if self.scale_column is not None:
            factor = 1 + unknowns[self.scale_column] * 1e-6
            jacobian[: self.shots, self.scale_column] = predicted[: self.shots] * 1e-6
            predicted[: self.shots] *= factor
            jacobian[: self.shots, :poses] *= factor
            predicted[-1] = unknowns[self.scale_column]
        if self.zero_column is not None:
            predicted[: self.shots] += unknowns[self.zero_column]
            predicted[self.shots] = unknowns[self.zero_column]
        return predicted, jacobian

    def _one(
        self, unknowns: FloatArray, kind: ShotKind, point: TouchPoint
    ) -> tuple[float, dict[Side, Gradient]]:
        setup = self._setup
        poses = {
            side: tuple(unknowns[column : column + 3].tolist())
            for side, column in self.column.items()
        }
        own = _Stand(setup, kind.cabinet, poses[kind.cabinet], point)
        if kind.held is Held.SPOT:
            return own.spot(Wall(kind.to.value), beam_height_mm(kind, point))
        is_level = kind.height_mm is not None
        if kind.to is AimedAt.SEAT:
            rise = 0.0 if is_level else point.height_mm
            return own.straight_to(own.frame.from_plan(setup.seat.plan), rise)
        other_side = kind.cabinet.other
        other_point = touch_point(setup, ShotKind(other_side, kind.point, kind.to, kind.held))
        other = _Stand(setup, other_side, poses[other_side], other_point)
        rise = 0.0 if is_level else point.height_mm - other_point.height_mm
        distance, gradient = own.straight_to(own.frame.from_plan(other.in_plan), rise)
        _, mirrored = other.straight_to(other.frame.from_plan(own.in_plan), rise)
        return distance, gradient | mirrored


def _alike(shots: Sequence[Shot], step_mm: float) -> list[int]:
    """Return how many shots of its cabinet to its wall read as each does, to a step of the display.

    One step apart counts as alike: noise may have tipped one of two like distances over the edge.
    """
    groups: dict[tuple[Side, AimedAt], list[int]] = {}
    for row, shot in enumerate(shots):
        groups.setdefault((shot.kind.cabinet, shot.kind.to), []).append(row)
    counts = [1] * len(shots)
    for rows in groups.values():
        numbers = {kind: number for number, kind in enumerate({shots[row].kind for row in rows})}
        kinds = np.array([numbers[shots[row].kind] for row in rows])
        readings = np.array([shots[row].reading_mm for row in rows])
        near = np.abs(readings[:, None] - readings) < 1.5 * step_mm
        like = near | (kinds[:, None] == kinds)
        for row, count in zip(rows, like.sum(axis=1).tolist(), strict=True):
            counts[row] = count
    return counts


def _sigma_mm(setup: Setup, kind: ShotKind, count: int) -> float:
    """Standard uncertainty to give each of ``count`` shots of this kind, mm.

    A beam that leaves its face askew does so in all of them: no repeat takes that away.
    """
    sigma = repeat_sigma_mm(setup.meter, count)
    if kind.held is not Held.SPOT:
        return sigma
    target = setup.targets[kind.cabinet]
    setback = setup.seat.from_front_mm / 2 if target is None else target.setback_mm
    reach = max(setup.room.length_mm - setback, 0.0)
    askew = reach * math.radians(setup.meter.flush_deg)
    return math.hypot(sigma, math.sqrt(count) * askew)


@lru_cache(maxsize=64)
def shot_model(setup: Setup, kinds: tuple[ShotKind, ...]) -> ShotModel:
    """Return the model of these shots; kept, because a walk is shot again and again."""
    return ShotModel(setup, kinds)


class _Stand:
    """One touch point of one cabinet in a pose, with its derivatives."""

    def __init__(
        self, setup: Setup, side: Side, pose: tuple[float, ...], point: TouchPoint
    ) -> None:
        self.side = side
        self.room = setup.room
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

    def straight_to(
        self, mark: tuple[float, float], rise_mm: float
    ) -> tuple[float, dict[Side, Gradient]]:
        distance = math.hypot(math.dist(self.position, mark), rise_mm)
        toward = (
            (self.position[0] - mark[0]) / distance,
            (self.position[1] - mark[1]) / distance,
        )
        return distance, {self.side: self._gradient(*toward)}

    def spot(self, wall: Wall, height_mm: float) -> tuple[float, dict[Side, Gradient]]:
        back, measured = (
            self.frame.walls[met].nearer(self.room.proud_mm(met, height_mm))
            for met in (Wall.BACK, wall)
        )
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
