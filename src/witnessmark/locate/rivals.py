"""Two places that shots allow alike, and the shot that tells them apart."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from witnessmark.errors import TooFewShots
from witnessmark.lengths import format_length
from witnessmark.locate.bounds import USUAL_TOE_IN_DEG
from witnessmark.locate.pose import Fitting, Located, predict
from witnessmark.locate.sightlines import possible_shots
from witnessmark.model import OF_CABINET, Held, Placement, Setup, Shot, ShotKind, Side
from witnessmark.model.pair import COVERAGE_FACTOR

_APART = 2.0
"""Tolerances by which two places differ at least; nearer ones are one place known less well."""
_WIDER = 1.5
"""Ratio of the open range of a toe-in to its stated uncertainty above which that is too small."""
_LIKELY = 9.0
"""Chi-square within which a toe-in is likely: three standard deviations."""
_HARDLY_OPEN_DEG = 1.0
_TURNS_DEG = np.arange(USUAL_TOE_IN_DEG[0], USUAL_TOE_IN_DEG[1] + 0.25, 0.25)


class TwoAnswers(TooFewShots):
    """The shots fit two places alike. ``telling`` is the shot that tells them apart best."""

    def __init__(self, setup: Setup, shots: Sequence[Shot], one: Located, other: Located) -> None:
        self.side = max(one.placements, key=lambda side: _gap(setup, one, other, side))
        places = [located.placements[self.side] for located in (one, other)]
        self.telling = telling_shot(setup, shots, one, other, self.side)
        super().__init__(
            f"{self.side}: two places fit these shots, "
            f"{' or '.join(_place_words(setup, place) for place in places)}; "
            + self._ask(setup, one, other)
        )

    def _ask(self, setup: Setup, one: Located, other: Located) -> str:
        if self.telling is None:
            return "missing a shot that tells them apart"
        reads = [predict(setup, located.placements, self.telling) for located in (one, other)]
        readings = " or ".join(format_length(mm, setup.units) for mm in reads)
        return f"missing {self.telling.words}, which tells them apart ({readings})"


def _place_words(setup: Setup, placement: Placement) -> str:
    side, setback = (
        format_length(mm, setup.units) for mm in (placement.side_mm, placement.setback_mm)
    )
    return f"side {side}, setback {setback}, toe-in {placement.toe_in_deg:.1f}°"


def far_apart(setup: Setup, one: Located, other: Located) -> bool:
    """Return whether two answers differ by more than a wider interval could cover."""
    return any(_gap(setup, one, other, side) > _APART for side in one.placements)


def _gap(setup: Setup, one: Located, other: Located, side: Side) -> float:
    """Return how far apart two places are, in tolerances."""
    off = one.placements[side].minus(other.placements[side])
    return max(abs(quantity.of(off)) / quantity.tolerance(setup) for quantity in OF_CABINET)


def telling_shot(
    setup: Setup, shots: Sequence[Shot], one: Located, other: Located, side: Side
) -> ShotKind | None:
    """Return the shot whose reading differs most between two places, held in a way that was used.

    None where none can be taken from both.
    """
    holds = {shot.kind.held for shot in shots if shot.kind.cabinet is side} - {Held.SPOT}
    for ways in (holds, {Held.WALL, Held.CABINET}, set(Held)):
        both = [
            set(possible_shots(setup, side, located.placements, ways)) for located in (one, other)
        ]
        kinds = sorted(both[0] & both[1], key=lambda kind: kind.words)
        if not kinds:
            continue
        gaps = [
            abs(predict(setup, one.placements, kind) - predict(setup, other.placements, kind))
            for kind in kinds
        ]
        best = max(range(len(kinds)), key=gaps.__getitem__)
        if gaps[best] > COVERAGE_FACTOR * 2 * setup.meter.shot_sigma_mm:
            return kinds[best]
    return None


def open_turn(fitting: Fitting, located: Located) -> list[Located]:
    """Return poses at the ends of the likely toe-ins, where these are not about one minimum.

    Where two minima have merged the misfit is flat between them, and the uncertainty that follows
    from its bend says too little.
    """
    found = []
    kinds = [shot.kind for shot in fitting.shots]
    for (side, placement), misfit in zip(
        located.placements.items(), fitting.misfits_about(located), strict=True
    ):
        own = [kind for kind in kinds if kind.cabinet is side]
        if misfit is None or not all(kind.held.is_to_wall for kind in own):
            continue
        turn = np.radians(_TURNS_DEG)
        chi_square = misfit.at(turn)
        least = float(misfit.at(np.radians([placement.toe_in_deg]))[0])
        likely = _TURNS_DEG[chi_square <= least + _LIKELY]
        expected = _WIDER * 3 * located.expanded(side).toe_in_deg / COVERAGE_FACTOR
        ends = (float(likely.min()), float(likely.max())) if likely.size else ()
        found += [
            fitting.turned(located, side, end)
            for end in ends
            if abs(end - placement.toe_in_deg) > max(expected, _HARDLY_OPEN_DEG)
        ]
    return found
