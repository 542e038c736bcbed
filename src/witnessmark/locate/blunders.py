"""Which shots are wrong, and where the cabinets stand without them.

An explanation is a pose, with none or a few of the rows of the adjustment left out: shots, or the
prior of the meter's zero or scale. The less it leaves unexplained, its chi-square, the better it is
(Baarda 1968 for one shot). The search goes from explanations that leave nothing out to those that
leave out one row, then more, and stops where one is sound: no shot that is left stands out of the
others. What else of the same size accounts for the shots about as well is a rival. With a single
sound explanation the answer is that one, without the shots that it leaves out. With rivals the
answer covers them all, and nothing is called ``in``; where they are far apart there is no answer,
but a question.

How much leaving out one shot brings is known for all shots at once: by the standardised residual,
and for shots to walls, exactly and however wrong the shot, by a change of rank one of the misfit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import msgspec
import numpy as np

from witnessmark.errors import TooFewShots
from witnessmark.geometry.adjust import (
    CRITICAL_STANDARDISED_RESIDUAL,
    Adjustment,
    FloatArray,
    is_sound,
    suspect_rows,
)
from witnessmark.locate.causes import SizeError, likely_cause, size_errors
from witnessmark.locate.pose import Fitting, Located, badness
from witnessmark.locate.refusals import no_place, refusal, shots_listed
from witnessmark.locate.rivals import TwoAnswers, far_apart, open_turn
from witnessmark.model import Setup, Shot, Side

_BLAMED = CRITICAL_STANDARDISED_RESIDUAL**2
"""Least chi-square that leaving out one row must save."""
_RIVAL = 6.0
"""Chi-square within which another explanation of the same size is as good as the best: 20 to 1."""
_MOST_LEFT_OUT = 3
"""Most rows left out; with more wrong shots the answer is that they contradict each other."""
_PROMISED = 30.0
"""Chi-square by which an estimate of what leaving out a row saves may be wrong, per unit of it
above 1."""
_KEPT = 4
"""Explanations of each size that the next size is built on."""
_TRIED, _TRIED_OF_MANY, _MANY = 16, 4, 100
"""Rows that are left out in turn, the most promising first; fewer where each takes long."""
_GROSS_MM, _GROSS_DEG = 100.0, 10.0
"""Rivals that leave a cabinet more open than this are no answer."""
_CONTRADICT = "the suspect shots contradict one another; repeat them"


class ShotCheck(msgspec.Struct, frozen=True):
    """How one shot fits the others. ``residual_mm`` is adjusted minus read."""

    shot: Shot
    residual_mm: float
    standardised: float
    redundancy: float
    suspect: bool
    cause: str | None
    """What probably happened, in words, for a suspect shot."""
    left_out: bool = False
    """True where the answer does without this shot."""


class Explained(msgspec.Struct, frozen=True):
    """Where the cabinets stand, and how each shot fits that."""

    located: Located
    checks: tuple[ShotCheck, ...]


class Explanation(NamedTuple):
    """Poses that account for the shots but for the rows that are left out."""

    located: Located
    left_out: frozenset[int]
    rows: tuple[int, ...]
    """The rows of the model that were fitted, in the order of the adjustment."""
    badness: float
    size: SizeError | None = None
    """The size that is taken not to be as it was entered."""

    def is_sound(self, readings: int) -> bool:
        """Return whether all that was fitted agrees, in a round of ``readings`` readings."""
        return is_sound(self.located.adjustment, readings)


def explain(setup: Setup, shots: Sequence[Shot]) -> Explained:
    """Return where the cabinets stand by the shots that can be trusted, and a check of every shot.

    Raises:
        TooFewShots: naming the shots that are missing, those that contradict one another so much
            that no pose can be told, or what keeps the shots from being of a pair in this room.
        BadInput: when a shot's point or aim does not exist.
    """
    return _explain(setup, tuple(shots))


# one event asks for the same shots from several sides
@lru_cache(maxsize=64)
def _explain(setup: Setup, shots: tuple[Shot, ...]) -> Explained:
    fitting = Fitting.of(setup, shots)
    best, *rivals = _explanations(fitting)
    if why := refusal(fitting, best.located, best.rows):
        raise TooFewShots(why)
    if (
        not best.left_out
        and best.size is None
        and is_sound(best.located.adjustment, len(fitting.shots))
    ):
        _refuse_two_places(fitting, best, rivals)
    located = _covering(fitting, best, rivals)
    if _is_too_open(best.located, located):
        raise TooFewShots(_contradiction(fitting, [best, *rivals]))
    return Explained(located, _checks(fitting, best, rivals))


def _explanations(fitting: Fitting) -> list[Explanation]:
    """The best explanation and its rivals, none of which leaves out more rows."""
    sets = [frozenset[int]()]
    level = _of_size(fitting, sets)
    least: list[Explanation] = level
    for size in range(_MOST_LEFT_OUT + 1):
        sound = [one for one in level if one.is_sound(len(fitting.shots))]
        if sound:
            return _near_the_best(sound)
        least = level or least
        if size == _MOST_LEFT_OUT:
            break
        sets = _left_out_next(fitting, level, sets)
        level = _of_size(fitting, sets)
        if size == 0:
            level += _with_sizes(fitting, least)
        level.sort(key=lambda one: one.badness)
    if not least:
        raise TooFewShots(no_place(fitting))
    return _near_the_best(least)


def _of_size(fitting: Fitting, sets: Sequence[frozenset[int]]) -> list[Explanation]:
    """Every pose with each of these sets of rows left out, the best first."""
    found = []
    for left_out in sets:
        rows = tuple(row for row in range(len(fitting.observed)) if row not in left_out)
        try:
            solutions = fitting.solutions(left_out)
        except TooFewShots:
            if not left_out:
                raise
            continue
        found += [
            Explanation(one, left_out, rows, badness(fitting.setup, one)) for one in solutions
        ]
    return sorted(found, key=lambda one: one.badness)


def _left_out_next(
    fitting: Fitting, level: Sequence[Explanation], sets: Sequence[frozenset[int]]
) -> list[frozenset[int]]:
    """The sets of rows, one row larger, that promise to explain the shots best.

    They go on from the best of ``level``; where there is none, from ``sets`` themselves.
    """
    begun = [(one.left_out, one.badness, _gains(fitting, one)) for one in level[:_KEPT]]
    if not begun:
        begun = [
            (rows, _least_at_walls(fitting, rows), _gains_at_walls(fitting, rows))
            for rows in sets[:_KEPT]
        ]
    promised: dict[frozenset[int], float] = {}
    for left_out, bad, gain in begun:
        for row in np.flatnonzero(gain > 0).tolist():
            larger = left_out | {row}
            promised[larger] = min(bad - gain[row], promised.get(larger, math.inf))
    ordered = sorted(promised, key=promised.__getitem__)
    # a promise is kept but for what is bent: a rival of the best can be told from it beforehand
    worth = promised[ordered[0]] + _PROMISED * max(1.0, abs(promised[ordered[0]])) if ordered else 0
    tried = _TRIED if len(fitting.shots) <= _MANY else _TRIED_OF_MANY
    return [rows for rows in ordered[:tried] if promised[rows] <= worth]


def _gains(fitting: Fitting, one: Explanation) -> FloatArray:
    """By how much chi-square falls for each row (m,) that is left out besides; 0 or more."""
    gains = np.zeros(len(fitting.observed))
    gains[list(one.rows)] = one.located.adjustment.standardised**2
    return np.maximum(gains, _gains_at_walls(fitting, one.left_out))


def _gains_at_walls(fitting: Fitting, left_out: frozenset[int]) -> FloatArray:
    """Return the same by the shots to walls alone, however wrong one of them is."""
    gains = np.zeros(len(fitting.observed))
    for misfit in fitting.misfits(left_out):
        if misfit is not None:
            without = misfit.least_without_each()
            gains[: len(without)] = np.maximum(gains[: len(without)], without.max() - without)
    gains[list(left_out)] = 0.0
    return gains


def _least_at_walls(fitting: Fitting, left_out: frozenset[int]) -> float:
    """The chi-square of the shots to walls at the best toe-ins, whatever can stand so."""
    misfits = fitting.misfits(left_out)
    return sum(
        least[0].chi_square
        for misfit in misfits
        if misfit is not None and (least := misfit.least())
    )


def _with_sizes(fitting: Fitting, level: Sequence[Explanation]) -> list[Explanation]:
    """Explanations by one size that is not as it was entered, where that promises the most."""
    if not level or level[0].left_out:
        return []
    whole = level[0]
    sizes = list(size_errors(fitting, whole.located))
    gains = [_gain_of_unknown(whole.located.adjustment, size.column) for size in sizes]
    found = []
    for size, gain in zip(sizes, gains, strict=True):
        if gain < max(_BLAMED, max(gains) - 3 * _RIVAL):
            continue
        one = fitting.with_unknown(whole.located, size.column)
        if one is None:
            continue
        error_mm = float(one.adjustment.estimate[-1])
        if abs(error_mm) <= size.most_mm:
            bad = badness(fitting.setup, one)
            sized = size._replace(error_mm=error_mm)
            found.append(Explanation(one, frozenset(), whole.rows, bad, sized))
    return found


def _gain_of_unknown(adjustment: Adjustment, column: FloatArray) -> float:
    """By how much chi-square falls with one more unknown, to first order (Baarda 1968)."""
    weighted = column / adjustment.sigma
    left = weighted - adjustment.basis @ (adjustment.basis.T @ weighted)
    length = float(left @ left)
    return float(weighted @ adjustment.weighted_residuals) ** 2 / length if length > 1e-9 else 0.0


def _near_the_best(level: Sequence[Explanation]) -> list[Explanation]:
    best = level[0]
    adjustment = best.located.adjustment
    # shots that are worse than their stated errors tell rivals apart less well, too
    scale = max(1.0, adjustment.sigma0**2) if adjustment.freedom else 1.0
    return [one for one in level if one.badness <= best.badness + _RIVAL * scale]


def _refuse_two_places(fitting: Fitting, best: Explanation, rivals: Sequence[Explanation]) -> None:
    others = [one.located for one in rivals] or open_turn(fitting, best.located)
    for other in others:
        if far_apart(fitting.setup, best.located, other):
            raise TwoAnswers(fitting.setup, fitting.shots, best.located, other)


def _covering(fitting: Fitting, best: Explanation, rivals: Sequence[Explanation]) -> Located:
    """The best pose, as uncertain as it must be for its intervals to hold those of all rivals."""
    sound = best.is_sound(len(fitting.shots))
    is_settled = sound and not rivals and best.size is None
    located = msgspec.structs.replace(best.located, settled=is_settled)
    sides = list(located.placements)
    sigma = np.sqrt(located.covariance.diagonal())
    # where nothing accounts for the shots, their own misfit is all that is known of their errors
    reach = sigma if sound else sigma * max(1.0, located.adjustment.sigma0)
    for rival in rivals:
        off = np.concatenate(
            [np.abs(_values(rival.located, side) - _values(located, side)) for side in sides]
        )
        reach = np.maximum(reach, off / 2 + np.sqrt(rival.located.covariance.diagonal()))
    wider = reach / sigma
    return msgspec.structs.replace(located, covariance=located.covariance * wider * wider[:, None])


def _values(located: Located, side: Side) -> FloatArray:
    return np.array(msgspec.structs.astuple(located.placements[side]))


def _is_too_open(best: Located, covering: Located) -> bool:
    if covering.settled:
        return False
    for side in best.placements:
        before, after = best.expanded(side), covering.expanded(side)
        grown = max(after.side_mm - before.side_mm, after.setback_mm - before.setback_mm)
        if grown > _GROSS_MM or after.toe_in_deg - before.toe_in_deg > _GROSS_DEG:
            return True
    return False


def _checks(
    fitting: Fitting, best: Explanation, rivals: Sequence[Explanation]
) -> tuple[ShotCheck, ...]:
    adjustment = best.located.adjustment
    place_of = {row: place for place, row in enumerate(best.rows)}
    suspects = _suspects(fitting, best, rivals)
    is_single = best.left_out and not rivals
    checks = []
    for row, shot in enumerate(fitting.shots):
        cause = None
        without = next((one for one in (best, *rivals) if row in one.left_out), None)
        if without is not None:
            residual, sigma = _left_out_residual(fitting, without.located, row)
            standardised = residual / sigma
            redundancy = 1.0  # all of its error shows, because nothing was fitted to it
        else:
            place = place_of[row]
            residual = float(adjustment.residuals[place])
            standardised = float(adjustment.standardised[place])
            redundancy = float(adjustment.redundancy[place])
        if row in suspects:
            if best.size is not None and not rivals:
                cause = best.size.words(fitting.setup.units)
            elif is_single:
                expected = shot.reading_mm + residual
                cause = likely_cause(fitting.setup, best.located.placements, shot, expected)
            else:
                cause = _what_may_be_wrong(fitting, (best, *rivals))
        checks.append(
            ShotCheck(
                shot,
                residual,
                standardised,
                redundancy,
                row in suspects,
                cause,
                left_out=row in best.left_out and not rivals,
            )
        )
    return tuple(checks)


def _left_out_residual(fitting: Fitting, located: Located, row: int) -> tuple[float, float]:
    """What the others say of a row less what it says, and the standard deviation of that, mm."""
    predicted, jacobian = fitting.model(located.adjustment.estimate)
    by_unknowns = jacobian[row]
    # what the others leave open of the prediction counts too
    variance = fitting.sigma[row] ** 2 + by_unknowns @ located.adjustment.covariance @ by_unknowns
    return float(predicted[row] - fitting.observed[row]), math.sqrt(variance)


def _suspects(fitting: Fitting, best: Explanation, rivals: Sequence[Explanation]) -> frozenset[int]:
    """The shots that one explanation or another leaves out; else those that stand out by most."""
    readings = len(fitting.shots)
    named = {row for one in (best, *rivals) for row in one.left_out if row < readings}
    has_size = any(one.size is not None for one in (best, *rivals))
    is_settled = not rivals and not has_size
    if named and not has_size:
        return frozenset(named)
    if is_settled and best.is_sound(readings):
        return frozenset()
    whole = _of_size(fitting, [frozenset()])
    adjustment = whole[0].located.adjustment if whole else best.located.adjustment
    worst = int(np.argmax(np.abs(adjustment.standardised[:readings])))
    return frozenset(named) | frozenset(suspect_rows(adjustment, readings) or [worst])


def _what_may_be_wrong(fitting: Fitting, explanations: Sequence[Explanation]) -> str:
    """Return what one explanation or another takes to be wrong, in words."""
    readings = len(fitting.shots)
    left_out = {row for one in explanations for row in one.left_out}
    sizes = [one.size.words(fitting.setup.units) for one in explanations if one.size is not None]
    meter = ["the meter's zero or scale error is larger than entered"]
    shots = [_CONTRADICT]
    return "; or ".join(
        (shots if any(row < readings for row in left_out) or not (sizes or left_out) else [])
        + sizes
        + (meter if any(row >= readings for row in left_out) else [])
    )


def _contradiction(fitting: Fitting, level: Sequence[Explanation]) -> str:
    rows: dict[int, None] = {}
    for one in level:
        rows |= dict.fromkeys(sorted(one.left_out))
    named = [row for row in rows if row < len(fitting.shots)] or list(range(len(fitting.shots)))
    return (
        "missing shots that agree: these contradict one another, repeat "
        f"{shots_listed([fitting.shots[row].kind for row in named])}"
    )
