"""What the live screen says beside the sentences of a round: notices, and the keys that lead on.

It loads none of the arithmetic, as it is needed before that is.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from witnessmark.model import Onward
from witnessmark.sentences import sentence

CONFIRM_NEW_ROUND: Final = (
    "Begin a new round? Press b again. The readings so far stay in the journal."
)
NEW_ROUND_BEGUN: Final = "A new round has begun. Press u to go back to the one before."
ROUND_CONTINUED: Final = "Continuing the earlier round. Press b to begin a new one."
ROUND_ELSEWHERE: Final = (
    "The round is open in another copy of the program, so this copy begins its own."
)
USUAL_AIR: Final = "Until that is mended, air of 20 °C is taken."
LATEST_LEFT_OUT: Final = (
    "Until that is mended, what came last is left out here; it stays in the journal."
)
USED_AS_TAPE: Final = "Used as a tape reading: the meter's corrections are not added to it."
BELL_SILENT: Final = "The bell is silent."
BELL_RINGS: Final = "The bell rings."
NUDGE_SIMULATED: Final = "Simulated hands made the nudge; now shoot again."
LISTEN_OR_MARK: Final = "Press e to listen, v to mark."


def decided_on_phone_words(label: str) -> str:
    """Return that somebody decided this on a phone, by what the key for it is called."""
    return f"Decided on a phone: {label}"


def left_out_words(left_out: Sequence[tuple[int, Exception]]) -> str:
    """Return which entries of the journal, by their numbers, a round is without, and why."""
    (number, why), *more = left_out
    if more:
        return (
            f"{len(left_out)} journal entries are left out of this round. The first is "
            f"{number}: {sentence(why)}"
        )
    return f"Journal entry {number} is left out of this round: {sentence(why)}"


def choice_words(onward: Collection[Onward]) -> tuple[str, ...]:
    """Return the keys that lead on from what was found, where something is to be decided."""
    if Onward.PUT_BACK in onward:
        return ("Press Ctrl+G to put back, with these shots.",)
    if onward:
        return ("Press ← to move the left cabinet, → to move the right one.",)
    return ()
