"""What a plan shows, as strokes and labels in plan millimetres, for any renderer.

Ink says what a stroke means. Each ink has a line pattern of its own where it has to be told from
another without colour: what is there or measured is solid, what is aimed for is dashed, advice is
dotted, and a line in place of a wall is dashes and dots in turn.
"""

from __future__ import annotations

import enum

import msgspec

from witnessmark.model import PlanPoint


def clipped(start: PlanPoint, end: PlanPoint, box: Box) -> tuple[PlanPoint, PlanPoint] | None:
    """Return the part of a line in a box, from its start on; None where there is none.

    By the way of Liang and Barsky, so that ends far away cost nothing.
    """
    dx, dy = end[0] - start[0], end[1] - start[1]
    first, last = 0.0, 1.0
    for step, room in (
        (-dx, start[0] - box.left),
        (dx, box.right - start[0]),
        (-dy, start[1] - box.top),
        (dy, box.bottom - start[1]),
    ):
        if step == 0 and room < 0:
            return None
        if step < 0:
            first = max(first, room / step)
        elif step > 0:
            last = min(last, room / step)
    if first > last:
        return None
    return (
        (start[0] + first * dx, start[1] + first * dy),
        (start[0] + last * dx, start[1] + last * dy),
    )


class LinePattern(enum.StrEnum):
    """How a stroke is drawn."""

    SOLID = "solid"
    DASHED = "dashed"
    DOTTED = "dotted"
    DASH_DOT = "dash-dot"

    @property
    def dashes(self) -> tuple[float, ...]:
        """Strokes and gaps in turn, as multiples of the line's width; empty where it is solid."""
        return _DASHES[self]


_DASHES = {
    LinePattern.SOLID: (),
    LinePattern.DASHED: (4.0, 2.5),
    LinePattern.DOTTED: (1.0, 2.5),
    LinePattern.DASH_DOT: (5.5, 2.5, 1.0, 2.5),
}


class Ink(enum.StrEnum):
    """What a stroke or a label stands for."""

    WALL = "wall"
    DATUM = "datum"
    PROUD = "proud"
    KEEP_CLEAR = "keep-clear"
    LANE = "lane"
    STATION = "station"
    SEAT = "seat"
    TARGET = "target"
    TARGET_BAFFLE = "target-baffle"
    TARGET_AIM = "target-aim"
    MEASURED = "measured"
    MEASURED_AIM = "measured-aim"
    TAKEN = "taken"
    AWAITED = "awaited"
    GUESSED = "guessed"
    BOUNCE = "bounce"
    BEAM = "beam"

    @property
    def pattern(self) -> LinePattern:
        """The pattern that tells this ink from the others where there is no colour."""
        return _PATTERNS.get(self, LinePattern.SOLID)


_PATTERNS = {
    Ink.DATUM: LinePattern.DASH_DOT,
    Ink.LANE: LinePattern.DOTTED,
    Ink.TARGET: LinePattern.DASHED,
    Ink.TARGET_AIM: LinePattern.DOTTED,
    Ink.MEASURED_AIM: LinePattern.DASHED,
    Ink.AWAITED: LinePattern.DASHED,
    Ink.GUESSED: LinePattern.DOTTED,
}


class Stroke(msgspec.Struct, frozen=True):
    """A polyline in plan; one that ``is_spare`` is left out of small pictures."""

    points: tuple[PlanPoint, ...]
    ink: Ink
    is_spare: bool = False


class Align(enum.StrEnum):
    """Which part of a text is at its point."""

    START = "start"
    MIDDLE = "middle"
    END = "end"

    @property
    def before(self) -> float:
        """The part of the text that is to the left of its point."""
        return {Align.START: 0.0, Align.MIDDLE: 0.5, Align.END: 1.0}[self]


class Label(msgspec.Struct, frozen=True):
    """A short text at a point in plan, which is its middle where nothing else is said.

    One that ``is_spare`` is left out of small pictures, and where something else stands.
    """

    text: str
    at: PlanPoint
    ink: Ink
    is_spare: bool = False
    align: Align = Align.MIDDLE


class Box(msgspec.Struct, frozen=True):
    """A rectangle in plan: the part of it that is to be shown."""

    left: float
    top: float
    right: float
    bottom: float


class Drawing(msgspec.Struct, frozen=True):
    """Strokes and labels, the later painted over the earlier."""

    strokes: tuple[Stroke, ...] = ()
    labels: tuple[Label, ...] = ()

    @property
    def box(self) -> Box:
        """The smallest rectangle that holds every stroke and label."""
        points = [point for stroke in self.strokes for point in stroke.points]
        points += [label.at for label in self.labels]
        across = [x for x, _ in points] or [0.0]
        down = [y for _, y in points] or [0.0]
        return Box(min(across), min(down), max(across), max(down))
