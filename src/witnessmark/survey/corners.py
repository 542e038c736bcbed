"""Places and distances in the plan of a room, with their derivatives by its corners.

Every value carries its gradient by the eight coordinates (x and y of each corner in the order of
``Corner``), so that a distance, an angle or a height above a wall comes with the analytic
derivatives that an adjustment and the propagation of a covariance need. All hold one value or many:
``...`` stands for any shape.

With n the unit normal of a wall into the room and c a point of it, a place p stands n.(p - c) above
it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from witnessmark.geometry.adjust import FloatArray
from witnessmark.model import Corner, PlanPoint, Wall

COORDINATES = 2 * len(Corner)
"""Number of coordinates: x and y of each corner."""
_QUARTER = np.array([[0.0, -1.0], [1.0, 0.0]])

Indices = NDArray[np.intp]
CornerIndex = Indices | int
"""One corner or many, by their place in ``Corner``."""


class Scalar(NamedTuple):
    """Numbers (...) and their gradients (..., 8)."""

    value: FloatArray
    by: FloatArray

    def minus(self, other: Scalar) -> Scalar:
        """Return this less ``other``."""
        return Scalar(self.value - other.value, self.by - other.by)

    def over(self, other: Scalar) -> Scalar:
        """Return this divided by ``other``."""
        quotient = self.value / other.value
        by = (self.by - quotient[..., None] * other.by) / other.value[..., None]
        return Scalar(quotient, by)


class Points(NamedTuple):
    """Points or vectors in plan (..., 2) and their gradients (..., 2, 8)."""

    value: FloatArray
    by: FloatArray

    def minus(self, other: Points) -> Points:
        """Return the vector from ``other`` to here."""
        return Points(self.value - other.value, self.by - other.by)

    def plus(self, vector: Points, times: FloatArray | float) -> Points:
        """Return the sum of this and ``times`` times ``vector``."""
        times = np.asarray(times)[..., None]
        return Points(self.value + times * vector.value, self.by + times[..., None] * vector.by)

    def dot(self, other: Points) -> Scalar:
        """Return the scalar product."""
        by = self.value[..., None] * other.by + other.value[..., None] * self.by
        return Scalar((self.value * other.value).sum(axis=-1), by.sum(axis=-2))

    def turned(self) -> Points:
        """Return it turned by a quarter from x toward y."""
        return Points(self.value @ _QUARTER.T, _QUARTER @ self.by)

    def length(self) -> Scalar:
        """Return the length of a vector."""
        length = np.hypot(self.value[..., 0], self.value[..., 1])
        by = (self.value[..., None] * self.by).sum(axis=-2)
        return Scalar(length, by / length[..., None])

    def unit(self) -> Points:
        """Return the vector of length 1 in the same direction."""
        length = self.length()
        unit = self.value / length.value[..., None]
        across = self.by - unit[..., None] * length.by[..., None, :]
        return Points(unit, across / length.value[..., None, None])


class Plan:
    """The four corners of a room, from which places and distances follow."""

    def __init__(self, corners: Sequence[PlanPoint] | FloatArray) -> None:
        """Take the corners in the order of ``Corner``."""
        self._corners = Points(
            np.asarray(corners, dtype=float), np.eye(COORDINATES).reshape(4, 2, COORDINATES)
        )

    @property
    def points(self) -> list[PlanPoint]:
        """Where the corners are, without their gradients."""
        return [(x, y) for x, y in self._corners.value.tolist()]

    def corner(self, which: CornerIndex) -> Points:
        """Return where corners are."""
        return Points(self._corners.value[which], self._corners.by[which])

    def along(self, start: CornerIndex, end: CornerIndex) -> Points:
        """Return the vectors from corners to others."""
        return self.corner(end).minus(self.corner(start))

    def inward(self, start: CornerIndex, end: CornerIndex) -> Points:
        """Return unit normals into the room of walls whose ends are in the order round the room."""
        return self.along(start, end).unit().turned()

    def height(self, place: Points, start: CornerIndex, end: CornerIndex) -> Scalar:
        """Return square distances of places from the lines of such walls; positive inside."""
        return place.minus(self.corner(start)).dot(self.inward(start, end))


def ends_of(wall: Wall) -> tuple[int, int]:
    """Return the two ends of a wall by their place in ``Corner``, in the order round the room."""
    start, end = wall.ends
    return place_of(start), place_of(end)


def place_of(corner: Corner) -> int:
    """Return the place of a corner in ``Corner``."""
    return _PLACES[corner]


_PLACES = {corner: place for place, corner in enumerate(Corner)}
