"""The forms of what is in a room: a line for a wall, what stands proud, floor kept clear."""

from __future__ import annotations

from typing import Any, Final

import msgspec

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import ChoiceRow, Given, LengthRow, TextRow, Values
from witnessmark.errors import BadInput
from witnessmark.lengths import Units, format_length
from witnessmark.model import DatumLine, KeepClear, Wall, WallOffset
from witnessmark.session.room_contents import RoomItem, span
from witnessmark.survey.datum import neighbours

_SIDES = [(wall, wall.value) for wall in (Wall.LEFT, Wall.RIGHT, Wall.FRONT, Wall.BACK)]


class LineAnswers(msgspec.Struct, frozen=True):
    """Where the ends of a line are: from the side across, and from the one beside, or up to it."""

    side: Wall
    first_across_mm: float
    second_across_mm: float
    first_beside_mm: float | None = None
    second_beside_mm: float | None = None

    @property
    def line(self) -> DatumLine:
        """The line."""
        first, second = neighbours(self.side)
        return DatumLine(
            self.side,
            self._end(self.first_across_mm, first, self.first_beside_mm),
            self._end(self.second_across_mm, second, self.second_beside_mm),
        )

    def _end(self, across_mm: float, beside: Wall, beside_mm: float | None) -> dict[Wall, float]:
        across = {self.side.opposite: across_mm}
        return across if beside_mm is None else {**across, beside: beside_mm}


class ZoneAnswers(msgspec.Struct, frozen=True):
    """Floor to be kept clear: its name, and a rectangle along the walls."""

    zone: str
    left_near_mm: float
    left_far_mm: float
    front_near_mm: float
    front_far_mm: float

    def keep_clear(self, units: Units) -> KeepClear:
        """Return the floor.

        Raises:
            BadInput: when it is none; lengths are told in ``units``.
        """
        left = (self.left_near_mm, self.left_far_mm)
        front = (self.front_near_mm, self.front_far_mm)
        for side, (near, far) in (("left", left), ("front", front)):
            if near == far:
                both = format_length(near, units)
                raise BadInput(f"both edges are {both} from the {side}; give two that differ")
        return KeepClear.rectangle(self.zone, left, front)


Answers = LineAnswers | WallOffset | ZoneAnswers


def answers_for(entry: RoomItem) -> Answers:
    """Return the answers that make an entry; a zone is shown as the rectangle round it."""
    match entry:
        case DatumLine(wall=wall):
            across = wall.opposite
            return LineAnswers(wall, entry.first[across], entry.second[across])
        case WallOffset():
            return entry
        case KeepClear():
            left, front = span(entry)
            return ZoneAnswers(entry.name, *left, *front)


def entry_from(answers: Answers, units: Units) -> RoomItem:
    """Return the entry that answers make.

    Raises:
        BadInput: when they do not fit together; lengths are told in ``units``.
    """
    match answers:
        case LineAnswers():
            return answers.line
        case WallOffset():
            return answers
        case ZoneAnswers():
            return answers.keep_clear(units)


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
        return f"And how far from the {beside} wall? Empty: the line goes right up to it."

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


LINE, PROUD, ZONE = "line", "proud", "zone"
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
            "Stands proud",
            hint="How far it reaches into the room: skirting board, radiator, panel.",
        ),
        LengthRow(
            "from_height_mm",
            "From height",
            hint="Floor to its lower edge: 0 for a skirting board.",
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


def kind_of(entry: RoomItem) -> str:
    """Return the kind of an entry."""
    match entry:
        case DatumLine():
            return LINE
        case WallOffset():
            return PROUD
        case KeepClear():
            return ZONE
