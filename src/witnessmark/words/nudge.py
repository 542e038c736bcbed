"""The move that brings a cabinet onto its target, in words: pushes along walls, and a turn."""

from __future__ import annotations

from witnessmark.geometry.frame import side_frame
from witnessmark.lengths import Units, format_expanded, format_length, format_small
from witnessmark.locate.nudge import FootMove, Nudge, pushes
from witnessmark.model import OF_CABINET, OneCabinet, Side, Wall

_ASTRAY_MM = 0.05
"""Sideways error, mm, from which the words of a push say along which wall; below it no one sees."""


def nudge_words(cabinet: OneCabinet, nudge: Nudge) -> list[str]:
    """Return an instruction for each quantity that is asked for, the weightiest first.

    Where a turn about one foot is nearly the whole correction it stands alone: what followed would
    do it twice.
    """
    move = nudge.move
    if nudge.hold and nudge.asked:
        return [f"hold the {nudge.hold} foot and {toe_in_words(move.toe_in_deg)} about it"]
    pushed = push_words(cabinet, move.side_mm, move.setback_mm)
    by_quantity = dict(zip(OF_CABINET, (*pushed, toe_in_words(move.toe_in_deg)), strict=True))
    return [by_quantity[quantity] for quantity in nudge.asked]


def foot_words(cabinet: OneCabinet, name: str, foot: FootMove) -> str:
    """Return how one foot moves, in words."""
    pushed = push_words(cabinet, foot.side_mm, foot.setback_mm)
    return f"{name} foot: {', '.join(pushed)}"


def push_words(cabinet: OneCabinet, side_mm: float, setback_mm: float) -> tuple[str, str]:
    """Return the push along the front wall and the one along the own side wall, in words.

    Args:
        cabinet: which one; the room of its setup says along which way the pushes go.
        side_mm: how much its tape from the own side wall is to grow.
        setback_mm: how much its tape from the front wall is to grow.
    """
    setup, side, room = cabinet.setup, cabinet.side, cabinet.setup.room
    askew = abs(side_frame(room, side).per_setback)
    along_front, along_side = pushes(room, side, side_mm, setback_mm)
    sideways = side_words(side, along_front, setup.units)
    in_or_out = setback_words(along_side, setup.units)
    if askew * abs(along_front) >= _ASTRAY_MM:
        sideways += f" along the {room.side_name(Wall.FRONT)}"
    if askew * abs(along_side) >= _ASTRAY_MM:
        in_or_out += f" along the {room.side_name(Wall.beside(side))}"
    return sideways, in_or_out


def nudge_length(move_mm: float, units: Units) -> str:
    """Return how far to nudge, unsigned: to the tenth where hands can follow it, below 10 mm."""
    # inches stay as they are: hands do not follow a step of 1/32 in better than one of 1/16
    fine = Units.TENTH_MM if units is Units.MM and abs(move_mm) < 9.95 else units
    return format_length(abs(move_mm), fine)


def difference_length(mm: float, units: Units) -> str:
    """Return how far two places differ, unsigned, as fine as it is measured."""
    return nudge_length(mm, units) if units.is_metric else format_small(abs(mm), units)


def expanded_length(expanded_mm: float, units: Units) -> str:
    """Return the expanded uncertainty of a difference or a place, as fine as those are told."""
    if units.is_metric:
        return nudge_length(expanded_mm, units)
    return format_expanded(expanded_mm, units)


def side_words(side: Side, move_mm: float, units: Units) -> str:
    """Return a push along the front wall in words; ``move_mm`` positive inward."""
    toward = side.other if move_mm > 0 else side
    return f"{nudge_length(move_mm, units)} toward the {toward} wall"


def setback_words(move_mm: float, units: Units) -> str:
    """Return a push along the side wall in words; ``move_mm`` positive into the room."""
    toward = "seat" if move_mm > 0 else "front wall"
    return f"{nudge_length(move_mm, units)} toward the {toward}"


def toe_in_words(move_deg: float) -> str:
    """Return a turn in words; ``move_deg`` is positive toward the other cabinet."""
    return f"turn {'in' if move_deg > 0 else 'out'} {abs(move_deg):.2f}°"
