"""What a phone shows of itself and of the meter: strings only, so that a page costs little."""

from __future__ import annotations

from typing import Final

import msgspec

from witnessmark.meters.port import LinkState

LINKS: Final = {
    None: "no meter yet",
    LinkState.OPEN: "meter ready",
    LinkState.QUIET: "meter quiet",
    LinkState.LOST: "meter lost",
    LinkState.CLOSED: "meter closed",
}
"""The state of the link to the meter; None before there was any."""
NOT_MEASURED: Final = "it could not measure"
UNIT_UNKNOWN: Final = "it sent a number without a unit; choose its unit there"
NOT_RECOGNISED: Final = "its message was not recognised"
A_PROBLEM: Final = "there is a problem"
ANOTHER_ROOM: Final = "another room is open"


def see_computer_words(why: str) -> str:
    """Return that the person is to go to the computer, and why."""
    return f"see the computer: {why}"


class PageWords(msgspec.Struct, frozen=True):
    """What the page says of itself, and what its parts are called."""

    stale: str = "No connection. This is how it was; trying again."
    sleeps: str = "Set this phone's display to stay on. Its browser cannot keep it on here."
    sound: str = "Sound"
    speak: str = "Speak"
    off: str = "off"
    plan: str = "Plan with the front wall at the top"
    walk: str = "The bass foreseen at each station: the higher the line, the louder"
    picture: str = "The shot: the cabinet from above, its corner, the beam and the wall"
    figures: str = "Figures"
    decisions: str = "Decisions"
