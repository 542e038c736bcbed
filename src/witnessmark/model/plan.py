"""The plan of a room, and what its sides, walls and corners are called.

Plan frame: seen from above with the front wall (the wall behind the cabinets) at the top of the
page; x runs from the left wall to the right as the listener sees it, y from the front wall toward
the listener, origin in the front-left corner, millimetres.
"""

from __future__ import annotations

import enum

PlanPoint = tuple[float, float]
"""(x, y) in the plan frame, millimetres."""
PlanEdge = tuple[PlanPoint, PlanPoint]


class Side(enum.StrEnum):
    """Which of the two cabinets, as the listener sees them."""

    LEFT = "left"
    RIGHT = "right"

    @property
    def other(self) -> Side:
        """The cabinet on the other side."""
        return Side.RIGHT if self is Side.LEFT else Side.LEFT


class Wall(enum.StrEnum):
    """The four walls, as the listener facing the cabinets names them."""

    FRONT = "front"
    BACK = "back"
    LEFT = "left"
    RIGHT = "right"

    @classmethod
    def beside(cls, side: Side) -> Wall:
        """Return the own side wall of the cabinet on ``side``."""
        return cls.LEFT if side is Side.LEFT else cls.RIGHT

    @property
    def opposite(self) -> Wall:
        """The wall across the room."""
        return {
            Wall.FRONT: Wall.BACK,
            Wall.BACK: Wall.FRONT,
            Wall.LEFT: Wall.RIGHT,
            Wall.RIGHT: Wall.LEFT,
        }[self]

    @property
    def ends(self) -> tuple[Corner, Corner]:
        """The corners at its two ends, in the order in which the corners go round the room."""
        return {
            Wall.FRONT: (Corner.FRONT_LEFT, Corner.FRONT_RIGHT),
            Wall.RIGHT: (Corner.FRONT_RIGHT, Corner.BACK_RIGHT),
            Wall.BACK: (Corner.BACK_RIGHT, Corner.BACK_LEFT),
            Wall.LEFT: (Corner.BACK_LEFT, Corner.FRONT_LEFT),
        }[self]


class Mirror(enum.StrEnum):
    """The line about which the two cabinets are to stand as mirror images."""

    ROOM = "room"
    """The room's centre line: both are as far from their own side walls."""
    SEAT = "seat"
    """The line through the seat square to the front wall: both are as far from it."""

    @property
    def other(self) -> Mirror:
        """The other one of the two."""
        return Mirror.SEAT if self is Mirror.ROOM else Mirror.ROOM

    @property
    def words(self) -> str:
        """Its name in sentences."""
        return "the room's centre line" if self is Mirror.ROOM else "the line through the seat"


class Corner(enum.StrEnum):
    """The four corners, in the order in which they go round the room."""

    FRONT_LEFT = "front-left"
    FRONT_RIGHT = "front-right"
    BACK_RIGHT = "back-right"
    BACK_LEFT = "back-left"

    @property
    def walls(self) -> tuple[Wall, Wall]:
        """The two walls that meet there: front or back first."""
        along, beside = self.value.split("-")
        return Wall(along), Wall(beside)

    @property
    def opposite(self) -> Corner:
        """The corner across the room."""
        order = list(Corner)
        return order[(order.index(self) + 2) % 4]


def between(start: PlanPoint, end: PlanPoint, share: float = 0.5) -> PlanPoint:
    """Return the point at ``share`` of the way from one to another, by default the middle."""
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def beside(start: PlanPoint, end: PlanPoint, point: PlanPoint) -> float:
    """Return twice the area of a triangle, positive where it goes round from x toward y.

    So it is positive where the point lies to the inner side of an edge that goes round like that.
    """
    return (end[0] - start[0]) * (point[1] - start[1]) - (end[1] - start[1]) * (point[0] - start[0])


def edges_cross(one: PlanEdge, other: PlanEdge) -> bool:
    """Return whether two edges cross between their ends."""
    (a, b), (c, d) = one, other
    return beside(a, b, c) * beside(a, b, d) < 0 and beside(c, d, a) * beside(c, d, b) < 0
