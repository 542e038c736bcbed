"""The quantities that say where a cabinet stands and how the pair match, listed once."""

from __future__ import annotations

import enum
from typing import Final

from witnessmark.model.setup import Setup


class Quantity(enum.StrEnum):
    """What is measured of a cabinet, or compared between the two; the value is its key in files."""

    SIDE = "side"
    SETBACK = "setback"
    TOE_IN = "toe_in"
    PATH_TO_SEAT = "path_to_seat"
    TILT = "tilt"

    @property
    def label(self) -> str:
        """Its name in tables."""
        return _LABELS.get(self, self.value)

    @property
    def is_length(self) -> bool:
        """Whether it is counted in millimetres; all others are in degrees."""
        return self in (Quantity.SIDE, Quantity.SETBACK, Quantity.PATH_TO_SEAT)

    @property
    def field(self) -> str:
        """Its name, with the unit, in every record that has it."""
        return f"{self}_mm" if self.is_length else f"{self}_deg"

    def of(self, record: object) -> float:
        """Return its value in a record that has it: a placement, an error, an uncertainty."""
        value: float = getattr(record, self.field)
        return value

    def tolerance(self, setup: Setup) -> float:
        """Return the largest error that still counts as on target, mm or degrees."""
        tolerance = setup.tolerance
        if self.is_length:
            return tolerance.position_mm
        return tolerance.tilt_deg if self is Quantity.TILT else tolerance.toe_in_deg


_LABELS: Final = {Quantity.TOE_IN: "toe-in", Quantity.PATH_TO_SEAT: "path"}
OF_CABINET: Final = (Quantity.SIDE, Quantity.SETBACK, Quantity.TOE_IN)
"""What a placement consists of, in its order."""
OF_PAIR: Final = (*OF_CABINET, Quantity.PATH_TO_SEAT)
"""What is compared of the left and the right placement."""
