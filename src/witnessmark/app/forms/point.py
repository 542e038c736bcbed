"""The forms of a touch point or a foot: which one it is, how it is told, and its figures."""

from __future__ import annotations

from typing import Final

import msgspec

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import ChoiceRow, LengthRow, TextRow, Values, when
from witnessmark.app.forms.texts import PointNameInput
from witnessmark.model import TouchPoint
from witnessmark.session.cabinet_details import PointKind

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
    """Which point it is, one of the usual or a ``name`` of its own, and the ``way`` it is told."""

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
