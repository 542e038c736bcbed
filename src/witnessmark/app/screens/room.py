"""Room and seat: the first step."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import msgspec
from textual import on
from textual.message import Message
from textual.widgets import Static

from witnessmark.app.commands import bindings_for
from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.numbers import LengthInput, NumberInput
from witnessmark.app.forms.texts import RoomNameInput
from witnessmark.app.outline import Walls
from witnessmark.app.room_words import GIVEN_UP, has_square_corners, same_corners, state_words
from witnessmark.app.screens import make_screen
from witnessmark.app.screens.step import StepScreen
from witnessmark.app.steps import Aside, Step
from witnessmark.app.widgets.plan_view import PlanView
from witnessmark.drawing.plan import plan_drawing
from witnessmark.errors import BadInput, StoreError
from witnessmark.layout.practice import Practice
from witnessmark.layout.stations import default_seat
from witnessmark.lengths import Units, format_length
from witnessmark.model import Room, Seat, Wall, limits
from witnessmark.session.draft import Draft
from witnessmark.store.store import Store

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from textual.app import ComposeResult

    from witnessmark.session.workspace import Workspace

_NAMED = "What is measured and kept goes to the room of this name; Ctrl+O lists all rooms."
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
        "5.36 m, 5360, 17' 7\". Only the first two lengths are needed.\n"
        "Not square, or open on a side: Ctrl+E surveys it. Radiators, hearths: Ctrl+F."
    )

    DEFAULT_CSS = """
    RoomScreen #state { height: auto; color: $text-muted; }
    """

    @dataclass
    class Others(Message):
        """The names of the other rooms that there is anything of."""

        names: frozenset[str]

    def __init__(self) -> None:
        super().__init__()
        self._known = Draft()

    def fields(self) -> ComposeResult:
        """Units, name, walls, seat, air."""
        draft = self.app.draft
        yield Choice("Lengths shown in", [(unit, unit) for unit in Units], draft.units, id="units")
        yield RoomNameInput("Name of this room", self.app.opening.name, hint=_NAMED, id="name")
        yield from self._wall_fields(draft.room)
        yield from self._seat_fields(draft.seat)
        yield NumberInput(
            "Air temperature",
            draft.temperature_c,
            limit=limits.AIR,
            hint="It sets the speed of sound.",
            id="temperature",
        )
        yield Static(id="state", markup=False)

    def aside(self) -> ComposeResult:
        """The plan, as far as it is known."""
        yield PlanView(id="plan")

    def on_mount(self) -> None:
        """Show the fields that belong to the corners, and the plan."""
        self._known = self.app.draft
        self._show_walls()
        self._show_plan()
        self.run_worker(self._find_others(), group="rooms")
        super().on_mount()

    async def _find_others(self) -> None:
        here = self.app.opening.name
        with contextlib.suppress(StoreError):  # nothing is read here that would be missed
            rooms = await self.session.journal.run(Store.rooms)
            self.post_message(self.Others(frozenset(room.name for room in rooms) - {here}))

    @on(Others)
    def _know_others(self, event: Others) -> None:
        self.query_one("#name", RoomNameInput).others = event.names

    def apply(self) -> Sequence[str]:
        """The room, the seat in it, the air, and the name of all that."""
        room, known = self._room(), self._known
        temperature = self.query_one("#temperature", NumberInput).value
        as_known = known.room is not None and room.corners == known.room.corners
        draft = msgspec.structs.replace(
            self.app.draft,
            room=room,
            seat=self._seat(room),
            temperature_c=self.app.draft.temperature_c if temperature is None else temperature,
            survey=known.survey if as_known else (),
        )
        name = self.query_one("#name", RoomNameInput).value or self.app.opening.name
        self.session.workspace = msgspec.structs.replace(self.app.opening, draft=draft, name=name)
        self._show_plan()
        return () if draft.survey == known.survey else (GIVEN_UP,)

    def action_open(self, aside: str) -> None:
        """Open the screen for more of the room, or for others, and show then what it changed."""
        if aside == Aside.ROOMS:
            here = self.app.opening
            self.app.push_screen(make_screen(Aside.ROOMS), lambda _: self._go_over(here))
            return
        if aside == Aside.FITTINGS and (
            self.open_fields or self.problem or not self.app.draft.room
        ):
            self.notify(
                "Give the room's size first, or survey it: then comes what is in it.",
                severity="warning",
            )
            return
        before = self.app.draft
        self.app.push_screen(make_screen(Aside(aside)), lambda _: self._show_changes(before))

    def _go_over(self, before: Workspace) -> None:
        """Show another room in a form of its own: the fields here are those of this one."""
        if self.app.opening is not before:
            self.app.go(self.STEP)

    def _show_changes(self, before: Draft) -> None:
        draft = self._known = self.app.draft
        if draft.room is not None and draft.room != before.room:
            self._put_corners(draft.room)
        if draft.seat is not None and (draft.seat, _lines(draft)) != (before.seat, _lines(before)):
            # one that nobody told would go to the middle of what a line leaves
            for name, at_mm in zip(_SEAT, _of(draft.seat), strict=True):
                self._length(name).put(at_mm)
        self._show_plan()
        self.take_over()

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

    def _put_corners(self, room: Room) -> None:
        self.query_one("#corners", Choice).value = _SQUARE if has_square_corners(room) else _SKEW
        for name, mm in _sizes(room).items():
            self._length(name).put(mm)
        self._show_walls()

    def _wall_fields(self, room: Room | None) -> Iterator[Choice[str] | LengthInput]:
        square = room is None or has_square_corners(room)
        yield Choice(
            "Corners",
            [(_SQUARE, "square"), (_SKEW, "not square")],
            _SQUARE if square else _SKEW,
            id="corners",
        )
        known = _sizes(room) if room else {}
        for name, (label, hint) in (_SIDES | _WALLS).items():
            yield self._field(name, label, known.get(name), hint, limit=limits.ROOM_SIDE)
        height = room.height_mm if room else None
        yield self._field(
            "height", "Height", height, "Floor to ceiling.", limit=limits.ROOM_HEIGHT, optional=True
        )

    def _seat_fields(self, seat: Seat | None) -> Iterator[LengthInput]:
        known = _of(seat) if seat else (None, None)
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
        limit: limits.Limit = limits.LENGTH,
        optional: bool = False,
    ) -> LengthInput:
        return LengthInput(
            label,
            value_mm,
            units=self.app.draft.units,
            limit=limit,
            hint=hint,
            optional=optional,
            id=name,
        )

    def _room(self) -> Room:
        """The room of these corners; what is known of it beside them stays."""
        height, known = self._length("height").value, self._known.room
        if self._is_square:
            room = Room.rectangular(self._needed("width"), self._needed("length"), height)
        else:
            room = Walls(*(self._needed(name) for name in _WALLS)).room(height)
        if known is None:
            return room
        if same_corners(room, known):
            return msgspec.structs.replace(known, height_mm=height)
        return msgspec.structs.replace(
            room, datum=known.datum, offsets=known.offsets, keep_clear=known.keep_clear
        )

    def _seat(self, room: Room) -> Seat:
        usual = default_seat(room, Practice())
        front, left = (self._length(name).value for name in _SEAT)
        from_front = usual.from_front_mm if front is None else front
        from_left = usual.from_left_mm if left is None else left
        for wall, at, end in (
            (Wall.FRONT, from_front, room.length_mm),
            (Wall.LEFT, from_left, room.width_mm),
        ):
            side = f"seat to {room.side_name(wall)}"
            if at <= 0:
                raise BadInput(f"{side}: it must be more than 0; measure it anew")
            if at >= end and wall.opposite not in room.datum:
                far = format_length(end, self.app.draft.units)
                raise BadInput(f"{side}: it must be less than the room's {far}")
        return Seat(from_front, from_left, self._length("ear-height").value)

    def _show_plan(self) -> None:
        draft = self.app.draft
        self.query_one("#state", Static).update(state_words(draft))
        if draft.room:
            self.query_one(PlanView).show(plan_drawing(draft.room, seat=draft.seat))

    @property
    def _is_square(self) -> bool:
        return bool(self.query_one("#corners", Choice).value == _SQUARE)

    def _length(self, name: str) -> LengthInput:
        return self.query_one(f"#{name}", LengthInput)

    def _needed(self, name: str) -> float:
        field = self._length(name)
        if field.value is None:
            raise BadInput(f"{field.label}: needed")
        return field.value


def _sizes(room: Room) -> dict[str, float | None]:
    """What the fields of the corners hold for a room."""
    known = {"width": room.width_mm, "length": room.length_mm}
    is_square = has_square_corners(room)
    walls = zip(_WALLS, Walls.of(room), strict=True)
    return known | {name: None if is_square else mm for name, mm in walls}


def _of(seat: Seat) -> tuple[float, float]:
    """What the fields of the seat hold for a seat."""
    return seat.from_front_mm, seat.from_left_mm


def _lines(draft: Draft) -> tuple[Wall, ...]:
    return draft.room.datum if draft.room else ()
