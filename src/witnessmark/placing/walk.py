"""The order in which the shots are taken: round one cabinet, then across to the other."""

from __future__ import annotations

from witnessmark.model import AimedAt, Held, Setup, ShotKind, Side


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


def how_to_hold(kind: ShotKind) -> str:
    """How the meter is held for a shot, as an instruction."""
    if kind.held is Held.WALL:
        return f"square to the {kind.to} wall, at the {kind.point} corner"
    if kind.held is Held.CABINET:
        return f"flush on the {_face(kind)} at the {kind.point} corner"
    if kind.held is Held.SPOT:
        return f"dot on the back wall, measured from the {kind.to} wall"
    mark = "the seat mark" if kind.to is AimedAt.SEAT else f"{kind.point} of the other cabinet"
    return f"straight from {kind.point} to {mark}"


def _face(kind: ShotKind) -> str:
    if kind.to is AimedAt.FRONT:
        return "rear face, firing backward"
    if kind.to is AimedAt.BACK:
        return "baffle, firing forward"
    own = kind.to.value == kind.cabinet.value
    return "outer side, firing outward" if own else "inner side, firing inward"
