"""Sizes that may not be as they were entered: of a cabinet, or how square a room's corner is."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import msgspec
import numpy as np

from witnessmark.geometry.adjust import FloatArray
from witnessmark.lengths import Units, format_length
from witnessmark.locate.observe import shot_model
from witnessmark.locate.pose import Fitting, Located
from witnessmark.model import Cabinet, Pair, Room, Setup, Side

_STEP_MM = 1.0
"""Change of a size by which its effect on the readings is told."""
_MOST_SIZE_MM = 80.0
"""Farthest that a cabinet's width or depth is entered wrong by; common practice, no source."""
_MOST_SKEW = 0.03
"""Farthest that a room which is taken for square is out of square, as part of its length."""


class SizeError(NamedTuple):
    """A size, and what an error of 1 mm in it does to each reading."""

    name: str
    column: FloatArray
    """(m,) mm per mm; 0 for the priors."""
    most_mm: float
    error_mm: float = 0.0
    """What would have to be added to the size as it was entered."""

    def words(self, units: Units) -> str:
        """Return what is probably wrong, in words."""
        return (
            f"{self.name} does not fit: {format_length(self.error_mm, units, signed=True)} would; "
            "measure it again"
        )


def size_errors(fitting: Fitting, located: Located) -> Iterator[SizeError]:
    """Yield every size that the readings depend on, about the poses that were located."""
    setup = fitting.setup
    before = _predicted(fitting, setup, located)
    for name, changed, most_mm in _changed(setup):
        column = (_predicted(fitting, changed, located) - before) / _STEP_MM
        if np.abs(column).max() > 1e-6:
            yield SizeError(name, column, most_mm)


def _predicted(fitting: Fitting, setup: Setup, located: Located) -> FloatArray:
    model = shot_model(setup, tuple(shot.kind for shot in fitting.shots))
    predicted, _ = model(located.adjustment.estimate[: model.unknowns])
    return predicted


def _changed(setup: Setup) -> Iterator[tuple[str, Setup, float]]:
    for field, name in (("width_mm", "width"), ("depth_mm", "depth")):
        both = Pair(*(_larger(setup, side, field) for side in Side))
        for side in Side:
            cabinets = setup.cabinets.replacing(side, both[side])
            changed = msgspec.structs.replace(setup, cabinets=cabinets)
            yield f"the {side} cabinet's {name}", changed, _MOST_SIZE_MM
        if setup.cabinets.left == setup.cabinets.right:
            changed = msgspec.structs.replace(setup, cabinets=both)
            yield f"the cabinets' {name}", changed, _MOST_SIZE_MM
    room = setup.room
    if room == msgspec.structs.replace(
        Room.rectangular(room.width_mm, room.length_mm, room.height_mm),
        datum=room.datum,
        offsets=room.offsets,
        keep_clear=room.keep_clear,
    ):
        most_mm = _MOST_SKEW * room.length_mm
        for corner, wall in (("back_left", "left"), ("back_right", "right")):
            x, y = getattr(room, corner)
            skewed = msgspec.structs.replace(room, **{corner: (x + _STEP_MM, y)})
            name = f"the {wall} wall, taken as square to the front wall,"
            yield name, msgspec.structs.replace(setup, room=skewed), most_mm


def _larger(setup: Setup, side: Side, field: str) -> Cabinet:
    cabinet = setup.cabinets[side]
    return msgspec.structs.replace(cabinet, **{field: getattr(cabinet, field) + _STEP_MM})
