"""A plan that is larger than the paper: pages that overlap, and crosses to lay them together by."""

from __future__ import annotations

import math
from collections.abc import Iterator

import msgspec

from witnessmark.drawing.cabinet import cross
from witnessmark.drawing.strokes import Box, Drawing, Ink, Label, Stroke
from witnessmark.errors import BadInput
from witnessmark.model import PlanPoint

OVERLAP_MM = 16.0
"""Width of paper that two neighbouring pages share, mm."""
_MOST_PAGES = 100


class Tile(msgspec.Struct, frozen=True):
    """The part of a plan that one page shows; its column and row are counted from 0."""

    name: str
    column: int
    row: int
    window: Box


class Tiling(msgspec.Struct, frozen=True):
    """A part of a plan cut into pages of paper, ``width_mm`` by ``height_mm`` each, at a scale.

    Raises:
        BadInput: when that would take more pages than anybody lays together.
    """

    box: Box
    scale: float
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        if self.columns * self.rows > _MOST_PAGES:
            raise BadInput(
                f"scale: 1:{self.scale:g} would take {self.columns * self.rows} pages, more than "
                f"the {_MOST_PAGES} that are made; a smaller one, such as 1:20, takes fewer"
            )

    @property
    def columns(self) -> int:
        """Return how many pages lie side by side."""
        return _count((self.box.right - self.box.left) / self.scale, self.width_mm)

    @property
    def rows(self) -> int:
        """Return how many pages lie one below another."""
        return _count((self.box.bottom - self.box.top) / self.scale, self.height_mm)

    @property
    def tiles(self) -> tuple[Tile, ...]:
        """Return every page, row by row."""
        return tuple(
            Tile(f"part {row * self.columns + column + 1}", column, row, self._window(column, row))
            for row in range(self.rows)
            for column in range(self.columns)
        )

    @property
    def crosses(self) -> dict[str, PlanPoint]:
        """Return the points that pages share, by name, each in the middle of what overlaps."""
        return {
            f"{column}-{row}": self._corner(column, row, OVERLAP_MM / 2)
            for row in range(self.rows + 1)
            for column in range(self.columns + 1)
            if 0 < column < self.columns or 0 < row < self.rows
        }

    def _window(self, column: int, row: int) -> Box:
        left, top = self._corner(column, row)
        return Box(left, top, left + self.width_mm * self.scale, top + self.height_mm * self.scale)

    def _corner(self, column: int, row: int, further_mm: float = 0.0) -> PlanPoint:
        across = column * (self.width_mm - OVERLAP_MM) + further_mm
        down = row * (self.height_mm - OVERLAP_MM) + further_mm
        return self.box.left + across * self.scale, self.box.top + down * self.scale


def overview(drawing: Drawing, tiling: Tiling) -> Drawing:
    """Return the bare drawing with the outline and the number of every page on it."""
    outlines = tuple(outline(tile.window) for tile in tiling.tiles)
    numbers = (Label(tile.name, _middle(tile.window), Ink.GUESSED) for tile in tiling.tiles)
    return Drawing(drawing.strokes + outlines, tuple(numbers))


def cross_marks(tiling: Tiling, half_mm: float) -> Iterator[Stroke]:
    """Draw the crosses, ``half_mm`` of paper to each side."""
    for point in tiling.crosses.values():
        yield from cross(point, half_mm * tiling.scale)


def _count(whole_mm: float, page_mm: float) -> int:
    # the billionth keeps what fits exactly from taking one page more
    return max(1, math.ceil((whole_mm - OVERLAP_MM) / (page_mm - OVERLAP_MM) - 1e-9))


def outline(window: Box) -> Stroke:
    """Draw the edge of what a page shows."""
    left, top, right, bottom = window.left, window.top, window.right, window.bottom
    corners = ((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
    return Stroke(corners, Ink.GUESSED)


def _middle(box: Box) -> PlanPoint:
    return (box.left + box.right) / 2, (box.top + box.bottom) / 2
