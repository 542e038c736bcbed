"""The forms of the meter: how it is reached, held, asked and checked, and what it is good for."""

from __future__ import annotations

import msgspec

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import ChoiceRow, LengthRow, NumberRow, TextRow, Values, when
from witnessmark.app.forms.texts import AddressInput, RequestInput, UuidInput
from witnessmark.meters.address import Address
from witnessmark.meters.capture import Question
from witnessmark.meters.check import CheckKind, Meaning
from witnessmark.meters.lesson import MeterLimits
from witnessmark.model import Edge, Held, Meter, Tolerance
from witnessmark.model.limits import MAKERS_FIGURE
from witnessmark.session.draft import Draft
from witnessmark.session.meter_options import UNITS, takes_unit

NO_PROFILE = ""
"""Chosen where the meter's bytes are read without a profile."""


class Reach(msgspec.Struct, frozen=True):
    """A meter's address, and the two of its options that can be chosen beside it."""

    address: str
    profile: str = NO_PROFILE
    unit: str | None = None
    """That of bare numbers; None: nobody has chosen one."""


def _takes_unit(values: Values) -> bool:
    address = values["address"]
    return address is not None and takes_unit(Address.parse(address))


REACH = Form(
    Reach,
    TextRow(
        "address",
        "Meter",
        reads=AddressInput,
        hint="serial:PORT, ble:ADDRESS, typed: for keyboard or tape, or one from the list.",
    ),
    ChoiceRow(
        "profile",
        "Format",
        hides_single=True,
        hint="A profile turns its bytes into distances. If none fits, teach one: Ctrl+E.",
    ),
    ChoiceRow(
        "unit",
        "Unit",
        options=[(None, "not chosen"), *((unit, unit) for unit in UNITS)],
        shown_if=_takes_unit,
        hint="Of numbers that the meter sends without one; until it is chosen, they do not count.",
    ),
)


class Leaflet(msgspec.Struct, frozen=True):
    """What the leaflet of a meter that was taught may say; None: nobody knows."""

    shortest_mm: float | None = None
    longest_mm: float | None = None
    error_mm: float | None = None

    @property
    def limits(self) -> MeterLimits:
        """The same as limits of the meter's profile."""
        error = () if self.error_mm is None else (self.error_mm,)
        return MeterLimits(self.shortest_mm, self.longest_mm, error)


LEAFLET = Form(
    Leaflet,
    LengthRow(
        "shortest_mm",
        "Measures from",
        optional=True,
        hint="The shortest distance in the meter's leaflet. Less is never a distance.",
    ),
    LengthRow(
        "longest_mm",
        "Measures up to",
        optional=True,
        hint="The longest distance in the meter's leaflet. More is never a distance.",
    ),
    LengthRow(
        "error_mm",
        "Error number",
        optional=True,
        hint="What it shows as a distance when it cannot measure, such as 0 or 99.999 m.",
    ),
)


class Holding(msgspec.Struct, frozen=True):
    """How the meter is held for shots to walls, and whether they are swept: one choice."""

    held: tuple[Held, bool]

    @classmethod
    def of(cls, draft: Draft) -> Holding:
        """Return how it is held in a draft."""
        return cls((Held.WALL, True) if draft.sweeps else (draft.held, False))


HOLDING = Form(
    Holding,
    ChoiceRow(
        "held",
        "Meter held",
        options=[
            ((Held.CABINET, False), "flush on the cabinet"),
            ((Held.WALL, False), "square to the wall"),
            ((Held.WALL, True), "square to the wall, swept"),
        ],
        hint="Flush: it fires along the cabinet. Square: from corner to wall. Swept: the "
        "shortest of five readings counts.",
    ),
)
EDGE = Form(
    Meter,
    ChoiceRow(
        "edge",
        "Held by its",
        options=[
            (Edge.REAR, "rear"),
            (Edge.FRONT, "front"),
            (Edge.THREAD, "tripod thread"),
            (Edge.OTHER, "end piece"),
        ],
        hint="What touches the face or the mark. Set the meter to count from there, if it can.",
    ),
    LengthRow(
        "edge_offset_mm",
        "Edge offset",
        is_fine=True,
        hint="Added to each reading: 0 if the meter counts from what is held, below 0 if it "
        "counts from behind that.",
    ),
)
SPOTS = Form(
    Draft,
    ChoiceRow(
        "spot_shots",
        "Spot shots",
        options=[(False, "none"), (True, "where needed")],
        hint="Fired ahead: where the dot lands on a solid back wall gives toe-in precisely.",
    ),
)
ERRORS = Form(
    Meter,
    LengthRow(
        "repeatability_mm",
        "Repeatability",
        is_figure=True,
        hint="The spread of repeated shots (1 sigma). Ctrl+T helps to find it.",
    ),
    LengthRow(
        "resolution_mm",
        "Resolution",
        is_figure=True,
        hint="The smallest step of its display.",
    ),
    LengthRow(
        "zero_correction_mm",
        "Correction",
        is_figure=True,
        hint="Added to each reading to correct the zero error. Ctrl+T finds it.",
    ),
    LengthRow(
        "zero_mm",
        "Zero error",
        is_figure=True,
        hint="How far off all its readings may be by the same amount (1 sigma). It cancels "
        "between left and right.",
    ),
    NumberRow(
        "scale_ppm",
        "Scale",
        hint="How far its scale may be off; 100 ppm is one part in 10 000.",
    ),
    NumberRow(
        "flush_deg",
        "Beam angle error",
        hint="How far the beam is from square to the meter's edge (1 sigma), for spot shots.",
    ),
)
TOLERANCE = Form(
    Tolerance,
    LengthRow(
        "position_mm",
        "Position within",
        is_fine=True,
        hint="A cabinet this close to its target, in side and setback, is in.",
    ),
    NumberRow("toe_in_deg", "Toe-in within", hint="And turned this close to its target."),
)


class Check(msgspec.Struct, frozen=True):
    """Which check of the meter is under way, and what its maker says of it."""

    what: CheckKind = CheckKind.FIVE_SHOTS
    figure_mm: float | None = None
    meaning: Meaning = Meaning.TWO_SIGMA


CHECK = Form(
    Check,
    ChoiceRow(
        "what",
        "Check",
        options=[
            (CheckKind.FIVE_SHOTS, "five shots"),
            (CheckKind.THREE_MARKS, "three marks"),
            (CheckKind.MAKERS, "maker's figure"),
        ],
    ),
    LengthRow(
        "figure_mm",
        "Maker's ±",
        limit=MAKERS_FIGURE,
        is_figure=True,
        optional=True,
        shown_if=when("what", CheckKind.MAKERS),
    ),
    ChoiceRow(
        "meaning",
        "It means",
        options=[(meaning, meaning) for meaning in Meaning],
        hint="If its instructions do not say, choose two standard deviations.",
        shown_if=when("what", CheckKind.MAKERS),
    ),
)


def asking(*, over_bluetooth: bool) -> Form[Question]:
    """Return the form for how a meter is asked that waits for it; where no request is, it is not.

    Over Bluetooth it may be said as well where the request is written.
    """
    request = TextRow(
        "request",
        "Request",
        reads=RequestInput,
        optional=True,
        hint=r'For a meter that is asked, as in a profile: take\r\n or bytes = "10 01".',
    )
    written_to = TextRow(
        "characteristic",
        "Written to",
        reads=UuidInput,
        optional=True,
        hint="The UUID to write it to, if there are several.",
    )
    return Form(Question, request, *([written_to] if over_bluetooth else []))
