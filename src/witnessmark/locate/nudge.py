"""The move that brings a cabinet from where it stands onto its target.

Hands push along walls, one thing at a time, and each push leaves the other tape as it was:

* toward a side wall is along the front wall, at the same setback;
* toward the seat or the front wall is along the cabinet's own side wall, at the same distance;
* a turn is about the middle of the baffle's lower front edge, or about the foot that is held.

In a square room a push is as long as the change of its tape. Out of square it is longer by the
cosine of the corner's error, and the words say along which wall.
"""

from __future__ import annotations

import math

import msgspec

from witnessmark.geometry.frame import side_frame
from witnessmark.geometry.verdict import Verdict
from witnessmark.lengths import Units, format_length
from witnessmark.model import OF_CABINET, OneCabinet, Placement, Quantity, Room, Setup, Side, Wall

_ASTRAY_MM = 0.05
"""Sideways error, mm, from which the words of a push say along which wall; below it no one sees."""
HANDS_MM = 1.0
"""Least that hands can move a heavy floorstander as they mean to; common practice, no source."""
HOLD_SHARE = 0.2
"""Part of the farthest foot's move below which a foot may as well be held in place."""


class FootMove(msgspec.Struct, frozen=True):
    """How far one foot goes: positive inward from the side wall, positive from the front wall."""

    side_mm: float
    setback_mm: float

    @property
    def distance_mm(self) -> float:
        """How far it goes in all."""
        return math.hypot(self.side_mm, self.setback_mm)


class Nudge(msgspec.Struct, frozen=True):
    """The whole correction: ``move`` is target minus measured."""

    move: Placement
    words: list[str]
    """One instruction for each quantity that is not ``in``, the one that matters most first; the
    turn alone where one about a foot to hold does it all."""
    feet: dict[str, FootMove]
    hold: str | None
    """The foot to hold while the cabinet is turned about it, where that does nearly all."""
    largest_mm: float
    """How far the largest of the pushes and turns that the words ask for moves a foot."""

    @property
    def is_less_than_hands_can(self) -> bool:
        """Whether all of it is less than hands can do as they mean to."""
        return self.largest_mm < HANDS_MM


def nudge(cabinet: OneCabinet, measured: Placement, verdicts: dict[Quantity, Verdict]) -> Nudge:
    """Return the move from ``measured`` to the target of a cabinet that has one.

    Args:
        cabinet: which one, of which setup.
        measured: where it stands.
        verdicts: of each quantity; what is ``in`` gets no words.
    """
    target = cabinet.target
    assert target is not None  # noqa: S101 - guarded by every caller; a nudge needs a target
    move = target.minus(measured)
    feet = _feet(cabinet, measured, target)
    hold = _foot_to_hold(cabinet.setup, feet, move)
    turned = msgspec.structs.replace(measured, toe_in_deg=target.toe_in_deg)
    by_hand = {
        Quantity.SIDE: abs(move.side_mm),
        Quantity.SETBACK: abs(move.setback_mm),
        Quantity.TOE_IN: farthest_move_mm(cabinet, measured, turned),
    }
    asked = [by_hand[one] for one in OF_CABINET if verdicts[one] is not Verdict.IN]
    return Nudge(move, _words(cabinet, move, verdicts, hold), feet, hold, max(asked, default=0.0))


def farthest_move_mm(cabinet: OneCabinet, start: Placement, end: Placement) -> float:
    """Return how far the foot goes that goes farthest between two placements."""
    return max(foot.distance_mm for foot in _feet(cabinet, start, end).values())


def _feet(cabinet: OneCabinet, measured: Placement, target: Placement) -> dict[str, FootMove]:
    frame = side_frame(cabinet.setup.room, cabinet.side)
    moves = {}
    for name, foot in cabinet.body.standing_points.items():
        now = frame.tape_distances(frame.point(measured, foot))
        then = frame.tape_distances(frame.point(target, foot))
        moves[name] = FootMove(then[0] - now[0], then[1] - now[1])
    return moves


def _foot_to_hold(setup: Setup, feet: dict[str, FootMove], move: Placement) -> str | None:
    """The foot about which the correction is close to a turn, if there is one."""
    if abs(move.toe_in_deg) <= setup.tolerance.toe_in_deg:
        return None
    still = min(feet, key=lambda name: feet[name].distance_mm)
    farthest = max(foot.distance_mm for foot in feet.values())
    near = min(HOLD_SHARE * farthest, setup.tolerance.position_mm)
    return still if feet[still].distance_mm <= near else None


def _words(
    cabinet: OneCabinet, move: Placement, verdicts: dict[Quantity, Verdict], hold: str | None
) -> list[str]:
    pushed = push_words(cabinet, move.side_mm, move.setback_mm)
    texts = zip(OF_CABINET, (*pushed, toe_in_words(move.toe_in_deg)), strict=True)
    said = [(abs(one.of(move)) / one.tolerance(cabinet.setup), one, text) for one, text in texts]
    words = [text for _, one, text in sorted(said, reverse=True) if verdicts[one] != Verdict.IN]
    if hold and words:
        # the turn about that foot is the whole correction: what followed would do it twice
        return [f"hold the {hold} foot and {toe_in_words(move.toe_in_deg)} about it"]
    return words


def pushes(room: Room, side: Side, side_mm: float, setback_mm: float) -> tuple[float, float]:
    """Return how far hands push for a change of both tapes: along the front and the side wall."""
    frame = side_frame(room, side)
    return frame.per_side * side_mm, math.hypot(1.0, frame.per_setback) * setback_mm


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
