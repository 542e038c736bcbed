"""The forms of a cabinet: its size and place, one of its points or feet, and its tilt."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Final

import msgspec

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import ChoiceRow, LengthRow, NumberRow, TextRow, Values, when
from witnessmark.app.forms.texts import PointNameInput, ThreadInput
from witnessmark.model import Cabinet, Placement, Side, TouchPoint
from witnessmark.model.limits import TILT_APART, TILT_TARGET, TURN_TOLERANCE, Limit
from witnessmark.session.cabinet_details import PointKind


def sizes(side: Side) -> Form[Cabinet]:
    """Return the form for a cabinet's size; the left one's is that of both while they are alike."""

    def called(words: str) -> str:
        return words.capitalize() if side is Side.LEFT else f"Right {words}"

    return Form(
        Cabinet,
        LengthRow("width_mm", called("width"), hint="Across the baffle's lower front edge."),
        LengthRow(
            "depth_mm", called("depth"), hint="From the baffle to the rear face, without plugs."
        ),
        LengthRow(
            "acoustic_height_mm",
            called("acoustic height"),
            optional=True,
            hint="Floor to the point that your ears should be level with, often the tweeter.",
        ),
    )


DETAILS = Form(
    Cabinet,
    LengthRow(
        "straightedge_mm",
        "Straightedge",
        optional=True,
        hint="Its length. Held across the baffle, it lengthens the base for toe-in.",
    ),
    TextRow(
        "thread",
        "Thread of spikes",
        reads=ThreadInput,
        optional=True,
        hint="M8, M8x1, 1/4-20: how far one turn of a spike goes.",
    ),
)


def placement(side: Side) -> Form[Placement]:
    """Return the form for where a cabinet is to stand."""
    name = side.capitalize()
    return Form(
        Placement,
        LengthRow(
            "side_mm",
            f"{name}, side wall",
            hint="To the middle of the baffle's lower front edge, square to the wall.",
        ),
        LengthRow(
            "setback_mm",
            f"{name}, front wall",
            hint="To the middle of the baffle's lower front edge.",
        ),
        NumberRow(
            "toe_in_deg",
            f"{name}, toe-in",
            hint="Positive turns the baffle toward the other cabinet; 0 faces straight ahead.",
        ),
    )


OWN, CORNERS = "own", "corners"
TAPE, FIGURES, MIRROR, BOX = "tape", "figures", "mirror", "box"
USUAL: Final = {
    PointKind.POINT: {
        "rear-inner": "rear-inner corner",
        "rear-outer": "rear-outer corner",
        "plinth-rear-inner": "plinth, rear-inner",
        "plinth-rear-outer": "plinth, rear-outer",
        "plinth-front-inner": "plinth, front-inner",
        "plinth-front-outer": "plinth, front-outer",
        "front-inner": "front-inner corner",
        "front-outer": "front-outer corner",
        CORNERS: "all four corners",
        OWN: "your own name",
    },
    PointKind.FOOT: {
        "front-inner": "front-inner",
        "front-outer": "front-outer",
        "rear-inner": "rear-inner",
        "rear-outer": "rear-outer",
        "front": "front, middle",
        "rear": "rear, middle",
        OWN: "your own name",
    },
}
"""The points that are looked for as a rule, by their names, and in words."""


class Which(msgspec.Struct, frozen=True):
    """Which point it is, a usual one or a ``name`` of its own; ``way`` is how it is entered."""

    which: str
    name: str | None
    way: str


def _are_not_corners(values: Values) -> bool:
    return bool(values["which"] != CORNERS)


def which(kind: PointKind) -> Form[Which]:
    """Return the form for which touch point or foot it is; the ways are offered by the screen."""
    return Form(
        Which,
        ChoiceRow("which", "Which", options=list(USUAL[kind].items())),
        TextRow(
            "name",
            "Name",
            reads=PointNameInput,
            shown_if=when("which", OWN),
            hint="Such as plinth-rear or knob.",
        ),
        ChoiceRow("way", "Found by", shown_if=_are_not_corners),
    )


PLACE = Form(
    TouchPoint,
    LengthRow("inward_mm", "Inward", is_fine=True, hint=("From the middle; outward with a minus.")),
    LengthRow(
        "back_mm", "Back", is_fine=True, hint=("From the baffle; in front of it with a minus.")
    ),
)
HELD_AT = Form(
    TouchPoint,
    LengthRow(
        "height_mm",
        "Meter held at",
        is_fine=True,
        hint="Above the floor: it decides whether the beam meets a skirting board.",
    ),
)


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
