"""Which distance of a survey is taken: from where to where, and how the meter is held."""

from __future__ import annotations

import enum
from typing import TYPE_CHECKING, Final, NamedTuple

from textual import on
from textual.containers import Vertical
from textual.message import Message

from witnessmark.app.forms.choice import Choice
from witnessmark.app.forms.field import Field
from witnessmark.app.forms.numbers import LengthInput
from witnessmark.errors import BadInput
from witnessmark.model import Corner, FloorMark, Flush, Measure, Shortest, Wall
from witnessmark.model.survey import diagonal, length_at, wall_length, width_at
from witnessmark.survey.names import corners_between, side_measured

if TYPE_CHECKING:
    from collections.abc import Iterable

    from textual.app import ComposeResult

    from witnessmark.lengths import Units


class Kind(enum.StrEnum):
    """The kinds of distance that are offered."""

    SIDE = "side"
    DIAGONAL = "diagonal"
    WIDTH = "width"
    LENGTH = "length"
    SHORTEST = "shortest"
    FLUSH = "flush"

    @classmethod
    def of(cls, measure: Measure) -> Kind:
        """The kind of a distance."""
        if isinstance(measure, Flush):
            return cls.FLUSH
        if isinstance(measure, Shortest):
            return cls.SHORTEST
        if corners_between(measure) is not None:
            return cls.SIDE if side_measured(measure) else cls.DIAGONAL
        return cls.WIDTH if measure.start.along is Wall.LEFT else cls.LENGTH


class _Parts(NamedTuple):
    """A kind in words, and the labels of what has to be told of it; what has none is not shown."""

    words: str
    hint: str
    wall: str = ""
    corner: str = ""
    at: str = ""
    at_hint: str = ""


_PARTS: Final = {
    Kind.SIDE: _Parts("a whole side", "From corner to corner.", wall="Side"),
    Kind.DIAGONAL: _Parts("a diagonal", "From a corner to the one across.", corner="From corner"),
    Kind.WIDTH: _Parts(
        "a width",
        "From side to side, between two marks as far from the front.",
        at="Marks at",
        at_hint="So far along the left and the right side, from their front corners.",
    ),
    Kind.LENGTH: _Parts(
        "a length",
        "From front to back, between two marks as far from the left.",
        at="Marks at",
        at_hint="So far along the front and the back, from their left corners.",
    ),
    Kind.SHORTEST: _Parts(
        "the shortest way",
        "From a mark to a side: the shortest way is the one square to it.",
        wall="To the side",
        corner="Mark: from corner",
        at="so far",
        at_hint="From that corner to the mark; 0 is the corner itself.",
    ),
    Kind.FLUSH: _Parts(
        "flush, across",
        "The meter's back flat on a wall, so that the beam goes square off it, to the other side.",
        wall="Back on wall",
        corner="From its corner",
        at="so far",
        at_hint="From that corner to the meter.",
    ),
}


