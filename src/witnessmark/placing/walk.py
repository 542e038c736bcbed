"""The order in which the shots are taken: round one cabinet, then across to the other."""

from __future__ import annotations

from witnessmark.model import AimedAt, Edge, Held, Setup, ShotKind, Side


def walk(setup: Setup, side: Side) -> tuple[ShotKind, ...]:
    """The shots that fix one cabinet, in walking order.

    Two shots from one face fix the toe-in, and the faces to the front wall and to the own side wall
    each give one coordinate. The left cabinet is walked from its outer side round the rear to the
    inside, the right one the other way, so that the walk goes straight on from one to the other.
    """
    own = AimedAt(side.value)
    round_the_left = (
        ("front-outer", own),
        ("rear-outer", own),
        ("rear-outer", AimedAt.FRONT),
        ("rear-inner", AimedAt.FRONT),
    )
    order = round_the_left if side is Side.LEFT else round_the_left[::-1]
    return tuple(ShotKind(side, point, to, setup.held) for point, to in order)


def shot_words(kind: ShotKind) -> str:
    """A shot in words: from where to where."""
    to = {AimedAt.SEAT: "the seat mark", AimedAt.CABINET: "the other cabinet"}.get(
        kind.to, f"{kind.to} wall"
    )
    return f"{kind.point} to {to}"


_EDGES = {
    Edge.REAR: "the meter's rear edge",
    Edge.FRONT: "the meter's front edge",
    Edge.THREAD: "the meter's thread",
    Edge.OTHER: "your end piece",
}


def edge_words(edge: Edge) -> str:
    """The part of the meter that is held, in words."""
    return _EDGES[edge]


def how_to_hold(kind: ShotKind, edge: Edge = Edge.REAR) -> str:
    """Which part of the meter is held where for a shot, as an instruction."""
    held = f"hold {edge_words(edge)}"
    if kind.held is Held.WALL:
        return f"{held} at {kind.point}, square to the {kind.to} wall"
    if kind.held is Held.CABINET:
        face, way = _face(kind)
        # a rear lies flat on the face; other edges are beside the beam and can only be level
        lies = "level with" if edge in (Edge.FRONT, Edge.THREAD) else "flush on"
        return f"{held} {lies} the {face} at {kind.point}, firing {way}"
    if kind.held is Held.SPOT:
        return f"{held} on the {kind.to} wall, read to the dot on the back wall"
    mark = "the seat mark" if kind.to is AimedAt.SEAT else f"{kind.point} of the other cabinet"
    return f"{held} at {kind.point}, straight to {mark}"


def _face(kind: ShotKind) -> tuple[str, str]:
    """The face of the cabinet that the meter is held on, and the way it fires."""
    if kind.to is AimedAt.FRONT:
        return "rear face", "back"
    if kind.to is AimedAt.BACK:
        return "baffle", "ahead"
    own = kind.to.value == kind.cabinet.value
    return ("outer side", "out") if own else ("inner side", "in")
