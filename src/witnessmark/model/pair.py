"""One of something for each of the two cabinets."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Generic, TypeVar

import msgspec

from witnessmark.model.plan import Side

T = TypeVar("T")


class Pair(msgspec.Struct, Generic[T], frozen=True):
    """One of something for each cabinet."""

    left: T
    right: T

    def __getitem__(self, side: Side) -> T:
        return self.left if side is Side.LEFT else self.right

    def __iter__(self) -> Iterator[T]:
        yield self.left
        yield self.right

    def replacing(self, side: Side, value: T) -> Pair[T]:
        """Return the pair with one side exchanged."""
        return Pair(value, self.right) if side is Side.LEFT else Pair(self.left, value)