class MeasureForm(Vertical):
    """A kind of distance, and what tells it from others of its kind."""

    DEFAULT_CSS = """
    MeasureForm { height: auto; }
    """

    class Changed(Message):
        """The person chose another distance."""

    def __init__(self, units: Units) -> None:
        """No distance is chosen at first."""
        super().__init__(id="measure")
        self.units = units

    def compose(self) -> ComposeResult:
        """The kind, then all that any kind may need."""
        kinds = [(kind, parts.words) for kind, parts in _PARTS.items()]
        yield Choice("Distance", kinds, "", id="kind")
        yield Choice("Side", _options(Wall), Wall.FRONT, id="wall")
        yield Choice("From corner", _options(Corner), Corner.FRONT_LEFT, id="corner")
        yield Choice("along the side", [], "", id="along")
        yield LengthInput("Marks at", units=self.units, id="at")

    def on_mount(self) -> None:
        """Show what belongs to the kind."""
        self._arrange()

    @property
    def measure(self) -> Measure:
        """The distance that is chosen, its reading 0.

        Raises:
            BadInput: when none is, or something of it is missing.
        """
        kind = self._kind
        if kind is None:
            raise BadInput("choose first which distance it is")
        return self._of_kind(kind)

    def _of_kind(self, kind: Kind) -> Measure:
        match kind:
            case Kind.SIDE:
                return wall_length(self._wall, 0.0)
            case Kind.DIAGONAL:
                return diagonal(self._corner, 0.0)
            case Kind.WIDTH:
                return width_at(self._at_mm, 0.0)
            case Kind.LENGTH:
                return length_at(self._at_mm, 0.0)
            case Kind.SHORTEST:
                along = Wall(self._choice("along").value)
                return Shortest(FloorMark(self._corner, along, self._at_mm), self._wall, 0.0)
            case Kind.FLUSH:
                return Flush(FloorMark(self._corner, self._wall, self._at_mm), 0.0)

    def put(self, measure: Measure | None) -> None:
        """Show a distance that is chosen elsewhere; nobody is told."""
        self._choice("kind").value = "" if measure is None else Kind.of(measure)
        if measure is not None:
            wall = _wall_of(measure)
            self._choice("wall").value = wall or Wall.FRONT
            self._choice("corner").value = measure.start.corner
            self._choice("along").value = measure.start.along or ""
            self.query_one("#at", LengthInput).put(measure.start.at_mm)
        self._arrange()

    @on(Choice.Changed)
    @on(Field.Changed)
    def _tell(self, event: Choice.Changed | Field.Changed) -> None:
        event.stop()
        if event.control.id == "kind":
            self.query_one("#at", LengthInput).put(None)
        self._arrange()
        self.post_message(self.Changed())

    def _arrange(self) -> None:
        """Show what the kind needs, by the names that it has there."""
        kind = self._kind
        parts = _PARTS[kind] if kind else _Parts("", "")
        self._choice("kind").hint = parts.hint
        self._label("wall", parts.wall)
        self._label("corner", parts.corner)
        self._label("along", "along the side" if kind is Kind.SHORTEST else "")
        at = self.query_one("#at", LengthInput)
        at.display = bool(parts.at)
        at.ask_for(parts.at, parts.at_hint)
        if kind is Kind.DIAGONAL:
            self._offer("corner", Wall.FRONT.ends)
        elif kind is Kind.FLUSH:
            self._offer("corner", self._wall.ends)
        else:
            self._offer("corner", Corner)
        self._offer("along", self._corner.walls)

    def _label(self, name: str, label: str) -> None:
        choice = self._choice(name)
        choice.label, choice.display = label, bool(label)
        choice.refresh(layout=True)

    def _offer(self, name: str, values: Iterable[Corner | Wall]) -> None:
        """Offer these, and keep to the chosen one if it is among them."""
        choice, options = self._choice(name), _options(values)
        chosen = choice.value if (choice.value, choice.value) in options else options[0][0]
        choice.offer(options, chosen)

    @property
    def _kind(self) -> Kind | None:
        value = self._choice("kind").value
        return Kind(value) if value else None

    @property
    def _wall(self) -> Wall:
        return Wall(self._choice("wall").value)

    @property
    def _corner(self) -> Corner:
        return Corner(self._choice("corner").value)

    @property
    def _at_mm(self) -> float:
        at = self.query_one("#at", LengthInput)
        if at.value is None:
            raise BadInput("tell first how far from the corner")
        return at.value

    def _choice(self, name: str) -> Choice[str]:
        return self.query_one(f"#{name}", Choice)


def _options(values: Iterable[Corner | Wall]) -> list[tuple[str, str]]:
    return [(value.value, value.value) for value in values]


def _wall_of(measure: Measure) -> Wall | None:
    """The side that a distance is of, or goes to, or has the meter's back on it."""
    match measure:
        case Shortest(wall=wall):
            return wall
        case Flush():
            return measure.back
    return side_measured(measure)
