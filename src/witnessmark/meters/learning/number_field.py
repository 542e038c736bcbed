"""A number at one place of frames that look alike, and how far up it is sure."""

from __future__ import annotations

from typing import Final

import msgspec

from witnessmark.meters.learning.shapes import Shape
from witnessmark.meters.number import LONGEST_MM, NumberType, Order

_MOST_BYTES: Final = 4


class NumberField(msgspec.Struct, frozen=True):
    """Where a number stands in the frames of one shape, and how its bytes are one."""

    shape: Shape
    at: int
    kind: NumberType
    order: Order

    def bytes_of(self, frame: bytes) -> bytes:
        """The number's bytes in a frame."""
        return frame[self.at : self.at + self.kind.size]

    def is_superfluous(self) -> bool:
        """Whether a narrower number says the same, because the highest byte is always zero."""
        return not self.kind.is_float and self.kind.size > 2 and self._is_zero(self._highest())

    def stands_still(self) -> bool:
        """Whether the lowest byte never changes at three distances or more, which is no chance."""
        lowest = self.at + self.kind.size - 1 if self.order is Order.BIG else self.at
        frames = self.shape.all_frames
        unchanged = len({frame[lowest] for frame in frames}) == 1
        return not self.kind.is_float and len(self.shape.frames) > 2 and unchanged

    def zeros_above(self) -> int:
        """How many bytes above the number, up to four in all, were always zero."""
        if self.kind.is_float:
            return 0
        room = _MOST_BYTES - self.kind.size
        zeros = (self._is_zero(self._highest(place)) for place in range(1, room + 1))
        return next((place for place, zero in enumerate(zeros) if not zero), room)

    def may_be_wider(self) -> bool:
        """Whether upper bytes were always zero, so that nobody knows if they are the number's."""
        if self.kind.is_float:
            return False
        return self.zeros_above() > 0 or self._is_zero(self._highest())

    def longest_mm(self, step_mm: float) -> float:
        """How far up the number is sure, where one unit of it is ``step_mm``.

        Where its upper bytes were zero: up to what it can say without them. Else up to its own end,
        save the last part of it, where small negative numbers would lie.
        """
        if self.kind.is_float:
            return LONGEST_MM
        end = 1 << 8 * self.kind.size
        if self._is_zero(self._highest()):
            sure = 255
        else:
            sure = end - 1 if self.zeros_above() else end - end // 64
        return min(LONGEST_MM, sure * step_mm)

    def _highest(self, above: int = 0) -> int:
        """Where the highest byte stands, or the byte so many above it."""
        if self.order is Order.BIG:
            return self.at - above
        return self.at + self.kind.size - 1 + above

    def _is_zero(self, at: int) -> bool:
        inside = 0 <= at < self.shape.length
        return inside and not any(frame[at] for frame in self.shape.all_frames)
