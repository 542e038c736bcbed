"""What happened, in words: one sentence an item of the history."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime

from witnessmark.lengths import Units, format_length
from witnessmark.meters.port import Fault, Noise
from witnessmark.model import (
    Act,
    AngleReading,
    Decision,
    Mark,
    Placement,
    Poses,
    Preference,
    Reading,
    SetupChanged,
    Side,
    Struck,
    TiltReadings,
    TiltTaken,
    Trial,
)
from witnessmark.sentences import percent
from witnessmark.store.history import Item

NOT_MEASURED = "target, not measured"
"""What stands before where a pair was to stand, where nobody measured if it did."""
_DECIDED = {
    Act.UNDO: "the last reading or decision was undone",
    Act.SKIP: "the prompted shot was left out",
    Act.BACK: "the previous shot is repeated",
    Act.HOLD: "Hold was switched on or off",
    Act.SWEEP: "a sweep was begun",
    Act.KEEP: "the questioned reading was accepted",
    Act.DROP: "the questioned reading was thrown away",
    Act.THERE: "the questioned reading was used for the other shot",
    Act.MOVED: "the cabinet was moved",
    Act.ENOUGH: "the cabinet was called good enough, and not measured to be in",
    Act.OTHER: "the other cabinet is next",
}


def item_words(item: Item, numbers: Mapping[str, int], units: Units = Units.TENTH_MM) -> str:
    """Return what happened, in one sentence.

    Args:
        item: what to put into words.
        numbers: the numbers of the trials by their keys.
        units: of the lengths.
    """
    words = "saved" if item.kind == "setup" else "begun"
    match item.record:
        case Reading(distance_mm):
            words = format_length(distance_mm, units)
        case Fault(fault):
            words = f"the meter says: {fault}"
        case Noise(why):
            words = f"not recognised: {why}"
        case Decision(act):
            words = _DECIDED[act]
        case TiltTaken(side, readings):
            words = f"{side} cabinet: {_tilt_words(readings, units)}"
        case SetupChanged():
            words = "the setup was changed"
        case Trial() as trial:
            words = "; ".join(filter(None, (_trial_words(trial, units), heard_words(trial))))
        case Preference() | Struck() as said:
            words = said_words(said, numbers)
        case Mark(_, name, _, poses) as mark:
            words = "; ".join((f'"{name}": {_poses_words(poses, units)}', *enough_words(mark)))
    return words


def moment_words(at: datetime) -> str:
    """Return a time to the minute, UTC."""
    return f"{at:%Y-%m-%d %H:%M}Z"


def measured_words(poses: Poses, side: Side, units: Units) -> str:
    """Return where a cabinet was found: its three quantities by name, to what their ± supports."""
    placement, expanded = poses.placements[side], poses.expanded(side)
    return (
        f"side {format_length(placement.side_mm, units.known_to(expanded.side_mm))}, "
        f"setback {format_length(placement.setback_mm, units.known_to(expanded.setback_mm))}, "
        f"toe-in {placement.toe_in_deg:.2f}°"
    )


def stood_words(trial: Trial, side: Side, units: Units) -> str:
    """Return where a cabinet was found at a trial, or its target, which is said to be one."""
    if trial.measured is not None:
        return measured_words(trial.measured, side, units)
    return f"{NOT_MEASURED}: {_target_words(trial.targets[side], units)}"


def _poses_words(poses: Poses, units: Units) -> str:
    return "; ".join(f"{side} {measured_words(poses, side, units)}" for side in Side)


def enough_words(mark: Mark) -> Iterator[str]:
    """Yield which cabinets were called good enough, and how sure they were to be within."""
    for side, within in mark.enough.items():
        yield (
            f"the {side} cabinet was called good enough, {percent(within)} sure to be within "
            "tolerance"
        )


def _trial_words(trial: Trial, units: Units) -> str:
    if trial.measured is not None:
        return _poses_words(trial.measured, units)
    targets = (f"{side} {_target_words(trial.targets[side], units)}" for side in Side)
    return f"{NOT_MEASURED}: {'; '.join(targets)}"


def _target_words(target: Placement, units: Units) -> str:
    return (
        f"side {format_length(target.side_mm, units.whole)}, "
        f"setback {format_length(target.setback_mm, units.whole)}, "
        f"toe-in {target.toe_in_deg:.1f}°"
    )


def heard_words(trial: Trial) -> str:
    """Return what was heard: grades, the person's own words, and whether it was the best so far."""
    heard = trial.impression
    return "; ".join(filter(None, (heard.grade_words, heard.heard_words)))


def said_words(said: Preference | Struck, numbers: Mapping[str, int]) -> str:
    """Return what a person said of trials: which they preferred, or that one does not count."""
    if isinstance(said, Preference):
        return preference_words(said, numbers)
    return (
        f"{trial_number(said.trial, numbers)} {'counts again' if said.back else 'was struck out'}"
    )


def preference_words(preference: Preference, numbers: Mapping[str, int]) -> str:
    """Return which of two trials was preferred."""
    one, other = trial_number(preference.one, numbers), trial_number(preference.other, numbers)
    if preference.better is None:
        return f"neither {one} nor {other} was preferred"
    if preference.better == preference.other:
        one, other = other, one
    return f"{one} was preferred to {other}"


def trial_number(key: str, numbers: Mapping[str, int]) -> str:
    """Return a trial by its number, from its key."""
    return f"trial {numbers[key]}" if key in numbers else "a trial not in this list"


def _tilt_words(readings: TiltReadings, units: Units) -> str:
    if isinstance(readings, AngleReading):
        return f"{readings.angle_deg:.2f}° on the inclinometer"
    low, high, apart = (
        format_length(value, units)
        for value in (readings.low_mm, readings.high_mm, readings.apart_mm)
    )
    return f"{low} below and {high} above, {apart} apart"
