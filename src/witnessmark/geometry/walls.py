"""Shots to walls: all of a model at once, and the pose that they give by themselves.

The height h of a touch point above a wall, and the part q of the beam that runs square to it, are
both linear in side, setback, sin t and cos t. A reading is the quotient h / q, so its derivatives
follow from those of the state by the quotient rule; and with the reading r known h - r q = 0 is
linear, so that only the toe-in is left to be searched for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.frame import SideFrame, side_frame
from witnessmark.model import Held, Meter, Room, ShotKind, Side, TouchPoint, Wall

Form = tuple[float, float, float, float, float]
"""Factors of side, setback, sin t, cos t and 1."""
Pose = tuple[float, float, float]
"""Side and setback in mm, toe-in in radians."""

_WEAK = 0.1
"""Walls nearly in parallel, which tell a position no better than this, are not begun from."""
_FLAT_MM2 = 1e-6
"""Misfits that differ by no more than this between all toe-ins do not tell the toe-in."""


class WallShots:
    """All shots to a wall, held on the wall or on the cabinet.

    The state is (side, setback, sin t, cos t) of each cabinet, then 1. The rows are those of all
    shots of the model; of shots held otherwise h = 0 and q = 1.
    """

    def __init__(
        self,
        room: Room,
        meter: Meter,
        sides: Sequence[Side],
        kinds: Sequence[ShotKind],
        points: Sequence[TouchPoint],
    ) -> None:
        """Write the two forms of every shot in ``kinds``, taken from ``points``."""
        cabinets = len(sides)
        self._forms = np.zeros((2, len(kinds), 4 * cabinets + 1))
        self._forms[1, :, -1] = 1.0
        self._state = np.zeros((4 * cabinets + 1, 3 * cabinets + 1))
        self._state[-1, 0] = 1.0
        rows: list[list[int]] = [[] for _ in sides]
        for row, kind in enumerate(kinds):
            if kind.held in (Held.WALL, Held.CABINET):
                place = sides.index(kind.cabinet)
                rows[place].append(row)
                frame = side_frame(room, kind.cabinet)
                proud_mm = room.proud_mm(Wall(kind.to), beam_height_mm(kind, points[row]))
                self._forms[:, row, _own(place)] = _forms(frame, kind, points[row], proud_mm)
        for place in range(cabinets):
            for offset in (0, 1):
                self._state[4 * place + offset, 3 * place + offset + 1] = 1.0
        self._eliminate(meter, rows)

    def _eliminate(self, meter: Meter, rows: Sequence[Sequence[int]]) -> None:
        """Prepare to fit positions and zero, once the toe-ins are known, and what that leaves."""
        # unknowns are the positions and the zero in units of its prior, whose row is the last
        linear = np.zeros((self._forms.shape[1] + 1, 2 * len(rows) + 1))
        linear[-1, -1] = meter.shot_sigma_mm
        for place, own in enumerate(rows):
            linear[own, 2 * place : 2 * place + 2] = self._forms[0][own, 4 * place : 4 * place + 2]
            linear[own, -1] = meter.zero_mm
        self._positions = np.linalg.pinv(linear)[:, :-1]
        self._left = np.eye(len(linear) - 1) - linear[:-1] @ self._positions
        self._zero_mm = meter.zero_mm
        # noise alone makes five standard deviations of difference between the two very seldom
        self._unlikely_mm2 = 1.0 + (5.0 * meter.shot_sigma_mm) ** 2 / 2
        self._turning: list[tuple[FloatArray, FloatArray, list[float]] | None] = []
        for place, own in enumerate(rows):
            height, beam = np.zeros((2, len(linear) - 1, 3))
            height[own], beam[own] = self._forms[:, own][:, :, _own(place)[2:]]
            position = linear[own, 2 * place : 2 * place + 2]
            fixed = len(own) > 2 and np.linalg.matrix_rank(position, tol=_WEAK) == 2
            self._turning.append((height, beam, beam[own[0]].tolist()) if fixed else None)

    def __call__(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Predicted readings (m,) and their derivatives (m, 3 c) by the poses."""
        state = self._state.copy()
        for place in range(len(self._turning)):
            side, setback, toe_in = unknowns[3 * place : 3 * place + 3].tolist()
            sine, cosine = math.sin(toe_in), math.cos(toe_in)
            state[4 * place : 4 * place + 4, 0] = side, setback, sine, cosine
            state[4 * place + 2 : 4 * place + 4, 3 * place + 3] = cosine, -sine
        height, beam = self._forms @ state
        distance = height[:, 0] / beam[:, 0]
        gradient = (height[:, 1:] - distance[:, None] * beam[:, 1:]) / beam[:, :1]
        return distance, gradient

    def closed_form(
        self, readings: FloatArray, likely_toe_in: Sequence[float]
    ) -> tuple[list[Pose | None], float]:
        """Poses of the cabinets from their shots to walls, and the zero error of the meter, mm.

        Exact where three shots fix a cabinet; else so near to the least squares that they need one
        step. None for a cabinet that is not fixed by such shots. Where two toe-ins fit equally, the
        one nearer to ``likely_toe_in``, radians for each cabinet, is taken.
        """
        toe_ins = []
        right = np.zeros(len(readings))
        part = 1.0
        for turning, likely in zip(self._turning, likely_toe_in, strict=True):
            toe_in = None
            if turning is not None:
                height, beam, (by_sine, by_cosine, constant) = turning
                forms = height - readings[:, None] * beam
                toe_in = _least(forms.T @ self._left @ forms, likely, self._unlikely_mm2)
                if toe_in is not None:
                    sine, cosine = math.sin(toe_in), math.cos(toe_in)
                    right -= forms @ np.array((sine, cosine, 1.0))
                    part = by_sine * sine + by_cosine * cosine + constant
            toe_ins.append(toe_in)
        *positions, zero = (self._positions @ right).tolist()
        poses: list[Pose | None] = [
            None if toe_in is None else (positions[2 * place], positions[2 * place + 1], toe_in)
            for place, toe_in in enumerate(toe_ins)
        ]
        # in h - r q the zero counts q times, nearly alike for all shots
        return poses, zero * self._zero_mm / part


