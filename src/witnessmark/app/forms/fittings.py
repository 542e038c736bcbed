"""The forms of what is in a room: a line for a wall, what stands proud, floor kept clear."""

from __future__ import annotations

from typing import Any, Final

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import ChoiceRow, Given, LengthRow, TextRow, Values
from witnessmark.model import Wall, WallOffset
from witnessmark.session.room_contents import LINE, PROUD, ZONE, LineAnswers, ZoneAnswers
from witnessmark.survey.datum import neighbours

_SIDES = [(wall, wall.value) for wall in (Wall.LEFT, Wall.RIGHT, Wall.FRONT, Wall.BACK)]


def _end_label(place: int, *, is_across: bool) -> Given[str]:
    def label(values: Values) -> str:
        side = values["side"]
        beside = neighbours(side)[place]
        return f"{beside.capitalize()} end, {side.opposite if is_across else beside}"

    return label


def _across_hint(place: int) -> Given[str]:
    def hint(values: Values) -> str:
        side = values["side"]
        beside = neighbours(side)[place]
        return (
            f"How far is the end of the line near the {beside} wall from the {side.opposite} wall?"
        )

    return hint


def _beside_hint(place: int) -> Given[str]:
    def hint(values: Values) -> str:
        beside = neighbours(values["side"])[place]
        return f"And how far from the {beside} wall? Empty: the line reaches it."

    return hint


def _end_rows(name: str, place: int) -> tuple[LengthRow, LengthRow]:
    return (
        LengthRow(f"{name}_across_mm", _end_label(place, is_across=True), hint=_across_hint(place)),
        LengthRow(
            f"{name}_beside_mm",
            _end_label(place, is_across=False),
            hint=_beside_hint(place),
            optional=True,
        ),
    )


FITTINGS: Final[dict[str, Form[Any]]] = {
    LINE: Form(
        LineAnswers,
        ChoiceRow("side", "No wall on the", options=_SIDES, begins=Wall.RIGHT),
        *_end_rows("first", 0),
        *_end_rows("second", 1),
    ),
    PROUD: Form(
        WallOffset,
        ChoiceRow("wall", "On the wall", options=_SIDES, begins=Wall.FRONT),
        LengthRow(
            "proud_mm",
            "Sticks out",
            hint="How far a skirting board, radiator or panel reaches into the room.",
        ),
        LengthRow(
            "from_height_mm", "From height", hint="Floor to its lower edge: 0 for a skirting board."
        ),
        LengthRow("to_height_mm", "To height", hint="Floor to its upper edge."),
    ),
    ZONE: Form(
        ZoneAnswers,
        TextRow("zone", "Name", hint="Such as hearth, door swing, walkway."),
        LengthRow("left_near_mm", "From left", hint="From the left to its nearer edge."),
        LengthRow("left_far_mm", "  up to", hint="From the left to its farther edge."),
        LengthRow("front_near_mm", "From front", hint="From the front to its nearer edge."),
        LengthRow("front_far_mm", "  up to", hint="From the front to its farther edge."),
    ),
}
"""The form for each kind of entry."""
