"""How the meter is held for a shot, as an instruction and in the large characters."""

from __future__ import annotations

from witnessmark.model import STRAIGHTEDGE_POINTS, AimedAt, Edge, Held, ShotKind

_EDGES = {
    Edge.REAR: "the meter's rear edge",
    Edge.FRONT: "the meter's front edge",
    Edge.THREAD: "the meter's thread",
    Edge.OTHER: "your end piece",
}

_HELD = {
    Held.WALL: "held square to the wall",
    Held.CABINET: "flush on the cabinet",
    Held.POINT: "straight",
    Held.SPOT: "by the dot on the back wall",
}
_ARROWS = {
    AimedAt.FRONT: "↑",
    AimedAt.BACK: "↓",
    AimedAt.LEFT: "←",
    AimedAt.RIGHT: "→",
    AimedAt.SEAT: "↓",
    AimedAt.CABINET: "↔",
}
"""Ways in plan, with the front wall at the top."""


def arrow_to(to: AimedAt) -> str:
    """Return the arrow from a cabinet to what a shot goes to."""
    return _ARROWS[to]


def arrow_of(kind: ShotKind) -> str:
    """Return the arrow along which the beam of a shot runs."""
    return _ARROWS[AimedAt.BACK if kind.held is Held.SPOT else kind.to]


def read_at(kind: ShotKind) -> str:
    """Return the name of what a reading is taken of: the touch point, or the dot of its beam."""
    return f"spot of {kind.point}" if kind.held is Held.SPOT else kind.point


def held_words(held: Held) -> str:
    """Return how a shot was held, in a few words for a list of shots."""
    return _HELD[held]


def edge_words(edge: Edge) -> str:
    """Return the part of the meter that is held, in words."""
    return _EDGES[edge]


def how_to_hold(kind: ShotKind, edge: Edge = Edge.REAR) -> str:
    """Return which part of the meter is held where for a shot, as an instruction."""
    held = f"hold {edge_words(edge)}"
    # a rear lies flat on a face; other edges are beside the beam and can only be level
    lies = "even with" if edge in (Edge.FRONT, Edge.THREAD) else "flush on"
    if kind.point in STRAIGHTEDGE_POINTS:
        return f"hold a straightedge across the baffle, centred; {_at_its_end(kind, held, lies)}"
    if kind.held is Held.WALL:
        return f"{held} at {kind.point}, square to the {kind.to} wall"
    if kind.held is Held.CABINET:
        face, way = _face(kind)
        return f"{held} {lies} the {face} at {kind.point}, firing {way}"
    if kind.held is Held.SPOT:
        return (
            f"{held} {lies} the baffle at {kind.point} and fire ahead; mark the dot on the back "
            f"wall; measure square to it from the {kind.to} wall"
        )
    mark = "the seat mark" if kind.to is AimedAt.SEAT else f"{kind.point} of the other cabinet"
    return f"{held} at {kind.point}, straight to {mark}"


def held_figure(kind: ShotKind, edge: Edge = Edge.REAR) -> str:
    """Return how the meter is held for a shot, short enough for the large characters at 80 columns.

    Made of the same characters as ``Headline.figure``. Which edge of the meter is held is left to
    ``how_to_hold``: it is the same all evening.
    """
    on = "BY" if edge in (Edge.FRONT, Edge.THREAD) else "ON"
    if kind.point in STRAIGHTEDGE_POINTS:
        return f"{on} STRAIGHTEDGE"
    if kind.held is Held.WALL:
        return "SQUARE TO WALL"
    if kind.held is Held.CABINET:
        return f"{on} {_face(kind)[0].upper()}"
    if kind.held is Held.SPOT:
        return "THEN WALL TO DOT"
    return "TO SEAT MARK" if kind.to is AimedAt.SEAT else "TO OTHER CABINET"


def _at_its_end(kind: ShotKind, held: str, lies: str) -> str:
    """What follows once a straightedge lies on the baffle; the ends of its back are measured."""
    end = f"its {kind.point.removeprefix('straightedge-')} end"
    if kind.held is Held.WALL:
        return f"{held} at the back of {end}, square to the {kind.to} wall"
    return f"{held} {lies} the back of {end}, firing back past the cabinet"


def _face(kind: ShotKind) -> tuple[str, str]:
    """The face of the cabinet that the meter is held on, and the way it fires."""
    if kind.to is AimedAt.FRONT:
        return "rear face", "back"
    if kind.to is AimedAt.BACK:
        return "baffle", "ahead"
    own = kind.to.value == kind.cabinet.value
    return ("outer side", "out") if own else ("inner side", "in")
