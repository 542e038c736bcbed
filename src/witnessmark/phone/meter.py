"""What a phone shows of the meter: neither its address nor any of its own words."""

from __future__ import annotations

import msgspec

from witnessmark.meters.port import Fault, Link, LinkState, Noise
from witnessmark.model import Reading
from witnessmark.words.phone import LINKS, NOT_MEASURED, NOT_RECOGNISED, UNIT_UNKNOWN

_GONE = (LinkState.LOST, LinkState.CLOSED)


class MeterSeen(msgspec.Struct, frozen=True):
    """The state of the link, the last reading, and what went wrong since."""

    link: LinkState | None = None
    last_mm: float | None = None
    trouble: str = ""
    by_hand: bool = False
    """Something was measured since the link came to its end, with a tape."""

    def after(self, report: object) -> MeterSeen:
        """Return what is known after something came that is about the meter, or is not."""
        match report:
            case Link(state=state):
                by_hand = self.by_hand and state in _GONE
                return MeterSeen(state, self.last_mm, self.trouble, by_hand)
            case Reading(distance_mm=mm):
                link = LinkState.OPEN if self.link is LinkState.QUIET else self.link
                return MeterSeen(link, mm, by_hand=link in _GONE)
            case Fault():
                return self.in_trouble(NOT_MEASURED)
            case Noise(bare=str()):
                return self.in_trouble(UNIT_UNKNOWN)
            case Noise():
                return self.in_trouble(NOT_RECOGNISED)
        return self

    def in_trouble(self, words: str) -> MeterSeen:
        """Return the same meter with what went wrong with it."""
        return MeterSeen(self.link, self.last_mm, words, self.by_hand)

    @property
    def missing(self) -> LinkState | None:
        """How the link came to its end, while there is nothing to shoot with; else None."""
        return self.link if self.link in _GONE and not self.by_hand else None

    @property
    def link_words(self) -> str:
        """The state of the link in words."""
        return LINKS[self.link]
