"""What each trial is called: by what was varied, as the walk would call it."""

from __future__ import annotations

from collections.abc import Mapping

from witnessmark.lengths import format_bare, format_length
from witnessmark.listening.difference import PairPose, mean_tilt, stance, varied, wanted
from witnessmark.listening.judging import positions
from witnessmark.listening.steps import Ground, ground, proposals, tilt_name
from witnessmark.model import OF_CABINET, Placement, Quantity, Setup, Trial, Varied

OWN_POSITION = "your own position"
"""What a position is called that the walk does not lead to, before its figures."""


def trial_names(setup: Setup, trials: Mapping[str, Trial]) -> dict[str, str]:
    """Return a short name for every trial, in the order of trying; a repeat has that of the first.

    Positions that would be called alike are counted: ``station 4``, ``station 4 (2)``.
    """
    here = ground(setup)
    names: dict[str, str] = {}
    met: dict[str, int] = {}
    for key, position in positions(trials).items():
        if key != position:
            names[key] = names[position]
            continue
        name = _name(here, trials[key])
        met[name] = met.get(name, 0) + 1
        names[key] = name if met[name] == 1 else f"{name} ({met[name]})"
    return names


def _name(here: Ground, trial: Trial) -> str:
    """Return what the walk calls the position, or what its one quantity is."""
    if trial.varied in (Varied.PLACE, Varied.NOTHING):
        return _own_position(here.setup, wanted(trial))
    posture = wanted(trial)
    alike = [
        proposal
        for proposal in proposals(here.standing(posture), trial.varied)
        if varied(here.setup, proposal.posture, posture) is Varied.NOTHING
    ]
    if not alike:
        return _by_value(here, trial)
    # of two that are as near the later: the ears rather than a step of tilt
    return min(reversed(alike), key=lambda proposal: _off(here, proposal.posture, posture)).name


def _own_position(setup: Setup, posture: PairPose) -> str:
    """Return side, setback and toe-in, of each cabinet where the two differ."""

    def written(quantity: Quantity, placement: Placement) -> str:
        value = quantity.of(placement)
        if quantity.is_length:
            return format_bare(value, setup.units)
        return f"{round(value, 1) + 0.0:g}°"  # plus 0.0 takes the sign off a zero

    figures = (
        dict.fromkeys(written(quantity, each) for each in posture.placements)
        for quantity in OF_CABINET
    )
    return f"{OWN_POSITION} ({' / '.join(' and '.join(each) for each in figures)})"


def _off(here: Ground, one: PairPose, other: PairPose) -> float:
    """By how many millimetres or degrees two postures differ at the most, to a thousandth."""
    before, after = stance(here.setup, one.placements), stance(here.setup, other.placements)
    leans = (mean_tilt(one) or 0.0) - (mean_tilt(other) or 0.0)
    return round(max(abs(leans), *(abs(b - a) for a, b in zip(before, after, strict=True))), 3)


def _by_value(here: Ground, trial: Trial) -> str:
    posture, setup = wanted(trial), here.setup
    base, setback, toe_in = stance(setup, posture.placements)
    return {
        Varied.STATION: f"setback {format_length(setback, setup.units)}",
        Varied.SPREAD: f"spread {format_length(base, setup.units)}",
        Varied.TOE_IN: f"toe-in {toe_in:.1f}°",
        Varied.TILT: tilt_name(mean_tilt(posture) or 0.0),
    }[trial.varied]
