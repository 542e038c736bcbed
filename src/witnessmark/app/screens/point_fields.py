"""What the screen of a touch point or a foot asks for: which one, and its figures."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from witnessmark.app.cabinet_details import Part
from witnessmark.app.forms.numbers import LengthInput
from witnessmark.lengths import Units
from witnessmark.model import TouchPoint, limits

OWN, CORNERS = "own", "corners"
USUAL: Final = {
    Part.POINT: {
        "rear-inner": "rear-inner corner",
        "rear-outer": "rear-outer corner",
        "plinth-rear-inner": "plinth, rear-inner",
        "plinth-rear-outer": "plinth, rear-outer",
        "plinth-front-inner": "plinth, front-inner",
        "plinth-front-outer": "plinth, front-outer",
        "front-inner": "front-inner corner",
        "front-outer": "front-outer corner",
        CORNERS: "all four corners",
        OWN: "a name of its own",
    },
    Part.FOOT: {
        "front-inner": "front-inner",
        "front-outer": "front-outer",
        "rear-inner": "rear-inner",
        "rear-outer": "rear-outer",
        "front": "front, middle",
        "rear": "rear, middle",
        OWN: "a name of its own",
    },
}
"""The points that are looked for as a rule, by their names, and in words."""


def figures(at: TouchPoint | None, units: Units) -> Iterator[LengthInput]:
    """Inward, back and height, filled in where they are known."""
    for name, value_mm, hint in (
        ("inward", at.inward_mm if at else None, "From the middle; with a minus outward."),
        ("back", at.back_mm if at else None, "From the baffle; with a minus before it."),
    ):
        yield LengthInput(
            name.capitalize(),
            value_mm,
            units=units,
            limit=limits.FROM_BAFFLE,
            hint=hint,
            id=name,
        )
    yield LengthInput(
        "Meter held at",
        at.height_mm if at else 0.0,
        units=units,
        limit=limits.METER_HEIGHT,
        hint="Above the floor: it decides whether a skirting board is met.",
        id="height",
    )
