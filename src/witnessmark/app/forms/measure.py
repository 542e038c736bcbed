"""The form for a distance of a survey: from where to where, and how the meter is held."""

from __future__ import annotations

import enum
from collections.abc import Iterable
from typing import Final, NamedTuple

import msgspec

from witnessmark.app.forms.form import Form
from witnessmark.app.forms.row_kinds import (
    ChoiceRow,
    Given,
    LengthRow,
    Options,
    Values,
    given,
    when,
)
from witnessmark.errors import BadInput
from witnessmark.model import Corner, FloorMark, Flush, Measure, Shortest, Wall
from witnessmark.model.survey import diagonal, length_at, wall_length, width_at
from witnessmark.survey.names import corners_between, side_measured


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


class MeasureAnswers(msgspec.Struct, frozen=True):
    """What tells a distance from others of its kind; without a kind none is chosen."""

    kind: Kind | None = None
    wall: Wall = Wall.FRONT
    corner: Corner = Corner.FRONT_LEFT
    along: Wall | None = None
    at_mm: float | None = None

    @classmethod
    def of(cls, measure: Measure) -> MeasureAnswers:
        """Return the answers that make a distance."""
        start = measure.start
        wall = _wall_of(measure) or Wall.FRONT
        return cls(Kind.of(measure), wall, start.corner, start.along, start.at_mm)

    @property
    def measure(self) -> Measure:
        """The distance, its reading 0.

        Raises:
            BadInput: when none is chosen, or something of it is missing.
        """
        match self.kind:
            case None:
                raise BadInput("choose first which distance it is")
            case Kind.SIDE:
                return wall_length(self.wall, 0.0)
            case Kind.DIAGONAL:
                return diagonal(self.corner, 0.0)
            case Kind.WIDTH:
                return width_at(self._at(), 0.0)
            case Kind.LENGTH:
                return length_at(self._at(), 0.0)
            case Kind.SHORTEST:
                return Shortest(FloorMark(self.corner, self.along, self._at()), self.wall, 0.0)
            case Kind.FLUSH:
                return Flush(FloorMark(self.corner, self.wall, self._at()), 0.0)

    def _at(self) -> float:
        if self.at_mm is None:
            raise BadInput("tell first how far from the corner")
        return self.at_mm


def _wall_of(measure: Measure) -> Wall | None:
    """The side that a distance is of, or goes to, or has the meter's back on it."""
    match measure:
        case Shortest(wall=wall):
            return wall
        case Flush():
            return measure.back
    return side_measured(measure)


def _part(name: str) -> Given[str]:
    """Return what a part is called in the kind that is chosen; empty where it has no such part."""

    def called(values: Values) -> str:
        kind = values["kind"]
        return str(getattr(_PARTS[kind], name)) if kind else ""

    return called


def _has(name: str) -> Given[bool]:
    part = _part(name)
    return lambda values: bool(given(part, values))


def _corners(values: Values) -> Options:
    match values["kind"]:
        case Kind.DIAGONAL:
            return _options(Wall.FRONT.ends)
        case Kind.FLUSH:
            return _options(values["wall"].ends)
    return _options(Corner)


def _sides(values: Values) -> Options:
    return _options(values["corner"].walls)


def _options(values: Iterable[Corner | Wall]) -> list[tuple[Corner | Wall, str]]:
    return [(value, value.value) for value in values]


MEASURE = Form(
    MeasureAnswers,
    ChoiceRow(
        "kind",
        "Distance",
        options=[(kind, parts.words) for kind, parts in _PARTS.items()],
        hint=_part("hint"),
    ),
    ChoiceRow("wall", _part("wall"), options=_options(Wall), shown_if=_has("wall")),
    ChoiceRow("corner", _part("corner"), options=_corners, shown_if=_has("corner")),
    ChoiceRow("along", "along the side", options=_sides, shown_if=when("kind", Kind.SHORTEST)),
    LengthRow("at_mm", _part("at"), hint=_part("at_hint"), shown_if=_has("at")),
)
