"""The form for a distance of a survey: from where to where, and how the meter is held."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final, NamedTuple

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
from witnessmark.model import Corner, Wall
from witnessmark.session.surveying import MeasureAnswers, MeasureKind


class _Parts(NamedTuple):
    """A kind in words, and the labels of what has to be told of it; what has none is not shown."""

    words: str
    hint: str
    wall: str = ""
    corner: str = ""
    at: str = ""
    at_hint: str = ""


_PARTS: Final = {
    MeasureKind.SIDE: _Parts("a whole side", "From corner to corner.", wall="Side"),
    MeasureKind.DIAGONAL: _Parts(
        "a diagonal", "From a corner to the one across.", corner="From corner"
    ),
    MeasureKind.WIDTH: _Parts(
        "a width",
        "From side to side, between two marks equally far from the front.",
        at="Marks at",
        at_hint="Distance along the left and right sides, from their front corners.",
    ),
    MeasureKind.LENGTH: _Parts(
        "a length",
        "From front to back, between two marks equally far from the left.",
        at="Marks at",
        at_hint="Distance along the front and back, from their left corners.",
    ),
    MeasureKind.SHORTEST: _Parts(
        "the shortest distance",
        "From a mark square to a side: the shortest distance.",
        wall="To the side",
        corner="Mark: from corner",
        at="so far",
        at_hint="From that corner to the mark; 0 is the corner itself.",
    ),
    MeasureKind.FLUSH: _Parts(
        "flush, across",
        "Hold the meter's back flat on a wall, so the beam goes square to the other side.",
        wall="Back on wall",
        corner="From its corner",
        at="so far",
        at_hint="From that corner to the meter.",
    ),
}


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
        case MeasureKind.DIAGONAL:
            return _options(Wall.FRONT.ends)
        case MeasureKind.FLUSH:
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
    ChoiceRow(
        "along", "along the side", options=_sides, shown_if=when("kind", MeasureKind.SHORTEST)
    ),
    LengthRow("at_mm", _part("at"), hint=_part("at_hint"), shown_if=_has("at")),
)
