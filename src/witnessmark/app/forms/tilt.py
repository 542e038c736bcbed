"""The forms of a tilt: how it is taken, and how far each cabinet is to lean back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

import msgspec

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import ChoiceRow, LengthRow, NumberRow, when
from witnessmark.model import Side
from witnessmark.model.limits import TILT_APART, TILT_TARGET, TURN_TOLERANCE, Limit

PLUMB, BAFFLE, REAR, ANGLE = "plumb", "baffle", "rear", "angle"
_WAYS = [
    (PLUMB, "plumb line to baffle"),
    (BAFFLE, "baffle to wall"),
    (REAR, "rear to wall"),
    (ANGLE, "an angle"),
]


class Taking(msgspec.Struct, frozen=True):
    """Of which cabinet a tilt is taken, from what, and how far the two readings are apart."""

    side: Side
    way: str = PLUMB
    apart_mm: float = 800.0


TAKING = Form(
    Taking,
    ChoiceRow("side", "Cabinet", options=[(side, side) for side in Side]),
    ChoiceRow("way", "Taken from", options=_WAYS),
    LengthRow(
        "apart_mm",
        "Spacing",
        limit=TILT_APART,
        is_fine=True,
        shown_if=when("way", PLUMB, BAFFLE, REAR),
        hint="The spacing between the lower and the higher reading.",
    ),
)


class TiltTargets(msgspec.Struct, frozen=True):
    """How far each cabinet is to lean back, None: it is measured only; and how close is enough."""

    left_target_deg: float | None
    right_target_deg: float | None
    tolerance_deg: float

    LIMITS: ClassVar[Mapping[str, Limit]] = {
        "left_target_deg": TILT_TARGET,
        "right_target_deg": TILT_TARGET,
        "tolerance_deg": TURN_TOLERANCE,
    }


_TO_LEAN = "How far it should lean back. Empty: only measure it."
TARGETS = Form(
    TiltTargets,
    NumberRow("left_target_deg", "Left target", optional=True, hint=_TO_LEAN),
    NumberRow("right_target_deg", "Right target", optional=True, hint=_TO_LEAN),
    NumberRow("tolerance_deg", "Tilt within"),
)
