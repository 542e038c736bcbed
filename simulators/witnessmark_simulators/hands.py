"""The hands that move a cabinet about as asked."""

from __future__ import annotations

import msgspec
from numpy.random import Generator

from witnessmark.model import Placement


class Hands(msgspec.Struct, frozen=True):
    """How clumsily a cabinet is moved: standard deviations of normal errors.

    ``gain`` is the share by which each asked quantity is over- or undershot; ``position_mm`` and
    ``toe_in_deg`` are slips that come with every nudge, however small.
    """

    gain: float = 0.15
    position_mm: float = 1.0
    toe_in_deg: float = 0.15

    def nudge(self, standing: Placement, asked: Placement, rng: Generator) -> Placement:
        """Return where a cabinet stands after it was asked to move by ``asked`` (deltas)."""
        gains = rng.normal(1.0, self.gain, size=3)
        slips = rng.normal(0.0, (self.position_mm, self.position_mm, self.toe_in_deg))
        return Placement(
            side_mm=float(standing.side_mm + gains[0] * asked.side_mm + slips[0]),
            setback_mm=float(standing.setback_mm + gains[1] * asked.setback_mm + slips[1]),
            toe_in_deg=float(standing.toe_in_deg + gains[2] * asked.toe_in_deg + slips[2]),
        )
