"""Whether the pair stand alike as they are: what would settle it, and where either would match."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from witnessmark.errors import TooFewShots
from witnessmark.geometry.verdict import Verdict, verdict
from witnessmark.layout.mirror import image_of
from witnessmark.locate.blunders import explain
from witnessmark.locate.pose import Fitting, Located, predict
from witnessmark.locate.sightlines import possible_shots
from witnessmark.locate.symmetry import Symmetry, symmetry
from witnessmark.model import (
    OF_PAIR,
    Pair,
    Placement,
    Quantity,
    Setup,
    Shot,
    ShotKind,
    Side,
    Wall,
)

_WORTH_WHILE = 0.97
"""Largest part of an uncertainty that one more shot may leave of it to be asked for."""


class SettlingShot(msgspec.Struct, frozen=True):
    """The one more shot that tells most of whether left and right match.

    ``expanded`` is the expanded uncertainty (k = 2) of the ``quantity`` in doubt once it is taken;
    it ``settles`` that quantity where the difference stays as it is.
    """

    kind: ShotKind
    quantity: Quantity
    expanded: float
    settles: bool


def is_as_they_stand(setup: Setup) -> bool:
    """Return whether the pair are compared as they stand, and not both brought to targets."""
    return None in setup.targets and setup.restoring is None


def settling_shot(setup: Setup, shots: Sequence[Shot]) -> SettlingShot | None:
    """Return the shot that tells most of whether a pair match of which that is not known yet.

    None where it is known, or where no single shot tells anything worth the while.

    Args:
        setup: room, cabinets, meter, tolerance and mirror line.
        shots: all of both cabinets as they stand now.
    """
    try:
        located = explain(setup, shots).located
    except TooFewShots:
        return None
    if len(located.placements) < len(Side) or not located.settled:
        return None
    pair = symmetry(setup, located)
    unsure = [one for one in OF_PAIR if pair.verdict.get(one) is Verdict.UNSURE]
    if not unsure:
        return None
    worst = max(unsure, key=lambda one: one.of(pair.expanded) / one.tolerance(setup))
    left = {
        kind: known
        for kind in _that_can_be_taken(setup, shots, located)
        if (known := _expanded_with(setup, shots, located, kind, worst)) is not None
    }
    best = min(left, key=lambda kind: left[kind], default=None)
    if best is None or left[best] > _WORTH_WHILE * worst.of(pair.expanded):
        return None
    then = verdict(worst.of(pair.error), left[best], worst.tolerance(setup))
    return SettlingShot(best, worst, left[best], then is not Verdict.UNSURE)


def _that_can_be_taken(
    setup: Setup, shots: Sequence[Shot], located: Located
) -> tuple[ShotKind, ...]:
    """The shots that were taken, and all that can be taken to the near walls, each once."""
    near = [
        kind
        for side in Side
        for kind in possible_shots(
            setup, side, located.placements, (setup.held,), (Wall.FRONT, Wall.beside(side))
        )
    ]
    return tuple(dict.fromkeys((*(shot.kind for shot in shots), *near)))


def _expanded_with(
    setup: Setup, shots: Sequence[Shot], located: Located, kind: ShotKind, quantity: Quantity
) -> float | None:
    """How well the difference in a quantity is known with one more shot; None where it is not."""
    standing = located.placements
    more = (*shots, Shot(kind, predict(setup, standing, kind)))
    try:
        then = Fitting.of(setup, more, standing).where_likely()
    except (ArithmeticError, TooFewShots):
        return None
    return quantity.of(symmetry(setup, then).expanded)


def targets_to_match(
    setup: Setup, measured: Pair[Placement | None], side: Side
) -> Pair[Placement | None]:
    """Return the targets that bring one cabinet to the mirror image of the other.

    The other stays as it stands, and so has none.

    Args:
        setup: room, seat and mirror line.
        measured: where both stand; nothing can be matched to a cabinet that is not measured.
        side: the cabinet that is to be moved.
    """
    other = measured[side.other]
    nobody: Pair[Placement | None] = Pair(None, None)
    if other is None:
        return nobody
    return nobody.replacing(side, image_of(setup, side, other))


def differences(pair: Symmetry, *verdicts: Verdict) -> tuple[Quantity, ...]:
    """Return the quantities of which one of these verdicts is given, as they are listed."""
    order = (*OF_PAIR, Quantity.TILT)
    return tuple(one for one in order if pair.verdict.get(one) in verdicts)
