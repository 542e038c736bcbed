"""What can be heard of a round: which cue belongs to which change of it, and what it sounds like.

A terminal has only its bell, rung once or more; a phone has tones. Both get the same cue.
"""

from __future__ import annotations

import enum
import math

import msgspec

from witnessmark.geometry.verdict import Verdict
from witnessmark.model import Side
from witnessmark.placing.cabinet_work import Stage
from witnessmark.placing.guidance import CabinetStatus, Guidance, Task

_FAR = 32.0
"""Error, in tolerances, from which on all nudges sound alike."""
_FAR_HZ, _NEAR_HZ = 330.0, 1320.0
"""Pitch of a nudge far from its target, and of one that is nearly there: two octaves."""
_FAR_EVERY_S, _NEAR_EVERY_S = 1.0, 0.12
"""Seconds from stroke to stroke, far from the target and nearly there."""
_LASTS_S = 3.0
"""Time that a nudge is sounded, seconds."""


class Sign(enum.StrEnum):
    """What a cue tells."""

    TAKEN = "taken"
    """A reading was taken."""
    NUDGE = "nudge"
    """A reading was taken, and something is to be moved so far."""
    STOP = "stop"
    """A point that was watched is where it should be."""
    IN = "in"
    """A cabinet stands in."""
    QUESTION = "question"
    """A reading is questioned."""


class Tones(msgspec.Struct, frozen=True):
    """A chord, how often it is struck, and the seconds from stroke to stroke."""

    notes_hz: tuple[float, ...]
    times: int
    every_s: float


class Cue(msgspec.Struct, frozen=True):
    """One thing to be heard; ``gap`` is how far there is to move, in tolerances."""

    sign: Sign
    gap: float = 0.0

    @property
    def bells(self) -> int:
        """How often a bell is rung for it."""
        return _BELLS[self.sign]

    @property
    def tones(self) -> Tones:
        """What it sounds like: a nudge the higher and the faster the nearer its target is."""
        if self.sign is not Sign.NUDGE:
            return _TONES[self.sign]
        far = min(math.log1p(self.gap) / math.log1p(_FAR), 1.0)
        every_s = _NEAR_EVERY_S + far * (_FAR_EVERY_S - _NEAR_EVERY_S)
        note_hz = _NEAR_HZ * (_FAR_HZ / _NEAR_HZ) ** far
        return Tones((round(note_hz, 1),), round(_LASTS_S / every_s), round(every_s, 3))


_BELLS = {Sign.TAKEN: 1, Sign.NUDGE: 1, Sign.STOP: 1, Sign.IN: 2, Sign.QUESTION: 3}
_TONES = {
    Sign.TAKEN: Tones((660.0,), 1, 0.3),
    Sign.STOP: Tones((1320.0,), 1, 0.9),  # one long stroke where those of a nudge end
    Sign.IN: Tones((523.3, 659.3, 784.0), 2, 0.4),  # a major triad: C, E, G
    Sign.QUESTION: Tones((220.0, 233.1), 3, 0.35),  # low, a semitone apart, which is rough
}


def cue(before: Guidance | None, after: Guidance) -> Cue | None:
    """Return what is to be heard when ``after`` follows ``before``; None for what is seen first."""
    if before is None:
        return None
    if after.question is not None and after.question != before.question:
        return Cue(Sign.QUESTION)
    if any(_is_in(after.cabinets[side]) and not _is_in(before.cabinets[side]) for side in Side):
        return Cue(Sign.IN)
    if after.readings <= before.readings:  # nothing came, or something was taken back
        return None
    gap = after.gap
    if gap is not None:
        return Cue(Sign.NUDGE, gap)
    return Cue(Sign.STOP if _has_arrived(before, after) else Sign.TAKEN)


def _has_arrived(before: Guidance, after: Guidance) -> bool:
    """Return whether a watched point was on its way, and is now where it should be."""
    watch = after.works[before.side].watch
    return before.task is Task.WATCH and watch is not None and watch == before.watch


def _is_in(status: CabinetStatus) -> bool:
    appraisal = status.appraisal
    return (
        status.stage is Stage.SETTLED and appraisal is not None and appraisal.verdict is Verdict.IN
    )
