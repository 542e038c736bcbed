"""Poses from shots of which one may be wrong by far.

A slip of the decimal point or of the unit bends the adjustment so much that its residuals no longer
tell which shot it was, or that it finds no pose at all. Then each shot is left out in turn: the one
without which all the others agree is the wrong one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from witnessmark.errors import TooFewShots
from witnessmark.geometry.adjust import CRITICAL_STANDARDISED_RESIDUAL
from witnessmark.geometry.frame import side_frame
from witnessmark.geometry.pose import Located, locate, predict
from witnessmark.geometry.snoop import ShotCheck, check_shots, likely_cause
from witnessmark.model import Placement, Setup, Shot, Side
from witnessmark.placing.walk import shot_words

GROSS_MM = 100.0
"""An error beyond this is no longer small against a cabinet, and its residual misleads."""
MOST_TOE_IN_DEG = 60.0
"""No cabinet is turned farther; a pose that is comes from a shot that is wrong."""
MOST_TRIED = 100
"""Shots that are left out in turn; among more, one wrong one bends nothing."""

Sifted = tuple[Located, list[ShotCheck]]


def sift(setup: Setup, shots: Sequence[Shot]) -> Sifted:
    """The poses that fit the shots, without the one that is wrong by far, and a check of each shot.

    Raises:
        TooFewShots: naming the shots that are missing, or that contradict one another so much that
            no pose fits.
        BadInput: when a shot's point or aim does not exist.
    """
    try:
        located = locate(setup, shots)
        checks = check_shots(setup, list(shots), located)
    except (TooFewShots, ArithmeticError) as failure:
        return _around_the_wrong_one(setup, shots, failure)
    if any(check.suspect and _is_gross(check) for check in checks):
        without = list(_without_each(setup, shots))
        return without[0] if len(without) == 1 else (located, checks)
    return located, checks


def _is_gross(check: ShotCheck) -> bool:
    return abs(check.residual_mm) > GROSS_MM * check.redundancy


def _around_the_wrong_one(setup: Setup, shots: Sequence[Shot], failure: Exception) -> Sifted:
    if not _would_fix_if_right(setup, shots):
        raise TooFewShots(str(failure)) from None
    without = list(_without_each(setup, shots))
    if len(without) == 1:
        return without[0]
    doubtful = [check.shot for _, checks in without for check in checks if check.suspect]
    names = ", ".join(f"{shot.kind.cabinet} {shot_words(shot.kind)}" for shot in doubtful or shots)
    raise TooFewShots(f"missing shots that agree: these contradict one another, repeat {names}")


def _without_each(setup: Setup, shots: Sequence[Shot]) -> Iterator[Sifted]:
    """Poses and checks for every shot without which all the others agree."""
    for place, shot in enumerate(shots[:MOST_TRIED]):
        others = [*shots[:place], *shots[place + 1 :]]
        try:
            located = locate(setup, others)
        except (TooFewShots, ArithmeticError):
            continue
        agree = abs(located.adjustment.standardised).max() <= CRITICAL_STANDARDISED_RESIDUAL
        if agree and all(_could_stand(setup, *placed) for placed in located.placements.items()):
            checks = check_shots(setup, others, located)
            yield located, [*checks[:place], _left_out(setup, located, shot), *checks[place:]]


def _could_stand(setup: Setup, side: Side, placement: Placement) -> bool:
    frame = side_frame(setup.room, side)
    reference = frame.reference(placement)
    inside = all(wall.distance_mm(reference) > 0 for wall in frame.walls.values())
    return inside and abs(placement.toe_in_deg) <= MOST_TOE_IN_DEG


def _left_out(setup: Setup, located: Located, shot: Shot) -> ShotCheck:
    expected = predict(setup, located.placements, shot.kind) + located.zero_mm
    residual = expected - shot.reading_mm
    return ShotCheck(
        shot=shot,
        residual_mm=residual,
        standardised=residual / setup.meter.shot_sigma_mm,
        redundancy=1.0,  # all of its error shows, because nothing was fitted to it
        suspect=True,
        cause=likely_cause(setup, located.placements, shot, expected),
    )


def _would_fix_if_right(setup: Setup, shots: Sequence[Shot]) -> bool:
    """Whether shots of these kinds fix a pose when none of them is wrong."""
    likely = Placement(setup.room.width_mm / 4, setup.seat.from_front_mm / 2, 5.0)
    standing = dict.fromkeys(Side, likely)
    try:
        locate(
            setup,
            [Shot(shot.kind, predict(setup, standing, shot.kind)) for shot in shots],
            start=standing,
        )
    except (TooFewShots, ArithmeticError):
        return False
    return True
