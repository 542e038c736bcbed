"""The forms of the first step: a room with its seat and air, or a cabinet if no room is needed."""

from __future__ import annotations

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import (
    ChoiceRow,
    LengthRow,
    NumberRow,
    TextRow,
    when,
)
from witnessmark.app.forms.texts import RoomNameInput
from witnessmark.lengths import Units
from witnessmark.session.room_answers import SKEW, SQUARE, PairSize, RoomAnswers


def _side(name: str, label: str, hint: str, corners: str) -> LengthRow:
    return LengthRow(name, label, hint=hint, shown_if=when("corners", corners))


ROOM = Form(
    RoomAnswers,
    ChoiceRow("units", "Lengths shown in", options=[(unit, unit) for unit in Units]),
    TextRow(
        "name",
        "Name of this room",
        reads=RoomNameInput,
        hint="Everything measured is saved in the room of this name. Ctrl+O lists all rooms.",
    ),
    ChoiceRow("corners", "Corners", options=[(SQUARE, "square"), (SKEW, "not square")]),
    _side("width_mm", "Width", "Along the front wall, the one behind the cabinets.", SQUARE),
    _side("length_mm", "Length", "From the front wall to the back wall.", SQUARE),
    _side("front_mm", "Front wall", "The wall behind the cabinets, from corner to corner.", SKEW),
    _side("right_mm", "Right wall", "As the listener facing the front wall sees it.", SKEW),
    _side("back_mm", "Back wall", "The wall behind the listener.", SKEW),
    _side("left_mm", "Left wall", "As the listener facing the front wall sees it.", SKEW),
    _side("diagonal_mm", "Diagonal", "From the front-left corner to the back-right corner.", SKEW),
    LengthRow("height_mm", "Height", optional=True, hint="Floor to ceiling."),
    LengthRow(
        "from_front_mm",
        "Seat to front",
        optional=True,
        hint="From the middle of the head. Empty: two thirds of the length, a common start.",
    ),
    LengthRow(
        "from_left_mm",
        "Seat to left wall",
        optional=True,
        hint="From the middle of the head. Empty: half the width.",
    ),
    LengthRow(
        "ear_height_mm", "Ear height", optional=True, hint="Floor to ear as you sit to listen."
    ),
    NumberRow("temperature_c", "Air temperature", hint="It sets the speed of sound."),
)


def pair_size(*, room_is_known: bool) -> Form[PairSize]:
    """Return the form; a room that was measured is not asked for."""
    return Form(
        PairSize,
        LengthRow("width_mm", "Cabinet width", hint="Across the baffle's lower front edge."),
        LengthRow("depth_mm", "Cabinet depth", hint="From the baffle to the rear face."),
        LengthRow(
            "room_width_mm",
            "Room width",
            optional=True,
            hint="Along the front wall. Without it: which differs from which, not from the middle.",
            shown_if=not room_is_known,
        ),
    )
