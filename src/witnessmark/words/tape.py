"""A tape at a cabinet in words: how a reading is taken, and what the readings still need."""

from __future__ import annotations

from witnessmark.geometry.touch import Face
from witnessmark.lengths import Units, format_length

TWO_FIX_IT = "Two readings fix the point, a third one checks them."

_ALONG = {Face.INNER: "front-inner", Face.OUTER: "front-outer"}
_BOARDS = {
    Face.BAFFLE: ("flat on the baffle", "back", "in front of the baffle"),
    Face.REAR: ("flat on the rear face", "forward", "behind the rear face"),
    Face.INNER: ("along the inner side", "across", "out past that side"),
    Face.OUTER: ("along the outer side", "across", "out past that side"),
}


def how_to_tape(name: str, start: str, *, may_taper: bool) -> str:
    """Return how a reading from there to the point of this name is taken.

    A board along a side that may taper is held square to the baffle.
    """
    if start not in tuple(Face):
        return f"Lay the tape along the floor, straight from {start} to {name}."
    face = Face(start)
    board, way, beyond = _BOARDS[face]
    if may_taper and face in _ALONG:
        board = f"square to the baffle at {_ALONG[face]}"
    return (
        f"Hold a board {board}, so that it reaches past the edge, and measure from it straight "
        f"{way} to {name}. For a point {beyond} type a minus."
    )


def one_more_words(start: str, which: str, width_mm: float, units: Units) -> str:
    """Return from where one more reading is worth its while, and which figure it would fix."""
    return f"One more, from the {start}, would fix {which} to ±{format_length(width_mm, units)}."
