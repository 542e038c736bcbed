"""Labels on a grid of characters, moved apart so that each can be read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

_ROW_COST = 3
"""Columns that one row away from its place counts as: characters are taller than wide."""


class Placed(NamedTuple):
    """A text by the cells that it takes, and the cell in which it begins."""

    text: Sequence[str]
    row: int
    column: int

    def touches(self, other: Placed) -> bool:
        """Return whether two labels run into each other, without a blank between them."""
        return (
            self.row == other.row
            and self.column <= other.column + len(other.text)
            and other.column <= self.column + len(self.text)
        )


def spread(wanted: Iterable[Placed], columns: int, rows: int) -> list[Placed]:
    """Place labels within a grid, each as near to where it is wanted as those before it allow.

    One for which there is no room at all stays where it is wanted, over the others.
    """
    placed: list[Placed] = []
    for label in wanted:
        inside = _within(label, columns, rows)
        free = (place for place in _around(inside, columns, rows) if _is_free(place, placed))
        placed.append(next(free, inside))
    return placed


def _within(label: Placed, columns: int, rows: int) -> Placed:
    text = label.text[:columns]
    column = max(0, min(label.column, columns - len(text)))
    return Placed(text, max(0, min(label.row, rows - 1)), column)


def _is_free(label: Placed, others: Sequence[Placed]) -> bool:
    return not any(label.touches(other) for other in others)


def _around(label: Placed, columns: int, rows: int) -> Iterator[Placed]:
    for down, across in _steps(columns, rows):
        row, column = label.row + down, label.column + across
        if 0 <= row < rows and 0 <= column <= columns - len(label.text):
            yield Placed(label.text, row, column)


@lru_cache(maxsize=8)
def _steps(columns: int, rows: int) -> tuple[tuple[int, int], ...]:
    """Steps down and across from a cell to every other one, the nearest first."""
    steps = [
        (down, across) for down in range(1 - rows, rows) for across in range(1 - columns, columns)
    ]
    return tuple(sorted(steps, key=lambda step: (_ROW_COST * abs(step[0]) + abs(step[1]), *step)))
