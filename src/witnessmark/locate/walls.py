"""Shots to walls: all of a model at once, and the pose that they give by themselves.

The height h of a touch point above a wall, and the part q of the beam that runs square to it, are
both linear in side, setback, sin t and cos t. A reading is the quotient h / q, so its derivatives
follow from those of the state by the quotient rule; and with the reading r known h - r q = 0 is
linear, so that only the toe-in is left to be searched for. Every minimum is found.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from typing import NamedTuple, Self

import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.geometry.frame import SideFrame, side_frame
from witnessmark.model import Held, Meter, Room, ShotKind, Side, TouchPoint, Wall

ShotFactors = tuple[float, float, float, float, float]
"""Factors of side, setback, sin t, cos t and 1."""
Pose = tuple[float, float, float]
"""Side and setback in mm, toe-in in radians."""

_WEAK = 0.1
"""Singular value of the walls' normals below which they are too nearly parallel to begin from."""
_FLAT_CHI_SQUARE = 1e-6
"""Range of the misfit over all toe-ins below which it tells nothing of the toe-in."""
_FLAT = 1e-11
"""Singular values below this part of the largest count as none."""
_UNCHECKED = 1e-9
"""A redundancy below this means that no other shot checks this one."""
_OFF_CIRCLE = 1e-7
"""Distance of a root from the unit circle above which its minimum has merged with a maximum."""
_BEARING_PARTS = 1e9
"""Parts of a radian to which bearings are rounded, so that the roots of one pair are recognised."""
_FAR_OFF = 0.01
"""Highest factor of a polynomial, as a part of the next, below which a root lies far off."""
_ROUGH = 1e-6
"""Step of Newton from a root above which the closed form has lost digits."""
_CUBE_ROOTS = [cmath.rect(1.0, third * math.tau / 3) for third in range(3)]
"""The cube roots of 1."""
_TURNS = 361
"""Toe-ins that are tried from facing left to facing right, one each half degree."""


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
        self._rows: list[list[int]] = [[] for _ in sides]
        for row, kind in enumerate(kinds):
            if kind.held.is_to_wall:
                place = sides.index(kind.cabinet)
                self._rows[place].append(row)
                frame = side_frame(room, kind.cabinet)
                proud_mm = room.proud_mm(Wall(kind.to), beam_height_mm(kind, points[row]))
                self._forms[:, row, _own(place)] = _forms(frame, kind, points[row], proud_mm)
        for place in range(cabinets):
            for offset in (0, 1):
                self._state[4 * place + offset, 3 * place + offset + 1] = 1.0
        self._zero_mm = meter.zero_mm
        # unknowns are the positions and the zero in units of its prior, whose row is the last
        self._linear = np.zeros((len(kinds) + 1, 2 * cabinets + 1))
        self._linear[-1, -1] = 1.0
        for place, own in enumerate(self._rows):
            two = slice(2 * place, 2 * place + 2)
            self._linear[own, two] = self._forms[0][own, 4 * place : 4 * place + 2]
            # in h - r q the zero counts q times, nearly alike for all shots
            self._linear[own, -1] = meter.zero_mm

    def __call__(self, unknowns: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Predicted readings (m,) and their derivatives (m, 3 c) by the poses."""
        state = self._state.copy()
        for place in range(len(self._rows)):
            side, setback, toe_in = unknowns[3 * place : 3 * place + 3].tolist()
            sine, cosine = math.sin(toe_in), math.cos(toe_in)
            state[4 * place : 4 * place + 4, 0] = side, setback, sine, cosine
            state[4 * place + 2 : 4 * place + 4, 3 * place + 3] = cosine, -sine
        height, beam = self._forms @ state
        distance = height[:, 0] / beam[:, 0]
        gradient = (height[:, 1:] - distance[:, None] * beam[:, 1:]) / beam[:, :1]
        return distance, gradient

    def turned(self, toe_ins: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what the shots of a single cabinet read at toe-ins (n,), radians.

        That is linear in side and setback: the factors of these two (n, m, 2), and the readings
        with both of them 0 (n, m), mm.
        """
        height, beam = self._forms
        state = _state(toe_ins)
        square = state @ beam[:, 2:].T
        return height[:, :2] / square[:, :, None], state @ height[:, 2:].T / square

    def weighed(self, sigma: FloatArray) -> WeighedWalls:
        """Return the shots with a standard deviation each (m,), mm; inf leaves a shot out."""
        return WeighedWalls(self._forms, self._linear, self._rows, self._zero_mm, sigma)


class WeighedWalls:
    """What the shots to walls say of each cabinet by themselves, in closed form.

    With positions and zero taken out, the misfit of one cabinet's shots is a form of
    (sin t, cos t, 1), in units of chi-square: a trigonometric polynomial of the toe-in alone, whose
    every minimum is known. Taking a single shot out again is a change of rank one.
    """

    def __init__(
        self,
        forms: FloatArray,
        linear: FloatArray,
        rows: Sequence[Sequence[int]],
        zero_mm: float,
        sigma: FloatArray,
    ) -> None:
        """Take positions and zero out of the equations, once for however many readings."""
        self._weight = 1.0 / sigma
        self._zero_mm = zero_mm
        weighted = linear * np.append(self._weight, 1.0)[:, None]
        self._basis, self._positions = _taken_out(weighted)
        self._turning: list[_Turning | None] = []
        for place, own in enumerate(rows):
            height, beam = np.zeros((2, len(sigma), 3))
            height[own], beam[own] = (
                forms[:, own][:, :, _own(place)[2:]] * self._weight[own][:, None]
            )
            used = [row for row in own if self._weight[row] > 0]
            position = linear[used, 2 * place : 2 * place + 2]  # not weighed: cosines
            fixed = len(used) > 2 and np.linalg.matrix_rank(position, tol=_WEAK) == 2
            alone = np.zeros_like(weighted)
            alone[[*own, -1]] = weighted[[*own, -1]]
            basis, _ = _taken_out(alone)
            weight = np.zeros(len(sigma))
            weight[own] = self._weight[own]
            self._turning.append(_Turning(height, beam, weight, basis) if fixed else None)

    def misfits(self, readings: FloatArray) -> list[Misfit | None]:
        """Return the misfit of each cabinet as a function of its toe-in; None where it is open.

        Of its own shots alone: what the others say of the zero depends on how they are turned.
        """
        return [
            None if turning is None else Misfit.of(turning.rows(readings), turning.basis)
            for turning in self._turning
        ]

    def misfits_beside(
        self, readings: FloatArray, toe_ins: Sequence[float], zero_mm: float
    ) -> list[Misfit | None]:
        """Return the same by all shots, of each cabinet while the others are turned so, radians.

        Where the others do not fix themselves by walls, it is of its own shots alone. Near to the
        zero error ``zero_mm`` of the meter these misfits are exact.
        """
        states = [np.array((math.sin(turn), math.cos(turn), 1.0)) for turn in toe_ins]
        found: list[Misfit | None] = []
        for turning in self._turning:
            if turning is None:
                found.append(None)
                continue
            rows, basis = turning.rows(readings, zero_mm), turning.basis
            others = [other for other in self._turning if other is not turning]
            if others and None not in others:
                basis = self._basis
                for other, state in zip(self._turning, states, strict=True):
                    if other is not None and other is not turning:
                        rows[:, -1] += other.rows(readings, zero_mm) @ state
            found.append(Misfit.of(rows, basis))
        return found

    def poses(
        self, misfits: Sequence[Misfit | None], toe_ins: Sequence[float | None]
    ) -> tuple[list[Pose | None], float]:
        """Return the poses of cabinets that are turned so, radians, and the meter's zero error, mm.

        Exact where three shots fix a cabinet; else so near to the least squares that they need one
        step. None for a cabinet whose toe-in is None. ``misfits`` are those of the readings.
        """
        right = np.zeros(len(self._weight))
        for misfit, toe_in in zip(misfits, toe_ins, strict=True):
            if misfit is not None and toe_in is not None:
                right -= misfit.rows @ (math.sin(toe_in), math.cos(toe_in), 1.0)
        *positions, zero = (self._positions @ right).tolist()
        return [
            None if toe_in is None else (positions[2 * place], positions[2 * place + 1], toe_in)
            for place, toe_in in enumerate(toe_ins)
        ], zero * self._zero_mm


class _Turning(NamedTuple):
    """The part of a cabinet's equations that its toe-in changes, weighted."""

    height: FloatArray
    """(m, 3) over (sin t, cos t, 1), as is ``beam``."""
    beam: FloatArray
    weight: FloatArray
    """(m,) of each equation; 0 for those of other cabinets."""
    basis: FloatArray
    """(m, k) orthonormal: what of its own equations position and zero can reach."""

    def rows(self, readings: FloatArray, zero_mm: float = 0.0) -> FloatArray:
        """Return (m, 3) the equations h - r q over (sin t, cos t, 1).

        A zero error z adds z q, which the unknown takes for z; that is made up for at ``zero_mm``.
        """
        rows: FloatArray = self.height - (readings[:, None] - zero_mm) * self.beam
        rows[:, -1] -= zero_mm * self.weight
        return rows


def _taken_out(weighted: FloatArray) -> tuple[FloatArray, FloatArray]:
    """What of the shots' equations the unknowns can reach, (m, k), and the unknowns (n, m)."""
    basis, singular, directions = np.linalg.svd(weighted, full_matrices=False)
    kept = singular > _FLAT * singular[0]
    reached: FloatArray = basis[:-1, kept]
    unknowns: FloatArray = (directions[kept].T / singular[kept]) @ reached.T
    return reached, unknowns


class Low(NamedTuple):
    """A least of a misfit."""

    chi_square: float
    toe_in: float
    """Radians."""


class Misfit(NamedTuple):
    """Chi-square of one cabinet's shots to walls as a function of its toe-in."""

    rows: FloatArray
    """(m, 3) the weighted equations over (sin t, cos t, 1)."""
    basis: FloatArray
    """(m, k) orthonormal: what of them positions and zero can reach."""
    left: FloatArray
    """(m, 3) what positions and zero leave of them."""
    form: FloatArray
    """(3, 3) chi-square over (sin t, cos t, 1)."""

    @classmethod
    def of(cls, rows: FloatArray, basis: FloatArray) -> Self:
        """Return the misfit of equations whose positions and zero are taken out."""
        left = rows - basis @ (basis.T @ rows)
        return cls(rows, basis, left, rows.T @ left)

    @property
    def redundancy(self) -> FloatArray:
        """(m,) share of each row that is left."""
        redundancy: FloatArray = 1.0 - (self.basis * self.basis).sum(axis=1)
        return redundancy

    def at(self, toe_in: FloatArray) -> FloatArray:
        """Return chi-square at toe-ins (n,), radians."""
        state = _state(toe_in)
        misfit: FloatArray = ((state @ self.form) * state).sum(axis=1)
        return misfit

    def least(self) -> list[Low]:
        """Return every least of the misfit, best first; none when it is flat.

        The derivative is a polynomial of degree four in exp(i t). Roots off the unit circle come
        in pairs of one bearing, where a minimum and a maximum have just merged: kept, since the
        misfit is flat there.
        """
        (ss, sc, s1), (_, cc, c1), (*_, constant) = self.form.tolist()
        if max(abs(ss - cc), abs(sc), abs(s1), abs(c1)) < _FLAT_CHI_SQUARE:
            return []
        second, first = complex(sc / 2, (cc - ss) / 4), complex(s1 / 2, c1 / 2)
        found: dict[float, Low] = {}
        for root in _roots_of_four((second, first, 0.0, first.conjugate(), second.conjugate())):
            bearing = round(cmath.phase(root) * _BEARING_PARTS) / _BEARING_PARTS
            sine, cosine = math.sin(bearing), math.cos(bearing)
            linear = s1 * sine + c1 * cosine
            curved = (ss - cc) * (cosine + sine) * (cosine - sine) - 4 * sc * sine * cosine - linear
            if curved > 0 or abs(abs(root) - 1.0) > _OFF_CIRCLE:
                square = (ss * sine + 2 * sc * cosine) * sine + cc * cosine * cosine
                found[bearing] = Low(square + 2 * linear + constant, bearing)
        return sorted(found.values())

    def least_without_each(self) -> FloatArray:
        """Return (m,) the least misfit over all toe-ins that can be, without each shot."""
        state = _state(np.linspace(-math.pi / 2, math.pi / 2, _TURNS))
        whole = ((state @ self.form) * state).sum(axis=1)
        redundancy = self.redundancy
        share = np.where(redundancy > _UNCHECKED, redundancy, np.inf)
        without: FloatArray = whole - (self.left @ state.T) ** 2 / share[:, None]
        least: FloatArray = without.min(axis=1)
        return least


def _state(toe_in: FloatArray) -> FloatArray:
    """(n, 3) the states (sin t, cos t, 1) of toe-ins in radians."""
    return np.stack((np.sin(toe_in), np.cos(toe_in), np.ones_like(toe_in)), axis=1)


def _roots_of_four(factors: Sequence[complex]) -> list[complex]:
    """Return the roots of a polynomial of degree four, its highest factor first.

    In closed form and then one step of Newton, which takes a third of the time of ``numpy.roots``;
    that one is left those that meet or lie so far off that the closed form loses digits.
    """
    if abs(factors[0]) > _FAR_OFF * abs(factors[1]):
        b, c, d, e = (factor / factors[0] for factor in factors[1:])
        roots = _in_closed_form(b, c, d, e)
        steps = [_newton_step(root, b, c, d, e) for root in roots]
        if max(map(abs, steps)) < _ROUGH:
            return [root + step for root, step in zip(roots, steps, strict=True)]
    by_matrix: list[complex] = np.roots(factors).tolist()
    return by_matrix


def _in_closed_form(b: complex, c: complex, d: complex, e: complex) -> list[complex]:
    """Return the roots of x^4 + b x^3 + c x^2 + d x + e (Ferrari 1545, from memory)."""
    # about the middle of the roots it is y^4 + p y^2 + q y + r
    middle = -b / 4
    p = c - 6 * middle**2
    q = d + 2 * c * middle - 8 * middle**3
    r = e + d * middle + c * middle**2 - 3 * middle**4
    # both sides of (y^2 + p / 2 + m)^2 = 2 m y^2 - q y + m^2 + m p + p^2 / 4 - r are squares
    # where m^3 + p m^2 + (p^2 / 4 - r) m = q^2 / 8
    g, h = p**2 / 36 + r / 3, p**3 / 216 - p * r / 6 + q**2 / 16
    spread = cmath.sqrt(h**2 - g**3)
    cube = max(h + spread, h - spread, key=abs)
    thirds = [cube ** (1 / 3) * turn for turn in _CUBE_ROOTS] if cube else []
    m = max((third + g / third - p / 3 for third in thirds), key=abs, default=-p / 3)
    found = []
    for slope in (cmath.sqrt(2 * m), -cmath.sqrt(2 * m)):
        reach = cmath.sqrt(-2 * (p + m + q / slope)) if slope else 0.0
        found += [middle + (slope + reach) / 2, middle + (slope - reach) / 2]
    return found


def _newton_step(x: complex, b: complex, c: complex, d: complex, e: complex) -> complex:
    """Return what to add to ``x``, near a root of x^4 + b x^3 + c x^2 + d x + e."""
    value = (((x + b) * x + c) * x + d) * x + e
    slope = ((4 * x + 3 * b) * x + 2 * c) * x + d
    return -value / slope if slope else value


def _own(place: int) -> list[int]:
    """Return where the state of a cabinet, and the 1, stand in that of all."""
    return [*range(4 * place, 4 * place + 4), -1]


def beam_height_mm(kind: ShotKind, point: TouchPoint) -> float:
    """Return how high above the floor a shot from ``point`` runs."""
    return point.height_mm if kind.height_mm is None else kind.height_mm


def _forms(
    frame: SideFrame, kind: ShotKind, point: TouchPoint, proud_mm: float
) -> tuple[ShotFactors, ShotFactors]:
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
