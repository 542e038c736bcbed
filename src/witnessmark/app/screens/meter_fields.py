"""The fields of the meter screen that are about the meter itself."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.numbers import LengthInput, NumberInput
from witnessmark.lengths import Units
from witnessmark.model import Edge, Held, Meter, limits
from witnessmark.session.draft import Draft

FIGURES: Final = {
    "repeatability": "repeatability_mm",
    "resolution": "resolution_mm",
    "correction": "zero_correction_mm",
    "zero": "zero_mm",
}
"""The meter's own figures that are lengths, by the ids of their fields."""
SPOTS, NO_SPOTS = "spots", "none"
_ERRORS: Final = {
    "repeatability": (
        "Repeatability",
        0,
        "The spread of the same shot taken again (1 sigma). Ctrl+T finds it, or works it out.",
    ),
    "resolution": ("Resolution", 0, "The smallest step of its display."),
    "correction": (
        "Correction",
        -1000,
        "Added to each reading for the meter's zero error, where a check has found one: Ctrl+T.",
    ),
    "zero": (
        "Zero error",
        0,
        "How far off all its readings are together (1 sigma); it cancels between left and right.",
    ),
}


SWEPT: Final = "swept"
"""Chosen for shots that are held square to the wall and swept."""


def holding_fields(meter: Meter, held: str, units: Units) -> Iterator[Choice[str] | LengthInput]:
    """How the meter is held to the cabinet, and by what."""
    yield Choice(
        "Meter held",
        [
            (Held.CABINET, "flush on the cabinet"),
            (Held.WALL, "square to the wall"),
            (SWEPT, "square to the wall, swept"),
        ],
        held,
        hint="Flush on a face it fires along the cabinet; square, it goes from corner to wall; "
        "swept, the shortest of five readings counts.",
        id="held",
    )
    yield Choice(
        "Held by its",
        [
            (Edge.REAR, "rear"),
            (Edge.FRONT, "front"),
            (Edge.THREAD, "tripod thread"),
            (Edge.OTHER, "end piece"),
        ],
        meter.edge,
        hint="What touches the face or the mark. Set the meter to count from there, if it can.",
        id="edge",
    )
    yield LengthInput(
        "Edge adds",
        meter.edge_offset_mm,
        units=units,
        limit=limits.METER_SHIFT,
        hint="To each reading: 0 where the meter counts from what is held; below 0 where from "
        "behind it.",
        id="offset",
    )


def spots_field(draft: Draft) -> Choice[str]:
    """Whether the dot of a beam across the room may be measured."""
    return Choice(
        "Spot shots",
        [(NO_SPOTS, "none"), (SPOTS, "where needed")],
        SPOTS if draft.spot_shots else NO_SPOTS,
        hint="Fired ahead; where its dot lands on a solid back wall tells toe-in finely.",
        id="spots",
    )


def error_fields(meter: Meter) -> Iterator[LengthInput | NumberInput]:
    """The meter's errors."""
    for name, (label, least_mm, hint) in _ERRORS.items():
        yield LengthInput(
            label,
            getattr(meter, FIGURES[name]),
            units=Units.TENTH_MM,
            limit=limits.METER_SHIFT if least_mm else limits.METER_ERROR,
            hint=hint,
            id=name,
        )
    yield NumberInput(
        "Scale",
        meter.scale_ppm,
        limit=limits.SCALE,
        hint="How far its metre may be off, in millionths; 100 ppm is 0.1 mm in a metre.",
        id="scale",
    )
    yield NumberInput(
        "Beam askew",
        meter.flush_deg,
        limit=limits.BEAM,
        hint="How far the beam is off square to what the meter lies on (1 sigma), for spot shots.",
        id="flush",
    )
