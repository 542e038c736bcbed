"""A shot: a reading that is known to be from here to there."""

from __future__ import annotations

import enum
from collections.abc import Mapping
from typing import ClassVar

import msgspec

from witnessmark.model.limits import LENGTH, SHOT_ERROR, Limit
from witnessmark.model.plan import Side


class AimedAt(enum.StrEnum):
    """What a shot goes to."""

    FRONT = "front"
    BACK = "back"
    LEFT = "left"
    RIGHT = "right"
    SEAT = "seat"
    CABINET = "cabinet"
    """The touch point of the same name on the other cabinet."""


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

    @property
    def goes_to(self) -> tuple[AimedAt, ...]:
        """What a shot that is held so can go to."""
        match self:
            case Held.WALL | Held.CABINET:
                return AimedAt.FRONT, AimedAt.BACK, AimedAt.LEFT, AimedAt.RIGHT
            case Held.POINT:
                return AimedAt.SEAT, AimedAt.CABINET
            case Held.SPOT:
                return AimedAt.LEFT, AimedAt.RIGHT

    @property
    def is_to_wall(self) -> bool:
        """Whether the reading itself is the distance to a wall, as ``locate.walls`` takes it."""
        return self in (Held.WALL, Held.CABINET)

    @property
    def stops(self) -> tuple[int, int]:
        """At which ends of the beam a person begins and ends the shot: 0 the touch point, 1 far."""
        return {Held.WALL: (1, 1), Held.SPOT: (0, 1)}.get(self, (0, 0))


class ShotKind(msgspec.Struct, frozen=True):
    """From which touch point of which cabinet, to what, held how.

    ``height_mm`` is that of the beam above the floor; without it the beam runs at the height of the
    touch point. It decides whether a skirting board or similar is met instead of the wall; of a
    shot between two points it says that the beam was level.
    """

    cabinet: Side
    point: str
    to: AimedAt
    held: Held
    height_mm: float | None = None

    LIMITS: ClassVar[Mapping[str, Limit]] = {"height_mm": LENGTH}

    @property
    def is_across_the_room(self) -> bool:
        """Whether the beam leaves the cabinet toward the seat, where people may be."""
        return self.held is Held.SPOT or self.to in (AimedAt.BACK, AimedAt.SEAT)

    @property
    def words(self) -> str:
        """From which point to what, in words."""
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

    LIMITS: ClassVar[Mapping[str, Limit]] = {"sigma_mm": SHOT_ERROR}
