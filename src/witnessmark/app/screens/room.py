"""Room and seat: the first step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec
from textual import on

from witnessmark.app.commands import bindings_for
from witnessmark.app.outline import Walls
from witnessmark.app.screens.step import StepScreen
from witnessmark.app.steps import Step
from witnessmark.app.widgets.choice import Choice
from witnessmark.app.widgets.length_input import LengthInput, NumberInput
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.app.widgets.text_input import TextInput
from witnessmark.drawing.plan import plan_drawing
from witnessmark.errors import BadInput
from witnessmark.layout.practice import Practice
from witnessmark.layout.stations import default_seat
from witnessmark.lengths import Units, format_length
from witnessmark.model import Room, Seat

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from textual.app import ComposeResult

_SQUARE, _SKEW = "square", "skew"
_SIDES = {
    "width": ("Width", "Along the front wall, the one behind the cabinets."),
    "length": ("Length", "From the front wall to the back wall."),
}
_WALLS = {
    "front": ("Front wall", "The wall behind the cabinets, from corner to corner."),
    "right": ("Right wall", "As the listener facing the front wall sees it."),
    "back": ("Back wall", "The wall behind the listener."),
    "left": ("Left wall", "As the listener facing the front wall sees it."),
    "diagonal": ("Diagonal", "From the front-left corner to the back-right corner."),
}
_SEAT = {
    "from-front": (
        "Seat to front",
        "From the middle of the head. Empty: two thirds of the length, a common beginning.",
    ),
    "from-left": ("Seat to left wall", "From the middle of the head. Empty: half the width."),
}


class RoomScreen(StepScreen):
    """Asks for the room's walls, where the listener's head is, and the air."""

    STEP = Step.ROOM
    BINDINGS = bindings_for(STEP)
    ADVICE = (
        "Measure the room, wall to wall above the skirting board, and type what you find: "
        "4.98 m, 4980, 16' 4\". Only the first two lengths are needed."
    )

    def fields(self) -> ComposeResult:
        """Units, name, walls, seat, air."""
        draft = self.app.draft
        yield Choice("Lengths shown in", [(unit, unit) for unit in Units], draft.units, id="units")
        yield TextInput("Name of this room", self.app.opening.name, id="name")
        yield from self._wall_fields(draft.room)
        yield from self._seat_fields(draft.seat)
        yield NumberInput(
            "Air temperature",
            draft.temperature_c,
            unit="°C",
            least=-20,
            most=50,
            hint="It sets the speed of sound.",
            id="temperature",
        )

    def aside(self) -> ComposeResult:
        """The plan, as far as it is known."""
        yield PlanView(id="plan")

    def on_mount(self) -> None:
        """Show the fields that belong to the corners, and the plan."""
        self._show_walls()
        self._show_plan()
        super().on_mount()

    def apply(self) -> Sequence[str]:
        """The room, the seat in it, the air, and the name of all that."""
        room = self._room()
        temperature = self.query_one("#temperature", NumberInput).value
        draft = msgspec.structs.replace(
            self.app.draft,
            room=room,
            seat=self._seat(room),
            temperature_c=self.app.draft.temperature_c if temperature is None else temperature,
        )
        name = self.query_one("#name", TextInput).value or self.app.opening.name
        self.app.opening = msgspec.structs.replace(self.app.opening, draft=draft, name=name)
        self._show_plan()
        return ()

    @on(Choice.Changed, "#units")
    def _change_units(self, event: Choice.Changed) -> None:
        units = Units(event.value)
        self.app.edit(msgspec.structs.replace(self.app.draft, units=units))
        for field in self.query(LengthInput):
            field.show_in(units)

    @on(Choice.Changed, "#corners")
    def _show_walls(self) -> None:
        for name in _SIDES:
            self._length(name).display = self._is_square
        for name in _WALLS:
            self._length(name).display = not self._is_square

    def _wall_fields(self, room: Room | None) -> Iterator[Choice | LengthInput]:
        square = room is None or _has_square_corners(room)
        yield Choice(
            "Corners",
            [(_SQUARE, "square"), (_SKEW, "not square")],
            _SQUARE if square else _SKEW,
            id="corners",
        )
        known = {"width": room.width_mm, "length": room.length_mm} if room else {}
        if room and not square:
            known |= zip(_WALLS, Walls.of(room), strict=True)
        for name, (label, hint) in (_SIDES | _WALLS).items():
            yield self._field(name, label, known.get(name), hint, least_mm=500)
        height = room.height_mm if room else None
        yield self._field(
            "height", "Height", height, "Floor to ceiling.", least_mm=1000, optional=True
        )

    def _seat_fields(self, seat: Seat | None) -> Iterator[LengthInput]:
        known = (seat.from_front_mm, seat.from_left_mm) if seat else (None, None)
        for (name, (label, hint)), value in zip(_SEAT.items(), known, strict=True):
            yield self._field(name, label, value, hint, optional=True)
        ear_height = seat.ear_height_mm if seat else None
        hint = "Floor to ear as you sit to listen."
        yield self._field("ear-height", "Ear height", ear_height, hint, optional=True)

    def _field(
        self,
        name: str,
        label: str,
        value_mm: float | None,
        hint: str,
        *,
        least_mm: float = 0.0,
        optional: bool = False,
    ) -> LengthInput:
        return LengthInput(
            label,
            value_mm,
            units=self.app.draft.units,
            least_mm=least_mm,
            hint=hint,
            optional=optional,
            id=name,
        )

    def _room(self) -> Room:
        height = self._length("height").value
        if self._is_square:
            return Room.rectangular(self._needed("width"), self._needed("length"), height)
        walls = Walls(*(self._needed(name) for name in _WALLS))
        known = self.app.draft.room
        if known is not None and walls == Walls.of(known):
            return msgspec.structs.replace(known, height_mm=height)
        return walls.room(height)

    def _seat(self, room: Room) -> Seat:
        usual = default_seat(room, Practice())
        front, left = (self._length(name).value for name in _SEAT)
        from_front = usual.from_front_mm if front is None else front
        from_left = usual.from_left_mm if left is None else left
        for wall, at, end in (
            ("front", from_front, room.length_mm),
            ("left", from_left, room.width_mm),
        ):
            if not 0 < at < end:
                far = format_length(end, self.app.draft.units)
                raise BadInput(f"seat to {wall} wall: it must be less than the room's {far}")
        return Seat(from_front, from_left, self._length("ear-height").value)

    def _show_plan(self) -> None:
        draft = self.app.draft
        if draft.room:
            self.query_one(PlanView).show(plan_drawing(draft.room, seat=draft.seat))

    @property
    def _is_square(self) -> bool:
        return self.query_one("#corners", Choice).value == _SQUARE

    def _length(self, name: str) -> LengthInput:
        return self.query_one(f"#{name}", LengthInput)

    def _needed(self, name: str) -> float:
        field = self._length(name)
        if field.value is None:
            raise BadInput(f"{field.label}: needed")
        return field.value


def _has_square_corners(room: Room) -> bool:
    return room == Room.rectangular(room.width_mm, room.length_mm, room.height_mm)
