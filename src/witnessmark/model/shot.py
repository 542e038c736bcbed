"""A shot: a reading that is known to be from here to there."""

from __future__ import annotations

import enum

import msgspec

from witnessmark.model.plan import Side


class Held(enum.StrEnum):
    """How the meter was held, which decides what the number means."""

    WALL = "wall"
    """Square to a wall, to a touch point: the perpendicular distance."""
    CABINET = "cabinet"
    """Flush on the cabinet, firing along its own axis: that distance over the cosine."""
    POINT = "point"
    """From a touch point to the seat mark on the floor, or to the same point of the other cabinet:
    straight, from height to height, unless the shot names the height at which its beam was level.
    """
    SPOT = "spot"
    """Fired forward along the axis; the dot's place on the back wall, taken from a side wall."""


class AimedAt(enum.StrEnum):
    """What a shot goes to."""

    FRONT = "front"
    BACK = "back"
    LEFT = "left"
    RIGHT = "right"
    SEAT = "seat"
    CABINET = "cabinet"
    """The touch point of the same name on the other cabinet."""


class ShotKind(msgspec.Struct, frozen=True):
    """From which touch point of which cabinet, to what, held how.

    ``height_mm`` is that of the beam above the floor; without it the beam runs at the height of the
    touch point. It decides whether a skirting board or the like is met instead of the wall; of a
    shot between two points it says that the beam was level.
    """

    cabinet: Side
    point: str
    to: AimedAt
    held: Held
    height_mm: float | None = None

    @property
    def words(self) -> str:
        """From where to where, in words."""
        if self.held is Held.SPOT:
            return f"{self.point} to back wall, spot from {self.to} wall"
        to = {AimedAt.SEAT: "the seat mark", AimedAt.CABINET: "the other cabinet"}.get(
            self.to, f"{self.to} wall"
        )
        return f"{self.point} to {to}"


class Shot(msgspec.Struct, frozen=True):
    """A shot kind with the distance that was read for it, mm.

    ``sigma_mm`` is the standard uncertainty that it has of its own, where it is not the meter's: of
    the shortest of a sweep.
    """

    kind: ShotKind
    reading_mm: float
    sigma_mm: float | None = None
