"""What may be in a room beside bare walls: a form for each kind of entry."""

from __future__ import annotations

import abc
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from textual import on
from textual.containers import Vertical

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import fields_in
from witnessmark.app.forms.numbers import LengthInput
from witnessmark.app.forms.texts import TextInput
from witnessmark.app.room_contents import Entry, span
from witnessmark.errors import BadInput
from witnessmark.lengths import format_length
from witnessmark.model import DatumLine, KeepClear, Wall, WallOffset
from witnessmark.survey.datum import neighbours

if TYPE_CHECKING:
    from textual.app import ComposeResult

    from witnessmark.app.forms.field import Field
    from witnessmark.lengths import Units

E = TypeVar("E", bound=Entry)

_SIDES = [(wall.value, wall.value) for wall in (Wall.LEFT, Wall.RIGHT, Wall.FRONT, Wall.BACK)]


class FittingForm(Vertical, Generic[E]):
    """The fields of one kind of entry."""

    DEFAULT_CSS = """
    FittingForm { height: auto; }
    """

    def __init__(self, units: Units, *, id: str) -> None:  # noqa: A002
        """``units`` are those in which lengths are shown."""
        super().__init__(id=id)
        self.units = units

    @property
    @abc.abstractmethod
    def entry(self) -> E:
        """What the fields hold; to be asked for when all of them are settled.

        Raises:
            BadInput: when they do not fit together.
        """

    @abc.abstractmethod
    def put(self, entry: E) -> None:
        """Show an entry."""

    @property
    def missing(self) -> list[Field[Any]]:
        """The fields that need something."""
        return [field for field in fields_in(self) if not field.is_settled]

    def clear(self) -> None:
        """Empty the fields."""
        for field in fields_in(self):
            field.put(None)

    def length(self, name: str) -> LengthInput:
        """A field by its id."""
        return self.query_one(f"#{name}", LengthInput)

    def mm(self, name: str) -> float:
        """What a field holds; 0 when it is empty."""
        return self.length(name).value or 0.0

    def make(
        self, name: str, label: str = "", hint: str = "", *, optional: bool = False
    ) -> LengthInput:
        """A field for a length."""
        return LengthInput(label, units=self.units, hint=hint, optional=optional, id=name)


class LineForm(FittingForm[DatumLine]):
    """A line in place of a wall: which side, and where its two ends are."""

    def compose(self) -> ComposeResult:
        """The side, then for each end how far it is from the side across and the one beside it."""
        yield Choice("No wall on the", _SIDES, Wall.RIGHT, id="side")
        for end in ("first", "second"):
            yield self.make(f"{end}-across")
            yield self.make(f"{end}-beside", optional=True)

    def on_mount(self) -> None:
        """Name the distances by the side."""
        self._ask()

    @property
    def entry(self) -> DatumLine:
        """The line."""
        first, second = (
            self._end(end, beside)
            for end, beside in zip(("first", "second"), neighbours(self._side), strict=True)
        )
        return DatumLine(self._side, first, second)

    def put(self, entry: DatumLine) -> None:
        """Show a line."""
        self.query_one("#side", Choice).value = entry.wall
        for end, given in (("first", entry.first), ("second", entry.second)):
            self.length(f"{end}-across").put(given[entry.wall.opposite])
            self.length(f"{end}-beside").put(None)
        self._ask()

    @on(Choice.Changed)
    def _ask(self) -> None:
        across = self._side.opposite
        for end, beside in zip(("first", "second"), neighbours(self._side), strict=True):
            self.length(f"{end}-across").ask_for(
                f"{beside.capitalize()} end, {across}",
                f"How far is the end of the line near the {beside} wall from the {across} wall?",
            )
            self.length(f"{end}-beside").ask_for(
                f"{beside.capitalize()} end, {beside}",
                f"And how far from the {beside} wall? Empty: the line goes right up to it.",
            )

    def _end(self, end: str, beside: Wall) -> dict[Wall, float]:
        across = {self._side.opposite: self.mm(f"{end}-across")}
        away = self.length(f"{end}-beside").value
        return across if away is None else {**across, beside: away}

    @property
    def _side(self) -> Wall:
        return Wall(self.query_one("#side", Choice).value)


class ProudForm(FittingForm[WallOffset]):
    """What stands proud of a wall: which, how far, and at which heights."""

    def compose(self) -> ComposeResult:
        """The wall and three lengths."""
        yield Choice("On the wall", _SIDES, Wall.FRONT, id="on")
        yield self.make(
            "proud",
            "Stands proud",
            "How far it reaches into the room: skirting board, radiator, panel.",
        )
        yield self.make("low", "From height", "Floor to its lower edge: 0 for a skirting board.")
        yield self.make("high", "To height", "Floor to its upper edge.")

    @property
    def entry(self) -> WallOffset:
        """What stands proud."""
        wall = Wall(self.query_one("#on", Choice).value)
        return WallOffset(wall, self.mm("proud"), self.mm("low"), self.mm("high"))

    def put(self, entry: WallOffset) -> None:
        """Show what stands proud."""
        self.query_one("#on", Choice).value = entry.wall
        self.length("proud").put(entry.proud_mm)
        self.length("low").put(entry.from_height_mm)
        self.length("high").put(entry.to_height_mm)


class ZoneForm(FittingForm[KeepClear]):
    """Floor to be kept clear: a name, and a rectangle along the walls."""

    def compose(self) -> ComposeResult:
        """The name and four lengths."""
        yield TextInput("Name", hint="Such as hearth, door swing, walkway.", id="zone")
        for side in ("left", "front"):
            yield self.make(f"{side}-near", f"From {side}", f"From the {side} to its nearer edge.")
            yield self.make(f"{side}-far", "  up to", f"From the {side} to its farther edge.")

    @property
    def entry(self) -> KeepClear:
        """The zone."""
        name = self.query_one("#zone", TextInput).value or ""
        return KeepClear.rectangle(name, self._edges("left"), self._edges("front"))

    def put(self, entry: KeepClear) -> None:
        """Show a zone, or the rectangle round it."""
        self.query_one("#zone", TextInput).put(entry.name)
        for side, (near, far) in zip(("left", "front"), span(entry), strict=True):
            self.length(f"{side}-near").put(near)
            self.length(f"{side}-far").put(far)

    def _edges(self, side: str) -> tuple[float, float]:
        near, far = self.mm(f"{side}-near"), self.mm(f"{side}-far")
        if near == far:
            both = format_length(near, self.units)
            raise BadInput(f"both edges are {both} from the {side}; give two that differ")
        return near, far