def _own(place: int) -> list[int]:
    """Where the state of a cabinet, and the 1, stand in that of all."""
    return [*range(4 * place, 4 * place + 4), -1]


def beam_height_mm(kind: ShotKind, point: TouchPoint) -> float:
    """How high above the floor a shot from ``point`` runs."""
    return point.height_mm if kind.height_mm is None else kind.height_mm


def _forms(
    frame: SideFrame, kind: ShotKind, point: TouchPoint, proud_mm: float
) -> tuple[Form, Form]:
    """The forms h = n.p + c and q = -n.e of a shot; e is the beam, c less what stands proud."""
    wall = Wall(kind.to)
    normal_along, normal_out, offset = frame.walls[wall]
    inward, back = point.inward_mm, point.back_mm
    height = (
        normal_along * frame.per_side,
        normal_along * frame.per_setback + normal_out,
        -normal_out * inward - normal_along * back,
        normal_along * inward - normal_out * back,
        offset - proud_mm,
    )
    if kind.held is Held.WALL:
        return height, (0.0, 0.0, 0.0, 0.0, 1.0)
    if wall in (Wall.FRONT, Wall.BACK):
        sign = 1.0 if wall is Wall.FRONT else -1.0
        return height, (0.0, 0.0, sign * normal_along, sign * normal_out, 0.0)
    sign = 1.0 if wall is frame.own_wall else -1.0
    return height, (0.0, 0.0, -sign * normal_out, sign * normal_along, 0.0)


def _least(form: FloatArray, likely: float, unlikely_mm2: float) -> float | None:
    """The t, radians, at which (sin t, cos t, 1) form (sin t, cos t, 1) is least.

    Along its principal direction the form is least where sin(t + bearing) has one value. Two t have
    it: of these the one with the lesser form is taken, or the one nearer to ``likely``, and Newton
    steps lead from there to the least. None when the form depends on t too little.
    """
    (ss, sc, s1), (_, cc, c1), _ = form.tolist()
    bearing = math.atan2(2 * sc, ss - cc) / 2
    along_s, along_c = math.cos(bearing), math.sin(bearing)
    steepest = ss * along_s**2 + 2 * sc * along_s * along_c + cc * along_c**2
    if steepest < _FLAT_MM2:
        return None
    value = -(along_s * s1 + along_c * c1) / steepest

    def misfit(t: float) -> float:
        s, c = math.sin(t), math.cos(t)
        fit: float = (ss * s + 2 * sc * c + 2 * s1) * s + (cc * c + 2 * c1) * c
        # less a cosine: where both fit about alike, the one that is turned more like the likely
        return fit - unlikely_mm2 * math.cos(t - likely)

    # noise can push the value past 1: then the nearest that there is serves
    turn = math.asin(max(-1.0, min(value, 1.0)))
    best = min(turn - bearing, math.pi - turn - bearing, key=misfit)
    for _ in range(2):
        s, c = math.sin(best), math.cos(best)
        slope = (ss - cc) * s * c + sc * (c * c - s * s) + s1 * c - c1 * s
        bend = (ss - cc) * (c * c - s * s) - 4 * sc * s * c - s1 * s - c1 * c
        if bend > 0:
            best = min(best, best - slope / bend, key=misfit)
    return math.remainder(best, math.tau)
